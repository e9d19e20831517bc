"""Home, where it leads, and home again, until it is closed."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from coach.bedside.dog_facts import Home, homes
from coach.bedside.evening import Evening, SessionWish
from coach.bedside.flow import Flow, Key, Page, Pressed, TextPage, show, tell
from coach.bedside.home_status import AtHome, at_home
from coach.bedside.pages import LEAVE, CoursePage, HomePage, SheetsPage, close_key
from coach.body.raster import Look
from coach.language import _
from coach.paths import JOURNALS, SUMMARY

if TYPE_CHECKING:
    from coach.record.dog_record import Whole

LOOK_AGAIN = "look_again"
PAGES = frozenset({"course", "tally", "trend"})
WIDEST = 100
PICTURE_ROWS = 14
NEW_PAGE = "\f"


def by_the_bed(evening: Evening) -> Flow[None]:
    """What was cut off first, then home, again and again: a screen by the bed is never closed."""
    yield from _cut_off_first(evening)
    while True:
        yield from home(evening)
        keys = (Key("on", _("SPACE"), _("go home"), vital=True),)
        night = _("Good night. Press the pedal or any key to go on.")
        yield from show(TextPage(text=(night,), title=_("HOME"), keys=keys))


def home(evening: Evening) -> Flow[None]:
    """Home until it is closed."""
    at, tells, steps = 0, True, False
    while True:
        dogs = homes(evening.stamp())
        told = evening.take_notes()
        if told:
            yield from tell(*told, title=_("HOME"))
        page = home_page(evening, dogs, at=at, tells=tells)
        pressed = yield from show(replace(page, steps=steps))
        at, steps = pressed.at, False
        if pressed.id == LEAVE:
            return
        # Nobody is spoken to in the night because a new day has begun.
        tells = pressed.id not in (LOOK_AGAIN, *PAGES)
        if pressed.id != LOOK_AGAIN:
            started = yield from behind(evening, pressed, dogs[at] if dogs else None)
            steps = not started


def page_now(evening: Evening) -> HomePage:
    """Home at this moment."""
    return home_page(evening, homes(evening.stamp()))


def home_page(
    evening: Evening, dogs: Sequence[Home], *, at: int = 0, tells: bool = True
) -> HomePage:
    """Home with its keys."""
    shown = tuple(at_home(dog.facts) for dog in dogs)
    return HomePage(homes=shown, now=evening.wall, at=at, tells=tells, keys=home_keys(shown))


def home_keys(dogs: Sequence[AtHome]) -> tuple[Key, ...]:
    """Every key that leads away from home; the screen shows those that fit the dog in sight."""
    always = (
        Key("rehearse", "R", _("rehearse, laser off"), vital=True),
        Key("vet", "V", _("for the vet"), vital=True),
        Key(LOOK_AGAIN, "", ""),
        close_key(),
    )
    if not dogs:
        return always
    return (
        Key("start", _("SPACE"), _("start a session"), vital=True),
        Key("carry_on", _("SPACE"), _("carry on"), vital=True),
        Key("course", "C", _("course")),
        Key("tally", "T", _("tally")),
        Key("score", "S", _("score")),
        Key("trend", "H", _("how it goes")),
        *always,
    )


def _cut_off_first(evening: Evening) -> Flow[None]:
    for number, dog in enumerate(homes(evening.stamp())):
        if at_home(dog.facts).key == "carry_on":
            # A dog lies there with half a session, and both hands are on it.
            yield from behind(evening, Pressed("carry_on", number), dog)
            return


def behind(evening: Evening, pressed: Pressed, dog: Home | None) -> Flow[bool]:
    """What a key of home leads to; False where a session was wished and none was started."""
    name = pressed.id
    if name in PAGES and dog is not None:
        page = page_of(name, dog)
        if page is None:
            yield from tell(_("There is no plan to show."), title=dog.facts.dog)
        else:
            yield from show(page)
    elif name == "vet":
        from coach.bedside.for_vet import for_vet

        yield from for_vet(evening, dog)
    elif name == "score" and dog is not None:
        from coach.bedside.scoring import Scoring, scored
        from coach.plan.model import Scores

        scoring = Scoring(
            folder=dog.folder,
            dog=dog.facts.dog,
            stamp=evening.stamp,
            wishes=dog.plan_file.plan.scores if dog.plan_file else Scores(),
        )
        told = yield from scored(scoring)
        yield from tell(*told.lines(), title=dog.facts.dog)
    elif name in ("start", "carry_on", "rehearse"):
        return (yield from _session(evening, name, dog))
    return True


def _session(evening: Evening, name: str, dog: Home | None) -> Flow[bool]:
    from coach.bedside.session_flow import refusal_lines, session_flow

    plan = None if dog is None or dog.plan_file is None else dog.plan_file.path
    wish = SessionWish(plan=plan, carry_on=True if name == "carry_on" else None)
    if name == "rehearse":
        wish = SessionWish(plan=plan, rehearsal=True)
    ended = yield from session_flow(evening, wish)
    title = "" if dog is None else dog.facts.dog
    yield from tell(*evening.take_notes(), *refusal_lines(ended), title=title)
    return ended.journal is not None


def page_of(name: str, dog: Home) -> Page | None:
    """The course, the tally over it, or the scores; None where there is no plan for it."""
    from coach.record.dog_course import figures_of
    from coach.record.dog_record import read_whole

    keys = (close_key(),)
    plan_file, calendar = dog.plan_file, dog.facts.calendar
    if name == "course":
        if plan_file is None or calendar is None:
            return None
        return CoursePage(
            calendar=calendar, figures=figures_of(plan_file.plan, calendar), keys=keys
        )
    whole = read_whole(dog.folder / JOURNALS, dog.facts.dog, kept=dog.folder / SUMMARY)
    if name == "tally":
        title = _("{dog}: given and planned").format(dog=dog.facts.dog)
        return SheetsPage(title=title, sheet=_tally_sheet(whole), keys=keys)
    instrument = "" if plan_file is None else plan_file.plan.scores.instrument
    title = _("{dog}: how it goes").format(dog=dog.facts.dog)
    return SheetsPage(title=title, sheet=_trend_sheet(whole, instrument), keys=keys)


def _tally_sheet(whole: "Whole") -> Callable[[int, Look], Sequence[str]]:
    from coach.record.course_tally import course_of
    from coach.reports.course_text import over_lines, pictures

    def sheet(width: int, look: Look) -> list[str]:
        course = course_of(whole.sums)
        lines = over_lines(
            whole.dog, course, corrected=whole.corrected, not_counted=whole.not_counted, look=look
        )
        for drawing in pictures(course, width=min(width, WIDEST), height=PICTURE_ROWS, look=look):
            lines += [NEW_PAGE, *drawing.text().split("\n")]
        return [*lines, *([NEW_PAGE] if whole.remarks else []), *whole.remarks]

    return sheet


def _trend_sheet(whole: "Whole", instrument: str) -> Callable[[int, Look], Sequence[str]]:
    from coach.reports.trend_text import doses_of, series_of, trend_lines

    told = [(one.wall, one.trust, one.entry) for one in whole.diary.told]
    series, left_out = series_of(told, dog=whole.dog, instrument=instrument)
    doses = doses_of(whole.briefs)

    def sheet(width: int, look: Look) -> list[str]:
        return trend_lines(series, doses, left_out=left_out, width=min(width, WIDEST), look=look)

    return sheet
