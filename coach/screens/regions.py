"""The pages of the regions, full screen: one key a page, every side and face to be looked at."""

from dataclasses import dataclass, replace

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.screen import Screen

from coach.bedside.flow import Pressed
from coach.bedside.pages import LEAVE
from coach.body.drawing import Drawing
from coach.body.regions import regions, told
from coach.language import N_, _
from coach.screens.block_letters import Rows
from coach.screens.dog_picture import Dog, look_of
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.region_page import (
    LEGENDS,
    Place,
    broken,
    list_lines,
    page_lines,
    picture,
    place_words,
    places,
)
from coach.screens.text_block import Sign
from coach.screens.text_pages import paged
from coach.screens.themes import LOOKS

# From here on the picture stands beside the words; below, it has a page of its own.
BESIDE_COLUMNS = 100
WORDS_COLUMNS = 50
# Smaller than this, the picture is left out.
PICTURE_CELLS = (60, 18)

TAPS = (
    Tap(id="one_key", key=N_("SPACE"), label=N_("next"), vital=True),
    Tap(id="before", key="<-", label=N_("back")),
    Tap(id="other", key="S", label=N_("other side or face")),
    Tap(id="look", key="L", label=N_("light")),
    Tap(id="leave", key="Q", label=N_("close"), vital=True),
)
KEYS = {
    "one_key": "space,enter,right,pagedown",
    "before": "left,pageup,backspace",
    "other": "s,down",
    "other_back": "up",
    "look": "l",
    "leave": "q,escape,ctrl+q,ctrl+c",
}
# Rebound together with those of other screens.
SHARED = frozenset({"one_key", "look"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page: a region (None for the list) with rows of words, a picture, or both."""

    key: str | None
    rows: Rows = ()
    picture: tuple[int, int] | None = None


def pages(*, width: int, height: int) -> tuple[Page, ...]:
    """All pages for ``width`` x ``height`` cells: the list, then every region. Never to scroll."""
    found = [Page(key=None, rows=rows) for rows in paged(list_lines(width=width), height)]
    for key, place in regions().items():
        lines = page_lines(place)
        beside = broken(lines, width=WORDS_COLUMNS)
        if width >= BESIDE_COLUMNS and len(beside) <= height:
            found.append(Page(key=key, rows=beside, picture=(width - WORDS_COLUMNS - 2, height)))
            continue
        if width >= PICTURE_CELLS[0] and height >= PICTURE_CELLS[1] - 2:
            found.append(Page(key=key, picture=(width, height)))
        words = broken(lines, width=width)
        found += [Page(key=key, rows=rows) for rows in paged(words, height)]
    return tuple(found)


class RegionScreen(Screen[Pressed], inherit_bindings=False):
    """A bar, a page, and the keys."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "regions.tcss"
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding(keys, f"do('{name}')", id=name if name in SHARED else f"page_{name}")
        for name, keys in KEYS.items()
    ]

    def __init__(self, key: str | None) -> None:
        super().__init__()
        self._bar = Sign("bar")
        self._dog = Dog(asks="one_key")
        self._words = Sign("lines", asks="one_key")
        self._keys = Keys(id="keys")
        self._key = key
        self._at = 0
        self._shown: dict[str, int] = {}
        self._pages: tuple[Page, ...] = ()
        self._kept: tuple[object, Drawing] | None = None

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        with Horizontal(id="page"):
            yield self._words
            yield self._dog
        yield self._keys

    def on_resize(self) -> None:
        """The pages of the new size, open at the same region."""
        width, height = self.size
        tall = height >= ROOMY_ROWS
        taps = [replace(tap, key=_(tap.key), label=_(tap.label)) for tap in TAPS]
        key_rows = rows_of(flow(taps, width=width, tall=tall)) if height > 12 else 1
        placed = fitting(taps, width=width, rows=key_rows, tall=tall)
        used = key_rows * (TALL if tall else 1)
        self._keys.show(placed, tall=tall, rows=used)
        key = self._pages[self._at].key if self._pages else self._key
        self._pages = pages(width=width, height=height - used - 1)
        self._at = next(number for number, page in enumerate(self._pages) if page.key == key)
        self.draw()

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self.action_do(message.id)

    def action_do(self, name: str) -> None:
        """What a key asks."""
        match name:
            case "one_key":
                self.turn(1)
            case "before":
                self.turn(-1)
            case "other":
                self.other(1)
            case "other_back":
                self.other(-1)
            case "look":
                self.app.theme = LOOKS[(LOOKS.index(self.app.theme) + 1) % len(LOOKS)]
                self.draw()
            case _:
                self.dismiss(Pressed(LEAVE))

    def turn(self, step: int) -> None:
        """So many pages on."""
        self._at = (self._at + step) % len(self._pages)
        self.draw()

    def other(self, step: int) -> None:
        """Another side or face of this region."""
        key = self._pages[self._at].key
        if key is not None:
            self._shown[key] = (self._shown.get(key, 0) + step) % len(places(regions()[key]))
            self.draw()

    def draw(self) -> None:
        """Put the open page into the widgets."""
        page = self._pages[self._at]
        self._bar.show((self._bar_text(page)[: self.size.width],))
        self._words.show(page.rows)
        self._words.styles.width = WORDS_COLUMNS + 2 if page.picture and page.rows else "100%"
        self._dog.show(self._picture(page))

    def _picture(self, page: Page) -> Drawing | None:
        if page.picture is None or page.key is None:
            return None
        width, height = page.picture
        wanted = (page, self._place(page.key), self.app.theme)
        if self._kept is None or self._kept[0] != wanted:
            look = look_of(self.app.theme)
            drawn = picture(page.key, self._place(page.key), width=width, height=height, look=look)
            self._kept = (wanted, drawn)
        return self._kept[1]

    def _place(self, key: str) -> Place:
        return places(regions()[key])[self._shown.get(key, 0)]

    def _bar_text(self, page: Page) -> str:
        if page.key is None:
            return _("THE DOG'S REGIONS: SPACE turns the page")
        place = told(page.key)
        number = list(regions()).index(page.key) + 1
        text = f"{number}/{len(regions())} {place.owner_words.upper()}"
        if page.picture:
            text += f": {place_words(self._place(page.key))}"
        legend = _(LEGENDS[look_of(self.app.theme)])
        return f"{text}  {legend}" if len(text) + 2 + len(legend) <= self.size.width else text
