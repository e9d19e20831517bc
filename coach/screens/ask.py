"""A round of questions on the screen. One key a choice, a tap, or the one big key alone.

The one big key steps through the choices, and the one on which it stays for a while is taken
(known as step scanning with a dwell time). Nothing is taken before that key has been pressed.
"""

import textwrap
from collections.abc import Callable

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.reactive import reactive
from textual.screen import ModalScreen
from textual.widget import Widget
from textual.widgets import Input

from coach.bedside.flow import Keep, taken
from coach.language import _
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, TALL_GAP, Tap, fitting, flow, rows_of
from coach.screens.key_debounce import OnePress
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.text_block import Sign
from coach.session.question_text import spoken_text
from coach.session.questions import Answer, Asking, Choice
from coach.units import NS_PER_S

BEAT_S = 0.1
# How long the one big key must stay on a choice. Common practice, no source.
DWELL_NS = 3 * NS_PER_S

ONE_KEY = "space,enter,pagedown,right,down"


class Choices(Widget, inherit_bindings=False):
    """The choices, one a row or all in a row; the one that is stepped on is marked."""

    ALLOW_SELECT = False
    choices: reactive[tuple[Choice, ...]] = reactive(())
    at: reactive[int | None] = reactive(None)

    def show(self, choices: tuple[Choice, ...], at: int | None, *, tall: bool) -> None:
        """Show ``choices``, stepping on number ``at``."""
        self.choices, self.at = choices, at
        self.display = bool(choices)
        self._in_a_row = not any(choice.text for choice in choices)
        self._step = TALL if tall else 1
        self.styles.height = (1 if self._in_a_row else len(choices)) * self._step

    def render(self) -> Content:
        """Rows of choices; the mark is a shape, not only a colour."""
        rows: list[Content] = []
        if self._in_a_row:
            rows.append(Content(" ").join(self._cell(n) for n in range(len(self.choices))))
            rows += [Content("")] * (self._step - 1)
        else:
            for number, choice in enumerate(self.choices):
                mark = ">" if number == self.at else " "
                line = Content.assemble(
                    f"{mark} ", (f" {choice.key.upper()} ", "reverse bold"), f" {choice.text} "
                )
                rows.append(line.stylize("bold reverse") if number == self.at else line)
                rows += [Content("")] * (self._step - 1)
        return Content("\n").join(rows)

    def _cell(self, number: int) -> Content:
        words = _cell_words(self.choices[number])
        if number == self.at:
            return Content.styled(f">{words}<", "reverse bold")
        return Content.styled(f" {words} ", "$tap-ink on $tap bold")

    def on_click(self, event: events.Click) -> None:
        """A tap on one of them."""
        event.stop()
        found = None if self._in_a_row else event.y // self._step
        x = 0
        for number, choice in enumerate(self.choices if self._in_a_row else ()):
            width = len(_cell_words(choice)) + 2
            if x <= event.x < x + width and event.y == 0:
                found = number
            x += width + TALL_GAP
        if found is not None and found < len(self.choices):
            self.post_message(Asked(f"take_{self.choices[found].key}"))


def _cell_words(choice: Choice) -> str:
    """The number; its key as well where that is another."""
    return choice.words if choice.words == choice.key else f"{choice.words} ({choice.key.upper()})"


