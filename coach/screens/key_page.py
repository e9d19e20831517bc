"""A page of sentences with keys that leave it; the first of them is also the one big key."""

import textwrap
from collections.abc import Callable

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen

from coach.bedside.flow import Page, Pressed
from coach.language import _
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.key_debounce import OnePress
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.text_block import Sign

LEAVES = frozenset({"q", "escape", "ctrl+q", "ctrl+c"})


class KeyPageScreen(Screen[Pressed], inherit_bindings=False):
    """Gives the key that was pressed.

    Args:
        page: what to read, and its keys.
        mono_ns: monotonic time, to tell presses from repeats.
        say: speaks instead of what is being said, if there is a voice.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "key_page.tcss"
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding("space,enter,pagedown,right,down", "one_key", id="one_key")
    ]

    def __init__(
        self,
        page: Page,
        *,
        mono_ns: Callable[[], int],
        say: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__()
        self._page = page
        self._say = say
        self._hand = OnePress(self._do, mono_ns=mono_ns, later=self.set_timer)
        self._left = False
        self._bar = Sign("bar")
        self._text = Sign("lines", asks="one_key")
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        with VerticalScroll(id="page", can_focus=False):
            yield self._text
        yield self._keys

    def on_mount(self) -> None:
        """Say it as well."""
        if self._say is not None:
            keys = (_("{key}: {answer}.").format(key=k.key, answer=k.label) for k in self._taps())
            self._say(" ".join((self._page.spoken(), *keys)))

    def on_resize(self) -> None:
        """The same in another size."""
        width, height = self.size
        tall = height >= ROOMY_ROWS
        taps = self._taps()
        rows = min(rows_of(flow(taps, width=width, tall=tall)), max(1, height // 2))
        used = rows * (TALL if tall else 1)
        self._keys.show(fitting(taps, width=width, rows=rows, tall=tall), tall=tall, rows=used)
        self._bar.show((self._page.title[:width],))
        lines = self._page.lines()
        self._text.show(tuple(r for line in lines for r in textwrap.wrap(line, max(10, width))))

    def _taps(self) -> tuple[Tap, ...]:
        return tuple(
            Tap(id=key.id, key=key.key, label=key.label, vital=key.vital)
            for key in self._page.keys
            if key.label
        )

    def on_key(self, event: events.Key) -> None:
        """A key of the page, by the letter that it shows."""
        pressed = event.key.casefold()
        for key in self._page.keys:
            if key.key.casefold() == pressed or (key.key == "Q" and pressed in LEAVES):
                event.stop()
                self._hand.press(key.id)
                return

    def action_one_key(self) -> None:
        """A page further, then the first key."""
        self._hand.press("one_key")

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self._hand.press(message.id)

    def beat(self) -> None:
        """A press that waited to be told from a key held down."""
        self._hand.beat()

    def _do(self, id: str, _at_ns: int) -> None:  # noqa: A002
        scrolled = self.query_one("#page", VerticalScroll)
        if id == "one_key" and scrolled.scroll_offset.y < scrolled.max_scroll_y:
            scrolled.scroll_page_down(animate=False)
            return
        if self._left:
            return
        self._left = True
        if self._say is not None:
            self._say("")
        self.dismiss(Pressed(self._page.keys[0].id if id == "one_key" else id))
