"""A screen of words: a bar, perhaps a big word, lines that can be paged, and keys."""

from textual.app import ComposeResult
from textual.containers import VerticalScroll

from coach.screens import block_letters, session_text
from coach.screens.block_letters import LETTER_ROWS, Rows
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.layout_rows import ROOMY_ROWS, SIGN_SHARE
from coach.screens.session_layout import Moment, taps_of, wrapped
from coach.screens.session_screen_base import CoachScreen
from coach.screens.text_block import Sign

SIGN_FROM_ROWS = 16


class PageScreen(CoachScreen):
    """Base of get ready, end, help and skip."""

    def __init__(self) -> None:
        super().__init__()
        self._bar = Sign("bar")
        self._word = Sign("sign")
        self._text = Sign("lines")
        self._page = VerticalScroll(self._text, id="page", can_focus=False)
        self._keys = Keys(id="keys")
        self.key_rows = 0

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        yield self._word
        yield self._page
        yield self._keys

    def sign_text(self, moment: Moment) -> str:
        """The big word, or "" for none."""
        return ""

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """What there is to read."""
        raise NotImplementedError

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """What can be done."""
        return taps_of(moment.view)

    def draw(self, moment: Moment) -> None:
        """Put ``moment`` into the widgets."""
        width, height = self.size.width, self.size.height
        bar = session_text.bar_text(
            moment.view, width=width, side=True, clock=True, speed=moment.opening.speed
        )
        self._bar.show((bar,))
        self._word.show(self._block(moment, width=width, height=height))
        self._text.show(wrapped(self.lines(moment), width=width))
        tall = height >= ROOMY_ROWS
        taps = self.taps(moment)
        rows = min(rows_of(flow(taps, width=width, tall=tall)), max(1, height // 2))
        placed = fitting(taps, width=width, rows=rows, tall=tall)
        self.key_rows = rows * (TALL if tall else 1)
        self._keys.show(placed, tall=tall, rows=self.key_rows)

    def _block(self, moment: Moment, *, width: int, height: int) -> Rows:
        text = self.sign_text(moment)
        if not text or height < SIGN_FROM_ROWS:
            return (text.center(width),) if text and height > LETTER_ROWS else ()
        room = max(LETTER_ROWS, height // SIGN_SHARE)
        drawn = block_letters.letters(text, width=width, height=room)
        if drawn is None:
            return (text.center(width)[:width],)
        return block_letters.centred(drawn, width=width, height=len(drawn))

    def page_home(self) -> None:
        """Back to the top, where what must be told stands."""
        self._page.scroll_home(animate=False)

    def page_on(self) -> None:
        """One page further, and from the last one back to the top."""
        page = self._page
        if page.scroll_offset.y >= page.max_scroll_y:
            page.scroll_home(animate=False)
        else:
            page.scroll_page_down(animate=False)
