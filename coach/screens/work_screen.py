"""What the page for the vet shows besides questions: work that takes a while, and a code."""

import textwrap
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen

from coach.bedside.flow import Pressed, Progress
from coach.bedside.pages import LEAVE
from coach.handover.qr_code import TooSmall, qr_lines
from coach.language import _
from coach.screens.block_letters import Rows
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import Tap, fitting
from coach.screens.key_debounce import OnePress
from coach.screens.messages import Asked
from coach.screens.text_block import Sign


@dataclass(frozen=True, slots=True)
class JobFault:
    """A job has failed, for which it had no words."""

    error: Exception


BEAT_S = 0.1
BAR_COLUMNS = 40

CLOSES = "space,enter,pagedown,right,down"


class WorkScreen(Screen[Any], inherit_bindings=False):
    """Does ``work`` in a thread and shows how far it is; gives what it returned.

    Args:
        work: is given what it calls with how much is done, of how much. It tells its own errors.
        title: for the bar.
        text: what is being done, and what to leave alone meanwhile.
        skip: what the one big key does: it lets the work end soon. None where it must be awaited.
        mono_ns: monotonic time, to tell presses from repeats.
        say: speaks, if there is a voice.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "work_screen.tcss"
    BINDINGS = [Binding(CLOSES, "skip", id="one_key")]  # noqa: RUF012  (the framework's own form)

    def __init__(
        self,
        work: Callable[[Progress], Any],
        *,
        title: str,
        text: str,
        skip: Callable[[], None] | None = None,
        mono_ns: Callable[[], int] = time.monotonic_ns,
        say: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__()
        self._work = work
        self._title = title
        self._told = text
        self._skip = skip
        self._say = say
        self._done = (0, 0)
        self._given: list[Any] = []
        self._hand = OnePress(self._do, mono_ns=mono_ns, later=self.set_timer)
        self._bar = Sign("bar")
        self._text = Sign("text")
        self._progress = Sign("progress")
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        yield self._text
        yield self._progress
        yield self._keys

    def on_mount(self) -> None:
        """Begin."""
        if self._say is not None:
            self._say(self._told)
        self.set_interval(BEAT_S, self.beat)

        def do() -> None:
            try:
                self._given.append(self._work(self._count))
            except Exception as error:  # noqa: BLE001  (raised in the flow)
                self._given.append(JobFault(error))

        # Not a worker of the framework: the program would not end before it does.
        threading.Thread(target=do, daemon=True).start()

    def beat(self) -> None:
        """Show how far it is; leave when it is done."""
        self._hand.beat()
        self.draw()
        if self._given and self.is_current:
            self.dismiss(self._given.pop())

    def on_resize(self) -> None:
        """The same in another size."""
        self.draw()

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self.action_skip()

    def action_skip(self) -> None:
        """Wait no longer."""
        self._hand.press("skip")

    def _do(self, _id: str, _at_ns: int) -> None:
        if self._skip is not None:
            self._skip()

    def _count(self, done: int, of: int) -> None:
        self._done = (done, of)

    def draw(self) -> None:
        """Put it into the widgets."""
        width = max(10, self.size.width)
        done, of = self._done
        self._bar.show((self._title[:width],))
        self._text.show(("", *textwrap.wrap(self._told, width), ""))
        self._progress.show((_progress_row(done, of, min(BAR_COLUMNS, width - 6)),) if of else ())
        taps = (Tap(id="skip", key=_("SPACE"), label=_("go on without"), vital=True),)
        placed = fitting(taps if self._skip else (), width=width, rows=1, tall=False)
        self._keys.show(placed, tall=False, rows=len(placed))


def _progress_row(done: int, of: int, columns: int) -> str:
    full = columns * done // of
    return f"{'█' * full}{'-' * (columns - full)} {100 * done // of:3} %"


class CodeScreen(Screen[Pressed], inherit_bindings=False):
    """A QR code, as large as the screen is; any of its keys closes it.

    Args:
        texts: the same thing in fuller and shorter words; the first whose code fits is shown.
        mono_ns: monotonic time, to tell presses from repeats.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "work_screen.tcss"
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding(CLOSES, "close", id="one_key"),
        Binding("n,q,b,escape,ctrl+q,ctrl+c", "close", id="code_close"),
    ]

    def __init__(self, texts: list[str], *, mono_ns: Callable[[], int] = time.monotonic_ns) -> None:
        super().__init__()
        self._texts = texts
        self._hand = OnePress(self._do, mono_ns=mono_ns, later=self.set_timer)
        self._code = _Code("code", asks="close")
        self._words = Sign("words", asks="close")
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """The code first: it needs every row."""
        yield self._code
        yield self._words
        yield self._keys

    def on_resize(self) -> None:
        """What fits into the new size."""
        self.draw()

    def draw(self) -> None:
        """Put the code into the widgets."""
        width, height = self.size
        tap = Tap(id="close", key=_("SPACE"), label=_("done"), vital=True)
        self._keys.show(fitting((tap,), width=width, rows=1, tall=False), tall=False, rows=1)
        code, text = self._fitting(width, height - 1)
        self._code.show(code)
        words = text.split("\n") if code else [_small(), "", *text.split("\n")]
        rows = [row for line in words for row in textwrap.wrap(line, max(10, width)) or [""]]
        self._words.show(tuple(rows[: max(0, height - 1 - len(code))]))

    def _fitting(self, width: int, height: int) -> tuple[Rows, str]:
        for text in self._texts:
            try:
                return tuple(qr_lines(text, columns=width, rows=height)), text
            except TooSmall:
                continue
        return (), self._texts[0]

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self.action_close()

    def action_close(self) -> None:
        """Back to what was before."""
        self._hand.press("close")

    def _do(self, _id: str, _at_ns: int) -> None:
        self.dismiss(Pressed(LEAVE))


class _Code(Sign, inherit_bindings=False):
    """White on black in every look: a code needs its light ground."""

    def render(self) -> Content:
        return Content("\n").join(Content.styled(row, "#ffffff on #000000") for row in self.rows)


def _small() -> str:
    return _("The screen is too small for a code. Use a stick, or show your vet these words.")
