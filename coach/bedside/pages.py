"""The pages of an evening as data; screens draw them in their own way, lines print them."""

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from coach.bedside.flow import Key, Page
from coach.bedside.home_status import AtHome, home_lines
from coach.bedside.lesson_pages import first_lines, lesson_lines, meetings
from coach.body.raster import Look
from coach.body.regions import SIDES, told
from coach.language import _
from coach.plan.calendar import Calendar
from coach.plan.model import Plan
from coach.plan.spots import Spot
from coach.record.adherence import Adherence
from coach.reports.calendar_text import adherence_lines, due_lines, headline, remark_lines
from coach.session.cues import side_word

# Lines of text where there is no screen.
LINE_COLUMNS = 80
LEAVE = "leave"


def close_key() -> Key:
    """The key that closes a page."""
    return Key(LEAVE, "Q", _("close"), vital=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class HomePage(Page):
    """Home: each dog, the one at ``at`` in sight.

    ``tells``: whether it speaks when it opens; ``steps``: the one big key steps through the keys
    at once, for an owner who has just come back from a session that was not started.
    """

    homes: tuple[AtHome, ...]
    now: Callable[[], datetime.datetime]
    at: int = 0
    tells: bool = True
    steps: bool = False

    def lines(self) -> Sequence[str]:
        """Every dog."""
        return home_lines(self.homes, now=self.now())


@dataclass(frozen=True, slots=True, kw_only=True)
class DogPage(Page):
    """Is this the dog, and this its plan? Keys ``yes`` and ``no``."""

    plan: Plan
    spots: tuple[Spot, ...]

    def lines(self) -> Sequence[str]:
        """The places of the plan, and the question."""
        dog = self.plan.dog.name
        return (
            _("This plan is for {dog}:").format(dog=dog),
            *(f"  {line}" for line in places_of(self.spots)),
            _("Is {dog} in front of you? Enter: yes. n: no.").format(dog=dog),
        )


def places_of(spots: Sequence[Spot]) -> tuple[str, ...]:
    """The regions of a session in the owner's words with their sides, one line each."""
    sides: dict[str, set[str]] = {}
    for spot in spots:
        sides.setdefault(told(spot.region).owner_words, set()).add(spot.side)
    return tuple(
        f"{name}: {', '.join(side_word(side) for side in SIDES if side in found)}"
        for name, found in sides.items()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonPage(Page):
    """The places of a plan, one after the other, with the laser off."""

    dog: str
    spots: tuple[Spot, ...]

    def lines(self) -> Sequence[str]:
        """What the lesson is, and every place."""
        met = meetings(self.spots)
        return (
            *first_lines(self.dog, len(met)),
            *(row for one in met for row in lesson_lines(one)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CoursePage(Page):
    """The course on the calendar."""

    calendar: Calendar
    figures: Adherence

    def lines(self) -> Sequence[str]:
        """Each session, and how it adds up."""
        return (
            headline(self.calendar),
            *remark_lines(self.calendar),
            *due_lines(self.calendar),
            *adherence_lines(self.figures),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetsPage(Page):
    """Lines for a width and a look, on pages that are turned."""

    sheet: Callable[[int, Look], Sequence[str]]

    def lines(self) -> Sequence[str]:
        """The lines as text."""
        return [line for line in self.sheet(LINE_COLUMNS, "console") if line != "\f"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CodePage(Page):
    """A code for a phone; ``texts`` say the same in fuller and shorter words."""

    texts: tuple[str, ...]

    def lines(self) -> Sequence[str]:
        """What the code says."""
        return self.texts[0].split("\n")


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionsPage(Page):
    """The dog's regions, opened at ``region`` or at the list."""

    region: str | None = None

    def lines(self) -> Sequence[str]:
        """Each region by its names."""
        from coach.body.regions import regions

        return [f"{place.key}: {place.owner_words}" for place in regions().values()]