class AskScreen(ModalScreen[Asking], inherit_bindings=False):
    """Asks a round; returns it, answered as far as the owner liked.

    Args:
        asking: the round; the screen closes by itself when it is over.
        keep: keeps each answer at once; "" when it is kept, else a sentence for the owner.
        title: for the bar, such as the dog's name.
        mono_ns: monotonic time.
        say: speaks instead of what is being said, if there is a voice; "" is quiet.
        leaves: whether back from the first question leaves the round.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding(ONE_KEY, "step", id="one_key"),
        Binding("n", "on", id="ask_on"),
        Binding("b,backspace,left,pageup", "back", id="ask_back"),
        Binding("q,escape,ctrl+q,ctrl+c", "close", id="ask_close"),
        *(Binding(key, f"take('{key}')", id=f"ask_{key}") for key in "0123456789t"),
    ]

    def __init__(
        self,
        asking: Asking,
        *,
        keep: Keep = taken,
        title: str,
        mono_ns: Callable[[], int],
        say: Callable[[str], None] | None = None,
        leaves: bool = False,
    ) -> None:
        super().__init__()
        self.asking = asking
        self._leaves = leaves
        self._keep = keep
        self._title = title
        self._mono_ns = mono_ns
        self._say = say
        self._at: int | None = None
        self._stepped_ns = 0
        self._hand = OnePress(self._do, mono_ns=mono_ns, later=self.set_timer)
        self._refusal = ""
        self._typing = False
        self._left = False
        self._bar = Sign("bar")
        self._text = Sign("question")
        self._help = Sign("help")
        self._choices = Choices(id="choices")
        self._input = Input(id="typed", compact=True, select_on_focus=False)
        self._note = Sign("note")
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        with VerticalScroll(id="page", can_focus=False):
            yield self._text
            yield self._help
            yield self._choices
            yield self._input
        yield self._note
        yield self._keys

    def on_mount(self) -> None:
        """Begin to look at the clock."""
        self.set_interval(BEAT_S, self.beat)
        self._asked()

    def on_resize(self) -> None:
        """The same question in another size."""
        self.draw()

    # What is asked and answered

    def beat(self) -> None:
        """Take the choice on which the one big key has stayed."""
        self._hand.beat()
        if self._at is None:
            return
        if self._mono_ns() - self._stepped_ns >= DWELL_NS:
            question = self.asking.question
            if question is not None and self._at < len(question.choices):
                self._take(question.choices[self._at].value)
            else:
                self._go(self.asking.on())
        else:
            self.draw()

    def action_step(self) -> None:
        """The one big key."""
        self._hand.press("step")
        # A key held down stays on its choice; that is not waiting.
        self._stepped_ns = self._mono_ns()

    def action_take(self, key: str) -> None:
        """A key of its own."""
        self._hand.press(f"take_{key}")

    def action_on(self) -> None:
        """Past the question without an answer, or past a reply."""
        self._hand.press("on")

    def action_back(self) -> None:
        """To the question before."""
        self._hand.press("back")

    def action_close(self) -> None:
        """Leave the round as it is, or stop typing."""
        self._hand.press("close")

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        if message.id == "step":
            self.action_step()
        else:
            self._hand.press(message.id)

    def _do(self, id: str, _at_ns: int) -> None:  # noqa: A002
        if id == "step":
            self._step()
        elif id == "keep":
            self._typed(self._input.value)
        elif id == "close" or (id == "back" and self._leaves and self.asking.index == 0):
            self._close()
        elif id == "back":
            self._go(self.asking.back())
        elif id == "on":
            self._go(self.asking.on())
        else:
            self._key(id.removeprefix("take_"))

    def _step(self) -> None:
        question = self.asking.question
        if question is None or question.typed is not None:
            self._go(self.asking.on())
            return
        # One more than there are: going on without an answer.
        self._at = 0 if self._at is None else (self._at + 1) % (len(question.choices) + 1)
        if self._say is not None:
            last = self._at == len(question.choices)
            self._say(_("not now") if last else question.choices[self._at].words)
        self.draw()

    def _key(self, key: str) -> None:
        question = self.asking.question
        if question is None:
            return
        if question.typed is not None:
            if key == "1":
                if self._say is not None:
                    self._say(_("Type it, then press Enter."))
                self._type(True)
            return
        choice = question.by_key(key)
        if choice is None:
            self._refuse(_("That key means nothing here."))
        else:
            self._take(choice.value)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """A line was typed."""
        event.stop()
        self._typed(event.value)

    def _typed(self, text: str) -> None:
        question = self.asking.question
        if question is None or question.typed is None:
            return
        if not text.strip():
            self._go(self.asking.on())
            return
        try:
            answer = question.typed(text)
        except ValueError as error:
            self._refuse(str(error))
        else:
            self._take(answer)

    def _close(self) -> None:
        if self._typing:
            self._type(False)
        else:
            self._done(self.asking)

    def _take(self, answer: Answer) -> None:
        question = self.asking.question
        assert question is not None
        refusal = self._keep(question.id, answer)
        if refusal:
            self._at = None
            self._refuse(refusal)
        else:
            self._go(self.asking.answer(answer))

    def _refuse(self, refusal: str) -> None:
        self._refusal = refusal
        if self._say is not None:
            self._say(refusal)
        self.draw()

    def _go(self, asking: Asking) -> None:
        self.asking = asking
        self._at = None
        self._refusal = ""
        self._hand.anew()
        self._type(False)
        if asking.over:
            self._done(asking)
        else:
            self._asked()

    def _done(self, asking: Asking) -> None:
        """Close once, and leave the voice to whatever comes next."""
        if self._left:
            return
        self._left = True
        if self._say is not None:
            self._say("")
        self.dismiss(asking)

    def _type(self, typing: bool) -> None:
        """Open or close the line in which words are typed."""
        self._typing = self._input.display = typing
        self._input.clear()
        self.set_focus(self._input if typing else None)
        self.draw()

    def _asked(self) -> None:
        if self._say is not None:
            self._say(spoken_text(self.asking))
        self.draw()

    # How it looks

    def draw(self) -> None:
        """Put the question into the widgets."""
        if not self.size.area or self.asking.over:
            return
        width, height = self.size
        tall = height >= ROOMY_ROWS
        asking, question = self.asking, self.asking.question
        place = _("question {number} of {of}").format(
            number=min(asking.index + (question is not None), len(asking.questions)),
            of=len(asking.questions),
        )
        if len(asking.questions) <= 1:
            place = ""
        self._bar.show((f"{self._title}  {place}".strip()[:width],))
        text = "" if question is None else question.text
        self._text.show(("", *_rows((text,), width)) if text else ())
        told = asking.told if question is None else question.help
        self._help.show(("", *_rows(told, width), "") if told else ("",))
        self._choices.show(() if question is None else question.choices, self._at, tall=tall)
        self._input.display = self._typing
        self._note.show(_rows((self._note_text(),), width) or ("",))
        taps = self._taps()
        rows = min(rows_of(flow(taps, width=width, tall=tall)), max(1, height // 3))
        placed = fitting(taps, width=width, rows=rows, tall=tall)
        self._keys.show(placed, tall=tall, rows=rows * (TALL if tall else 1))

    def _note_text(self) -> str:
        if self._refusal:
            return self._refusal
        question = self.asking.question
        if self._at is None or question is None:
            return ""
        left_s = -(-(DWELL_NS - (self._mono_ns() - self._stepped_ns)) // NS_PER_S)
        if self._at == len(question.choices):
            return _("No answer for now: goes on in {seconds} s.").format(seconds=left_s)
        words = question.choices[self._at].words
        return _("Your answer: {answer}. Taken in {seconds} s.").format(
            answer=words, seconds=left_s
        )

    def _taps(self) -> tuple[Tap, ...]:
        question = self.asking.question
        close = Tap(id="close", key="Q", label=_("close"), vital=True)
        back = Tap(id="back", key="B", label=_("back"))
        if question is None:
            return (Tap(id="on", key=_("SPACE"), label=_("go on"), vital=True), back, close)
        if self._typing:
            keep = Tap(id="keep", key="ENTER", label=_("keep it"), vital=True)
            return (keep, Tap(id="close", key="ESC", label=_("leave it"), vital=True))
        if question.typed is not None:
            write = Tap(id="take_1", key="1", label=_("type it"), vital=True)
            not_now = Tap(id="on", key=_("SPACE"), label=_("not now"), vital=True)
            return (write, not_now, back, close)
        step = Tap(id="step", key=_("SPACE"), label=_("choose, then wait 3 s"))
        return (step, Tap(id="on", key="N", label=_("not now"), vital=True), back, close)


def _rows(lines: tuple[str, ...], width: int) -> tuple[str, ...]:
    return tuple(row for line in lines for row in textwrap.wrap(line, max(10, width)))
