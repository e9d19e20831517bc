"""Adherence against counting by hand, day by day."""

import datetime
from dataclasses import replace
from fractions import Fraction
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.plan.calendar import Calendar, Given, due_dates
from coach.plan.model import Plan
from coach.record.adherence import adherence
from coach.reports.calendar_text import adherence_lines
from tests.plan.courses import BERLIN, DAY, MONDAY, plan_of, session, worlds

THREE = {"times_a_week": 3, "weeks": 2}


def test_the_figures_of_a_course_that_was_kept_by_half() -> None:
    """Counted by hand: due Mo, We, Fr, Mo; given Mo, Th (for We), Fr; the second Monday missed."""
    plan = plan_of(THREE, calendar={"missed": "drop", "window_days": 1})
    held = [session(n, MONDAY + days * DAY) for n, days in enumerate((0, 3, 4), start=1)]
    calendar = due_dates(plan, None, held, MONDAY + 9 * DAY, BERLIN)
    figures = adherence(calendar, window_days=1)
    assert (figures.given, figures.due, figures.whole_course) == (3, 4, 6)
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
    assert (figures.given, figures.due, figures.on_the_day) == (0, 0, 0)
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
        figures.due,
        figures.on_the_day,
        figures.in_window,
        figures.longest_gap_days,
    )


def test_sessions_beyond_the_plan_are_told_as_extra() -> None:
    """26 daily sessions on a plan of 2 a week for 6 weeks, counted by hand on the last evening.

    Due on days 0, 3 (or 4) of each week: 8 in 26 days, 12 in all; 18 more than were due, and 14
    beyond the whole course.
    """
    for rule in ("ask", "drop", "shift"):
        plan = plan_of({"times_a_week": 2, "weeks": 6}, calendar={"missed": rule})
        held = [session(n, MONDAY + (n - 1) * DAY) for n in range(1, 27)]
        calendar = due_dates(plan, None, held, MONDAY + 25 * DAY, BERLIN)
        figures = adherence(calendar)
        assert (figures.due, figures.begun, figures.complete) == (8, 26, 26)
        assert (figures.extra, figures.beyond, figures.behind) == (18, 14, 0)
        assert adherence_lines(figures)[:3] == [
            "Due so far: 8 of 12. Begun: 26, all complete.",
            "14 sessions beyond the course.",
            "18 more than were due.",
        ]


def test_sessions_that_lack_are_told_as_behind() -> None:
    """Daily for a week, two sessions given: 7 were due, 5 are missing."""
    plan = plan_of({"times_a_week": 7, "weeks": 1}, calendar={"missed": "drop"})
    held = [session(1, MONDAY), session(2, MONDAY + DAY)]
    calendar = due_dates(plan, None, held, MONDAY + 7 * DAY, BERLIN)
    figures = adherence(calendar)
    assert (figures.due, figures.begun, figures.behind, figures.extra) == (7, 2, 5, 0)


def test_a_session_broken_off_early_is_in_part_and_counts_for_no_day() -> None:
    """26 % of the seconds: the session is still to come, though not on a day that had light."""
    part = session(2, MONDAY + 2 * DAY, share=Fraction(26, 100), complete=False)
    held = [session(1, MONDAY), part]
    plan = plan_of(THREE)
    calendar = due_dates(plan, None, held, MONDAY + 2 * DAY, BERLIN)
    assert (calendar.count("given"), calendar.part) == (1, (part,))
    assert calendar.next is not None
    assert (calendar.next.number, calendar.next.day) == (2, MONDAY + 3 * DAY)
    figures = adherence(calendar)
    assert (figures.begun, figures.complete, figures.too_little) == (2, 1, 1)
    assert (figures.given, figures.on_the_day) == (1, 1)
    lines = adherence_lines(figures)
    assert lines[0] == "Due so far: 1 of 6. Begun: 2 (1 complete, 1 in part: 26 %)."
    assert "1 had too small a part to count for a day." in lines
    # From half on it counts; the plan may say otherwise.
    half = replace(part, share=Fraction(1, 2))
    assert due_dates(plan, None, [held[0], half], MONDAY, BERLIN).count("given") == 2
    strict = plan_of(THREE, calendar={"counts_from_percent": 51})
    assert due_dates(strict, None, [held[0], half], MONDAY, BERLIN).count("given") == 1


def test_after_a_late_session_the_next_keeps_the_distance_of_the_plan() -> None:
    """Every second day from Monday: 0, 2, 4, 6, 8. The second is held a day late, on day 3.

    By hand: the next then is on day 5, not on 4, and 7 and 9 after it; none is missed.
    """
    every = {"every_days": 2, "weeks": 2}
    for rule in ("ask", "drop"):
        plan = plan_of(every, calendar={"missed": rule})
        held: list[Given] = []
        for number, day in enumerate((0, 3, 5, 7, 9), start=1):
            calendar = due_dates(plan, None, held, MONDAY + day * DAY, BERLIN)
            due = calendar.next
            assert due is not None
            wanted = day if number != 2 else 2
            assert (due.number, (due.day - MONDAY).days) == (number, max(wanted, day))
            held.append(session(number, MONDAY + day * DAY))
        calendar = due_dates(plan, None, held, MONDAY + 9 * DAY, BERLIN)
        assert calendar.count("given") == 5
        assert calendar.count("missed", "ask") == 0
        told = plan_of(every, calendar={"missed": rule, "keep_distance": False})
        on_4 = due_dates(told, None, held[:2], MONDAY + 3 * DAY, BERLIN).next
        assert on_4 is not None
        assert (on_4.day - MONDAY).days == 4
