"""Adherence against counting by hand, day by day."""

import datetime
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.plan.calendar import Calendar, due_dates
from coach.plan.model import Plan
from coach.record.adherence import adherence
from tests.plan.courses import BERLIN, DAY, MONDAY, plan_of, session, worlds

THREE = {"times_a_week": 3, "weeks": 2}


def test_the_figures_of_a_course_that_was_kept_by_half() -> None:
    """Counted by hand: due Mo, We, Fr, Mo; given Mo, Th (for We), Fr; the second Monday missed."""
    plan = plan_of(THREE, calendar={"missed": "drop", "window_days": 1})
    held = [session(n, MONDAY + days * DAY) for n, days in enumerate((0, 3, 4), start=1)]
    calendar = due_dates(plan, None, held, MONDAY + 9 * DAY, BERLIN)
    figures = adherence(calendar, window_days=1)
    assert (figures.given, figures.planned, figures.whole_course) == (3, 4, 6)
    assert (figures.on_the_day, figures.in_window) == (2, 3)
    # From Friday to the Wednesday of the next week, which goes on.
    assert figures.longest_gap_days == 5
    assert adherence(calendar).in_window is None


def test_a_window_of_hours_counts_around_the_hour() -> None:
    plan = plan_of(THREE, calendar={"at": ["19:00"], "window_hours": None})
    held = [session(1, MONDAY, hour=21), session(2, MONDAY + 2 * DAY, hour=22)]
    calendar = due_dates(plan, None, held, MONDAY + 3 * DAY, BERLIN)
    assert adherence(calendar, window=datetime.timedelta(hours=2)).in_window == 1


def test_before_the_first_session_there_is_nothing_to_tell() -> None:
    calendar = due_dates(plan_of(THREE), None, [], MONDAY, BERLIN)
    figures = adherence(calendar, window_days=1)
    assert (figures.given, figures.planned, figures.on_the_day) == (0, 0, 0)
    assert figures.longest_gap_days is None


def by_hand(calendar: Calendar, window_days: int) -> tuple[int, int, int, int, int | None]:
    """Given, planned, on the day, in the window, longest gap: one day after the other."""
    first = min([due.planned_on for due in calendar.dues])
    first = min([first, *(due.given.day for due in calendar.dues if due.given and due.given.day)])
    count = planned = on_day = near = 0
    gap: int | None = None
    since: int | None = None
    for ahead in range((calendar.today - first).days + 1):
        day = first + ahead * DAY
        for due in calendar.dues:
            if due.planned_on == day and (day != calendar.today or due.given):
                planned += 1
            if due.given and due.given.day == day:
                count += 1
                on_day += due.day == day
                near += due.day in [day + n * DAY for n in range(-window_days, window_days + 1)]
                gap = max(gap or 0, since or 0)
                since = 0
        if since is not None and day != calendar.today:
            since += 1
    if since is not None and any(due.state in ("due", "late", "to_come") for due in calendar.dues):
        gap = max(gap or 0, since)
    return count, planned, on_day, near, gap


@settings(max_examples=40, deadline=None)
@given(
    world=worlds(),
    held=st.lists(st.integers(0, 20), max_size=12, unique=True).map(sorted),
    window_days=st.integers(0, 3),
)
def test_figures_equal_counting_day_by_day(
    world: tuple[Plan, datetime.date, ZoneInfo], held: list[int], window_days: int
) -> None:
    plan, start, zone = world
    given_on = [session(n, start + days * DAY, zone=zone) for n, days in enumerate(held, start=1)]
    calendar = due_dates(plan, start, given_on, start + 20 * DAY, zone)
    figures = adherence(calendar, window_days=window_days)
    assert by_hand(calendar, window_days) == (
        figures.given,
        figures.planned,
        figures.on_the_day,
        figures.in_window,
        figures.longest_gap_days,
    )
