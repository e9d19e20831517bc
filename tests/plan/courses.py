"""Courses and sessions to lay out on a calendar. Dogs and people are invented."""

import datetime
from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from coach.plan.calendar import Calendar, Given
from coach.plan.course import CalendarRules, CoursePhase
from coach.plan.due_days import Due, State
from coach.plan.model import Plan
from tests.plan.worlds import PLAN, read

BERLIN, NEW_YORK = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York")
MONDAY = datetime.date(2026, 11, 30)
DAY = datetime.timedelta(days=1)
BASE = read(PLAN)


def stated(fields: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in fields.items() if value is not None}


def plan_of(*phases: dict[str, Any], calendar: dict[str, Any] | None = None, **limits: Any) -> Plan:
    return BASE.model_copy(
        update={
            "course": tuple(CoursePhase(**stated({"name": "phase", **phase})) for phase in phases),
            "calendar": CalendarRules(**stated(calendar or {})),
            "limits": BASE.limits.model_copy(update=limits),
        }
    )


def session(
    number: int, day: datetime.date, *, hour: int = 19, zone: ZoneInfo = BERLIN, **changes: Any
) -> Given:
    began = datetime.datetime.combine(day, datetime.time(hour), zone)
    told: dict[str, Any] = {
        "number": number,
        "plan_id": "spine",
        "plan_revision": 3,
        "began": began,
        "ended": began + datetime.timedelta(minutes=15),
        "trusted": True,
    }
    return Given(**{**told, **changes})


def due(
    number: int,
    day: datetime.date,
    state: State,
    *,
    planned: datetime.date | None = None,
    held: Given | None = None,
    at: datetime.datetime | None = None,
) -> Due:
    """One session of a course laid out by hand."""
    return Due(
        number=number,
        phase="build up",
        planned_on=planned or day,
        day=day,
        at=at,
        state=state,
        given=held,
    )


def calendar_of(
    *dues: Due,
    today: datetime.date = MONDAY,
    assumed: bool = False,
    extra: Sequence[Given] = (),
    before: Sequence[Given] = (),
    others: int = 0,
    elsewhere: Sequence[Given] = (),
    rest: Sequence[datetime.date] = (),
    valid_until: datetime.date = MONDAY + 365 * DAY,
    not_before: datetime.datetime | None = None,
) -> Calendar:
    """A calendar laid out by hand, as it stands on Monday 30 November 2026."""
    return Calendar(
        dog="Juniper",
        plan_id="spine",
        plan_revision=3,
        start=dues[0].day if dues else today,
        assumed=assumed,
        today=today,
        rule="ask",
        dues=dues,
        extra=tuple(extra),
        before=tuple(before),
        others=others,
        elsewhere=tuple(elsewhere),
        rest=frozenset(rest),
        valid_until=valid_until,
        not_before=not_before,
    )


# Summer time: the EU changes on the last Sundays of March and October (Directive 2000/84/EC), the
# USA on the second Sunday of March and the first of November (Energy Policy Act of 2005); both
# from memory. What a left-out and a doubled hour mean: RFC 5545, section 3.3.5.
CHANGES = [
    (BERLIN, datetime.date(2027, 3, 28), "02:30", "03:30", 2),
    (BERLIN, datetime.date(2027, 10, 31), "02:30", "02:30", 2),
    (NEW_YORK, datetime.date(2027, 3, 14), "02:30", "03:30", -4),
    (NEW_YORK, datetime.date(2027, 11, 7), "01:30", "01:30", -4),
]


WEEKDAYS = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]


@st.composite
def phases(draw: st.DrawFn) -> dict[str, Any]:
    rest = draw(st.lists(st.sampled_from(WEEKDAYS), max_size=4, unique=True)) or None
    free = 7 - len(rest or ())
    often = {"times_a_week": draw(st.integers(1, 2 * free))}
    if draw(st.booleans()):
        often = {"every_days": draw(st.integers(1, 12))}
    return {**often, "weeks": draw(st.integers(1, 3)), "rest_days": rest}


@st.composite
def worlds(draw: st.DrawFn) -> tuple[Plan, datetime.date, ZoneInfo]:
    """A course around a change of the clocks."""
    calendar: dict[str, Any] = {
        "missed": draw(st.sampled_from(["shift", "drop", "ask"])),
        "window_days": draw(st.none() | st.integers(0, 2)),
        "least_days_between": draw(st.none() | st.integers(1, 4)),
        "at": draw(st.sampled_from([None, ["19:00"], ["02:30", "14:00"]])),
    }
    plan = plan_of(
        *draw(st.lists(phases(), min_size=1, max_size=3)),
        calendar=calendar,
        least_hours_between=draw(
            st.none() | st.sampled_from([Decimal(h) for h in (8, 20, 24, 48)])
        ),
        most_a_week=draw(st.none() | st.integers(1, 14)),
    )
    zone, day, *_ = draw(st.sampled_from(CHANGES))
    return plan, day - draw(st.integers(0, 20)) * DAY, zone
