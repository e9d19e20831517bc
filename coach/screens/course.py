"""The course on the calendar, full screen: months, sessions, and what the figures mean."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import Screen

from coach.bedside.flow import Pressed
from coach.bedside.pages import LEAVE
from coach.language import N_, _
from coach.plan.calendar import Calendar
from coach.record.adherence import MEANING, Adherence
from coach.reports.calendar_text import (
    adherence_lines,
    due_lines,
    headline,
    legend_text,
    month_pages,
    remark_lines,
)
from coach.screens.block_letters import Rows
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.region_page import broken
from coach.screens.text_block import Sign
from coach.screens.text_pages import paged
from coach.screens.themes import LOOKS

LABELS = {
    "one_key": N_("next page"),
    "before": N_("back"),
    "meaning": N_("what it means"),
    "look": N_("light"),
    "leave": N_("close"),
}
SHOWN = {"one_key": N_("SPACE"), "before": "<-", "meaning": "D", "look": "L", "leave": "Q"}
KEYS = {
    "one_key": "space,enter,right,pagedown",
    "before": "left,pageup,backspace",
    "meaning": "d",
    "look": "l",
    "leave": "q,escape,ctrl+q,ctrl+c",
}
# Rebound together with those of other screens.
SHARED = frozenset({"one_key", "look"})
VITAL = frozenset({"one_key", "leave"})


def course_pages(
    calendar: Calendar, figures: Adherence, *, width: int, height: int, ascii_only: bool
) -> tuple[list[Rows], int]:
    """All pages for ``width`` x ``height``, and how many of them are not the definitions.

    First the months, opening at this one, with what is due; then every session; then the words.
    """
    head = broken([headline(calendar)], width=width)
    foot = broken(adherence_lines(figures), width=width)
    legend = broken([legend_text(calendar, ascii_only=ascii_only)], width=width)
    pages: list[Rows] = []
    months = month_pages(calendar, width=width, ascii_only=ascii_only) if calendar.dues else []
    for rows in months:
        whole = [*head, "", *rows, "", *legend]
        if len(whole) + len(foot) + 1 <= height:
            whole += ["", *foot]
        pages += paged(whole, height)
    lines = [*head, *remark_lines(calendar), *due_lines(calendar), "", *adherence_lines(figures)]
    pages += paged(broken(lines, width=width), height)
    shown = len(pages)
    meaning = [*map(_, MEANING.values()), _("Coached, not measured: what the timer counted.")]
    pages += paged(broken(meaning, width=width), height)
    return pages, shown


class CourseScreen(Screen[Pressed], inherit_bindings=False):
    """A bar, a page, and the keys. ``leave`` closes it, back to where it was opened."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "course.tcss"
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding(keys, f"do('{name}')", id=name if name in SHARED else f"page_{name}")
        for name, keys in KEYS.items()
    ]

    def __init__(self, calendar: Calendar, figures: Adherence) -> None:
        super().__init__()
        self._calendar = calendar
        self._figures = figures
        self._bar = Sign("bar")
        self._words = Sign("lines", asks="one_key")
        self._keys = Keys(id="keys")
        self._pages: list[Rows] = []
        self._shown = 0
        self._at: int | None = None

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        with Vertical(id="page"):
            yield self._words
        yield self._keys

    def on_resize(self) -> None:
        """The pages of the new size."""
        self.draw()

    def draw(self) -> None:
        """Put the open page into the widgets."""
        width, height = self.size
        tall = height >= ROOMY_ROWS
        taps = [
            Tap(id=name, key=_(SHOWN[name]), label=_(label), vital=name in VITAL)
            for name, label in LABELS.items()
        ]
        key_rows = rows_of(flow(taps, width=width, tall=tall)) if height > 12 else 1
        used = key_rows * (TALL if tall else 1)
        self._keys.show(fitting(taps, width=width, rows=key_rows, tall=tall), tall=tall, rows=used)
        self._pages, self._shown = course_pages(
            self._calendar,
            self._figures,
            width=width,
            height=height - used - 1,
            ascii_only=self.app.theme == "console",
        )
        if self._at is None:
            today = f"[{self._calendar.today.day:>2}"
            here = (n for n, page in enumerate(self._pages) if any(today in row for row in page))
            self._at = next(here, 0)
        self._at %= len(self._pages)
        title = _("{dog}: THE COURSE, page {page} of {of}").format(
            dog=self._calendar.dog, page=self._at + 1, of=len(self._pages)
        )
        self._bar.show((title[:width],))
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
                self._at = (self._at or 0) + 1
            case "before":
                self._at = (self._at or 0) - 1
            case "meaning":
                self._at = self._shown
            case "look":
                self.app.theme = LOOKS[(LOOKS.index(self.app.theme) + 1) % len(LOOKS)]
            case _:
                self.dismiss(Pressed(LEAVE))
                return
        self.draw()
