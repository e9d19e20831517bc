"""The lines of a page of questions, each with its own yes and no to tap."""

from collections.abc import Sequence
from dataclasses import dataclass

from textual import events
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from coach.language import _
from coach.screens.messages import Asked
from coach.session.readiness import Round


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerLine:
    """One line: what it is about, the answer ("yes", "no", or "" while it is open)."""

    id: str
    label: str
    answer: str
    current: bool


def lines_of(asked: Round) -> tuple[AnswerLine, ...]:
    """The lines of the page that is asked now; () where a point has a screen of its own."""
    if asked.step != "ask":
        return ()
    return tuple(
        AnswerLine(
            id=point.id,
            label=point.label,
            answer=asked.answers.get(point.id, ""),
            current=point.id == asked.point.id,
        )
        for point in asked.page
    )


def in_sight(lines: Sequence[AnswerLine], rows: int) -> tuple[AnswerLine, ...]:
    """As many of ``lines`` as ``rows`` hold, the one that is asked now among them."""
    at = next((n for n, line in enumerate(lines) if line.current), 0)
    begin = max(0, min(at - rows // 2, len(lines) - rows))
    return tuple(lines[begin : begin + max(0, rows)])


class AnswerLines(Widget, inherit_bindings=False):
    """Lines with a no and a yes at the right edge; a tap asks for ``line_KEY_ID``."""

    ALLOW_SELECT = False
    lines: reactive[tuple[AnswerLine, ...]] = reactive(())
    step: reactive[int] = reactive(1)

    def show(self, lines: Sequence[AnswerLine], *, rows: int) -> None:
        """Show ``lines`` in ``rows`` rows, two a line where there is room for a finger."""
        self.step = 2 if rows >= 2 * len(lines) else 1
        self.lines = in_sight(lines, rows // self.step)
        self.display = bool(self.lines)
        self.styles.height = len(self.lines) * self.step

    def render(self) -> Content:
        """A mark, what the line is about, and its two buttons."""
        rows: list[Content] = []
        for line in self.lines:
            room = self.size.width - 2 - sum(len(text) + 1 for _key, text in _buttons(line))
            mark = ">" if line.current else " "
            label = Content(f"{mark} {line.label[: max(0, room)]:<{max(0, room)}}")
            row = label.stylize("bold") if line.current else label
            for key, text in _buttons(line):
                chosen = _ANSWERS[key] == line.answer
                style = "reverse bold" if chosen else "$tap-ink on $tap"
                row = row + Content(" ") + Content.styled(text, style)
            rows.append(row)
            rows += [Content("")] * (self.step - 1)
        return Content("\n").join(rows)

    def on_click(self, event: events.Click) -> None:
        """A tap on a button."""
        event.stop()
        number = event.y // self.step
        if number >= len(self.lines):
            return
        line = self.lines[number]
        right = self.size.width
        for key, text in reversed(_buttons(line)):
            if right - len(text) <= event.x < right:
                self.post_message(Asked(f"line_{key}_{line.id}"))
                return
            right -= len(text) + 1


_ANSWERS = {"n": "no", "y": "yes"}


def _buttons(line: AnswerLine) -> tuple[tuple[str, str], ...]:
    """Key and words of no and yes; the chosen one by its shape as well as its colour."""
    words = (("n", _("no")), ("y", _("yes")))
    return tuple(
        (key, f"[ {text} ]" if _ANSWERS[key] == line.answer else f"  {text}  ")
        for key, text in words
    )
