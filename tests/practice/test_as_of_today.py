"""Behind and extra as of today: from a real handover, against the plan's own calendar."""

import dataclasses
import datetime
from pathlib import Path

import pytest

from coach import __version__
from coach.handover.build_info import Made
from coach.handover.dog_case import read_case
from coach.handover.folder import write_handover
from coach.handover.handover_calendar import calendar_of, figures_of
from coach.journal.signing import DeviceKey
from coach.practice.call_list import Dog, call_list
from coach.practice.rules import house_rules
from tests.handover.conftest import plain_report
from tests.handover.weeks import weeks

__all__ = ["plain_report"]

MADE = Made(at="2026-11-25T10:00:00+01:00", program=__version__)
DAY = datetime.timedelta(days=1)


@pytest.fixture
def handed_over(tmp_path: Path, plain_report: None) -> Path:
    """The folder of a handover of three invented weeks, alone in a practice's folder."""
    key = DeviceKey(bytes(32))
    weeks(tmp_path / "dog", key)
    done = write_handover(
        tmp_path / "dog", tmp_path / "in", made=MADE, signer=key, with_names=True, zipped=False
    )
    return done.path


def listed(handover: Path, today: datetime.date) -> Dog:
    (dog,) = call_list(handover.parent, today, house_rules()).dogs
    return dog


@pytest.mark.parametrize("missed", ["shift", "drop", "ask"])
def test_it_is_what_the_plan_calendar_says_on_that_day(handed_over: Path, missed: str) -> None:
    """The list has only the days that the handover tells; the calendar has the plan itself."""
    plan = handed_over / "plan.toml"
    rules = f'\n[calendar]\nmissed = "{missed}"\n'
    plan.write_text(plan.read_text().replace("\n[session]", f"{rules}\n[session]", 1))
    (handed_over / "manifest.json").unlink()
    for ahead in (0, 2, 6, 12, 90):
        today = datetime.date(2026, 11, 25) + ahead * DAY
        then = dataclasses.replace(MADE, at=f"{today}T10:00:00+01:00")
        case = read_case(handed_over, today=today)
        calendar = calendar_of(case, then)
        assert calendar is not None
        figures = figures_of(case, calendar)
        dog = listed(handed_over, today)
        assert (dog.planned, dog.behind, dog.extra) == (
            figures.due,
            figures.behind,
            figures.extra,
        ), ahead
        assert (dog.given, dog.whole_course) == (figures.given, figures.whole_course)


def test_the_next_due_day_is_the_calendars_where_no_gap_moves_it(handed_over: Path) -> None:
    for ahead in (0, 3, 8):
        today = datetime.date(2026, 11, 25) + ahead * DAY
        then = dataclasses.replace(MADE, at=f"{today}T10:00:00+01:00")
        calendar = calendar_of(read_case(handed_over, today=today), then)
        assert calendar is not None
        following = calendar.next
        expected = None if following is None else following.day
        assert listed(handed_over, today).next_due == expected, today
