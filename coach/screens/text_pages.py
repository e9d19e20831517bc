"""Lines of text on pages that are turned with one key, on top of another screen."""

import textwrap
from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import Screen

from coach.bedside.flow import Pressed
from coach.bedside.pages import LEAVE
from coach.body.raster import Look
from coach.language import _
from coach.screens.block_letters import Rows
from coach.screens.dog_picture import look_of
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.region_page import broken
from coach.screens.text_block import Sign

NEW_PAGE = "\f"
# What is told on one page must fit the smallest screen, 60x20.
PAGE_COLUMNS, PAGE_ROWS = 60, 11
KEYS = {
    "one_key": "space,enter,right,pagedown,down",
    "before": "left,pageup,up,backspace",
    "leave": "q,escape,ctrl+q,ctrl+c",
}


def sheets(lines: Sequence[str], *, width: int, height: int) -> list[Rows]:
    """``lines`` on pages of ``width`` x ``height``; at least one. Lines too long are broken.

    A line of ``NEW_PAGE`` begins a page. Else a page ends at a blank line where its last third has
    one, so that what belongs together stays together.
    """
    if NEW_PAGE in lines:
        cut = list(lines).index(NEW_PAGE)
        parts = [part for part in (lines[:cut], lines[cut + 1 :]) if part]
        found = [page for part in parts for page in sheets(part, width=width, height=height)]
        return found or [("",)]
    rows = [
        row
        for line in lines
        for row in ([line] if len(line) <= width else broken([line], width=width))
    ]
    height = max(1, height)
    pages: list[Rows] = []
    while rows:
        cut = height
        if len(rows) > height:
            blank = (n for n in range(height, height * 2 // 3, -1) if not rows[n].strip())
            cut = next(blank, height)
        pages.append(tuple(rows[:cut]))
        rows = rows[cut:]
        while rows and not rows[0].strip():
            rows = rows[1:]
    return pages or [("",)]


def paged(rows: Sequence[str], height: int) -> list[Rows]:
    """``rows`` on pages of ``height``, wherever that falls; none without rows."""
    height = max(1, height)
    return [tuple(rows[at : at + height]) for at in range(0, len(rows), height)]


def told_pages(lines: Sequence[str]) -> list[tuple[str, ...]]:
    """``lines`` in portions that fit the smallest screen; a line that is longer is broken."""
    found: list[list[str]] = [[]]
    used = 0
    for line in (row for text in lines for row in text.split("\n")):
        rows = textwrap.wrap(line, PAGE_COLUMNS)
        if used + len(rows) > PAGE_ROWS and found[-1]:
            found.append([])
            used = 0
        if len(rows) > PAGE_ROWS:
            parts = [rows[n : n + PAGE_ROWS] for n in range(0, len(rows), PAGE_ROWS)]
            found[-1:] = [*([found[-1]] if found[-1] else []), *([" ".join(p)] for p in parts)]
            used = len(parts[-1])
        elif rows:
            found[-1].append(line)
            used += len(rows)
    return [tuple(page) for page in found if page]


class SheetsScreen(Screen[Pressed], inherit_bindings=False):
    """Pages of what ``lines`` gives for a width and a look. Left with Q."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "text_pages.tcss"
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding(keys, f"do('{name}')", id=f"page_{name}" if name != "one_key" else name)
        for name, keys in KEYS.items()
    ]

    def __init__(self, title: str, lines: Callable[[int, Look], Sequence[str]]) -> None:
        super().__init__()
        self._title = title
        self._lines = lines
        self._bar = Sign("bar")
        self._words = Sign("lines", asks="one_key")
        self._keys = Keys(id="keys")
        self._pages: list[Rows] = []
        self._at = 0

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        with Vertical(id="page"):
            yield self._words
        yield self._keys

    def on_resize(self) -> None:
        """The pages of the new size."""
        width, height = self.size
        tall = height >= ROOMY_ROWS
        taps = (
            Tap(id="one_key", key=_("SPACE"), label=_("next page"), vital=True),
            Tap(id="before", key="<-", label=_("back")),
            Tap(id="leave", key="Q", label=_("close"), vital=True),
        )
        key_rows = rows_of(flow(taps, width=width, tall=tall))
        used = key_rows * (TALL if tall else 1)
        self._keys.show(fitting(taps, width=width, rows=key_rows, tall=tall), tall=tall, rows=used)
        lines = self._lines(width, look_of(self.app.theme))
        self._pages = sheets(lines, width=width, height=height - used - 1)
        self.draw()

    def draw(self) -> None:
        """Put the open page into the widgets."""
        self._at %= len(self._pages)
        page = _("page {page} of {of}").format(page=self._at + 1, of=len(self._pages))
        self._bar.show((f"{self._title}, {page}"[: self.size.width],))
        self._words.show(self._pages[self._at])

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self.action_do(message.id)

    def action_do(self, name: str) -> None:
        """What a key asks."""
        match name:
            case "one_key" if self._at == len(self._pages) - 1:
                # By the one big key alone: past the last page.
                self.dismiss(Pressed(LEAVE))
                return
            case "one_key":
                self._at += 1
            case "before":
                self._at -= 1
            case _:
                self.dismiss(Pressed(LEAVE))
                return
        self.draw()
