"""What opens on top of the home screen: the course, the tally over it, the scores."""

from collections.abc import Callable, Sequence

from coach.body.raster import Look
from coach.cli.home_facts import Home
from coach.language import _
from coach.paths import JOURNALS, SUMMARY
from coach.record.course_tally import course_of
from coach.record.dog_course import figures_of
from coach.record.dog_record import Whole, read_whole
from coach.reports.course_text import over_lines, pictures
from coach.reports.trend_text import doses_of, series_of, trend_lines
from coach.screens.course import CourseScreen
from coach.screens.text_pages import NEW_PAGE, SheetsScreen

WIDEST = 100
PICTURE_ROWS = 14

Opens = Callable[[int, str], CourseScreen | SheetsScreen | None]


def opened(dogs: Sequence[Home]) -> Opens:
    """What makes the screen behind a key for dog number N; None when there is nothing to show."""

    def make(number: int, name: str) -> CourseScreen | SheetsScreen | None:
        dog = dogs[number]
        if name == "course":
            plan_file, calendar = dog.plan_file, dog.facts.calendar
            if plan_file is None or calendar is None:
                return None
            return CourseScreen(calendar, figures_of(plan_file.plan, calendar))
        whole = read_whole(dog.folder / JOURNALS, dog.facts.dog, kept=dog.folder / SUMMARY)
        if name == "tally":
            title = _("{dog}: given and planned").format(dog=dog.facts.dog)
            return SheetsScreen(title, lambda width, look: _tally(whole, width, look))
        instrument = "" if dog.plan_file is None else dog.plan_file.plan.scores.instrument
        title = _("{dog}: how it goes").format(dog=dog.facts.dog)
        return SheetsScreen(title, lambda width, look: _trend(whole, instrument, width, look))

    return make


def _tally(whole: Whole, width: int, look: Look) -> list[str]:
    course = course_of(whole.sums)
    lines = over_lines(
        whole.dog, course, corrected=whole.corrected, not_counted=whole.not_counted, look=look
    )
    for drawing in pictures(course, width=min(width, WIDEST), height=PICTURE_ROWS, look=look):
        lines += [NEW_PAGE, *drawing.text().split("\n")]
    return [*lines, *([NEW_PAGE] if whole.remarks else []), *whole.remarks]


def _trend(whole: Whole, instrument: str, width: int, look: Look) -> list[str]:
    told = [(one.wall, one.trust, one.entry) for one in whole.diary.told]
    series, left_out = series_of(told, dog=whole.dog, instrument=instrument)
    doses = doses_of(whole.briefs)
    return trend_lines(series, doses, left_out=left_out, width=min(width, WIDEST), look=look)
