"""From a course to days: counts, gaps, missed sessions, summer time in two zones.

The even spread over a week (Monday, Wednesday, Friday for three) is common practice, no source.
"""

import datetime
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.plan.calendar import OPEN, Calendar, Given, due_dates
from coach.plan.model import Plan
from tests.plan.courses import BERLIN, CHANGES, DAY, MONDAY, NEW_YORK, plan_of, session, worlds


def days(calendar: Calendar) -> list[str]:
    """``30 11`` for each session that is still to come."""
    return [f"{due.day:%d.%m}" for due in calendar.dues if due.state in OPEN]


def states(calendar: Calendar) -> list[str]:
    return [due.state for due in calendar.dues]


@pytest.mark.parametrize(
    ("phases", "weekly"),
    [
        # dosimetry D19. R: acral-lick trial 2021, 3 a week for 2 weeks, then 2 a week for 2: 10.
        ([(3, 2), (2, 2)], [3, 3, 2, 2]),
        # D19, R2: Alves 2022, 3, 2 and 1 sessions in weeks 1, 2 and 3: 6.
        ([(3, 1), (2, 1), (1, 1)], [3, 2, 1]),
        # D19, R2: Looney 2018, 2 a week for 3 weeks, then 1 a week for 3 weeks: 9.
        ([(2, 3), (1, 3)], [2, 2, 2, 1, 1, 1]),
    ],
)
@pytest.mark.parametrize("ahead", range(7))
def test_published_courses_have_their_sessions_in_their_weeks(
    phases: list[tuple[int, int]], weekly: list[int], ahead: int
) -> None:
    plan = plan_of(*({"times_a_week": times, "weeks": weeks} for times, weeks in phases))
    start = MONDAY + ahead * DAY
    calendar = due_dates(plan, start, [], start, BERLIN)
    found = Counter((due.planned_on - start).days // 7 for due in calendar.dues)
    assert [found[week] for week in range(len(weekly))] == weekly
    assert len(calendar.dues) == sum(weekly)


def test_every_other_day_fixed_dates_and_rest_days() -> None:
    plan = plan_of(
        # WALT, from memory (dosimetry, section 2): every other day for 3 to 4 weeks.
        {"every_days": 2, "weeks": 3},
        {"times_a_week": 3, "weeks": 1, "rest_days": ["wednesday", "sunday"]},
        {"dates": [datetime.date(2027, 1, 11), datetime.date(2027, 2, 8)]},
    )
    calendar = due_dates(plan, MONDAY, [], MONDAY, BERLIN)
    assert days(calendar)[:11] == [f"{MONDAY + n * DAY:%d.%m}" for n in range(0, 21, 2)]
    week = [due.planned_on for due in calendar.dues[11:14]]
    assert all(day.weekday() not in (2, 6) for day in week)
    assert min((b - a).days for a, b in pairwise(week)) >= 1
    assert days(calendar)[14:] == ["11.01", "08.02"]
    assert datetime.date(2026, 12, 23) in calendar.rest


THREE = {"times_a_week": 3, "weeks": 2}


@pytest.mark.parametrize(
    ("rule", "expected", "left"),
    [
        # Given on Monday; Wednesday missed; it is Thursday.
        ("shift", ["given", "due"], ["03.12", "05.12", "08.12", "10.12", "12.12"]),
        # Without a window it may still be given until the day before the next one.
        ("drop", ["given", "late"], ["03.12", "04.12", "07.12", "09.12", "11.12"]),
        ("ask", ["given", "late"], ["03.12", "04.12", "07.12", "09.12", "11.12"]),
    ],
)
def test_a_missed_session_moves_by_the_rule_of_the_plan(
    rule: str, expected: list[str], left: list[str]
) -> None:
    plan = plan_of(THREE, calendar={"missed": rule})
    calendar = due_dates(plan, None, [session(1, MONDAY)], MONDAY + 3 * DAY, BERLIN)
    assert states(calendar)[:2] == expected
    assert days(calendar) == left


@pytest.mark.parametrize(("rule", "lost"), [("drop", "missed"), ("ask", "ask")])
def test_a_session_whose_window_is_over_is_not_made_up(rule: str, lost: str) -> None:
    plan = plan_of(THREE, calendar={"missed": rule, "window_days": 0})
    calendar = due_dates(plan, None, [session(1, MONDAY)], MONDAY + 3 * DAY, BERLIN)
    assert states(calendar) == ["given", lost, *["to_come"] * 4]
    assert days(calendar) == ["04.12", "07.12", "09.12", "11.12"]


def test_a_long_break_under_shift_asks_for_one_session_not_for_all() -> None:
    plan = plan_of(THREE, calendar={"missed": "shift"})
    calendar = due_dates(plan, None, [session(1, MONDAY)], MONDAY + 30 * DAY, BERLIN)
    assert days(calendar) == ["30.12", "01.01", "04.01", "06.01", "08.01"]


def test_an_early_session_leaves_the_rest_where_it_stands() -> None:
    plan = plan_of(THREE, calendar={"missed": "shift"})
    held = [session(1, MONDAY), session(2, MONDAY + DAY)]
    calendar = due_dates(plan, None, held, MONDAY + DAY, BERLIN)
    assert days(calendar) == ["04.12", "07.12", "09.12", "11.12"]


def test_the_hours_between_count_from_the_last_light_of_any_plan() -> None:
    plan = plan_of(THREE, calendar={"missed": "shift"}, least_hours_between=Decimal(48))
    other = session(2, MONDAY + DAY, hour=21, plan_id="other-plan")
    calendar = due_dates(plan, None, [session(1, MONDAY), other], MONDAY + 2 * DAY, BERLIN)
    assert calendar.others == 1
    assert states(calendar)[:2] == ["given", "to_come"]
    assert calendar.next is not None
    assert calendar.next.day == MONDAY + 3 * DAY
    assert calendar.not_before == datetime.datetime(2026, 12, 3, 21, 15, tzinfo=BERLIN)
    assert calendar.due_today is None


def test_sessions_from_before_the_course_and_too_many_are_told_apart() -> None:
    plan = plan_of({**THREE, "weeks": 1, "starts_on": MONDAY})
    held = [session(n, MONDAY + (n - 2) * DAY) for n in range(1, 6)]
    calendar = due_dates(plan, None, held, MONDAY + 5 * DAY, BERLIN)
    assert [each.number for each in calendar.before] == [1]
    # Monday, Tuesday (for Wednesday), Thursday (for Friday); Wednesday was not asked for.
    assert [each.number for each in calendar.extra] == [4]
    assert states(calendar) == ["given"] * 3
    assert calendar.next is None


def test_a_revision_in_mid_course_keeps_old_sessions_with_theirs() -> None:
    plan = plan_of(THREE)
    held = [session(1, MONDAY, plan_revision=2), session(2, MONDAY + 2 * DAY)]
    calendar = due_dates(plan, None, held, MONDAY + 3 * DAY, BERLIN)
    assert calendar.plan_revision == 3
    assert [due.given.plan_revision for due in calendar.dues if due.given] == [2, 3]


def test_the_day_of_a_session_is_the_day_where_it_was_given() -> None:
    # 20:00 in New York on Monday is Tuesday in Berlin.
    away = session(1, MONDAY, hour=20, zone=NEW_YORK)
    calendar = due_dates(plan_of(THREE), None, [away], MONDAY + 2 * DAY, BERLIN)
    assert calendar.start == MONDAY
    assert calendar.elsewhere == (away,)


def test_a_session_whose_clock_nobody_can_trust_still_counts() -> None:
    held = [session(1, MONDAY), session(2, datetime.date(1970, 1, 1), trusted=False)]
    for rule in ("shift", "drop", "ask"):
        plan = plan_of(THREE, calendar={"missed": rule})
        calendar = due_dates(plan, None, held, MONDAY + 3 * DAY, BERLIN)
        assert states(calendar)[:3] == ["given", "given", "to_come"]


def test_before_the_first_session_the_course_is_shown_from_today() -> None:
    calendar = due_dates(plan_of(THREE), None, [], MONDAY, BERLIN)
    assert calendar.assumed
    assert days(calendar) == ["30.11", "02.12", "04.12", "07.12", "09.12", "11.12"]


def test_a_late_course_uses_up_the_pause_before_a_dated_phase() -> None:
    plan = plan_of(
        {"times_a_week": 1, "weeks": 1, "starts_on": MONDAY},
        {"times_a_week": 1, "weeks": 2, "starts_on": MONDAY + 14 * DAY},
        calendar={"missed": "shift"},
    )
    calendar = due_dates(plan, None, [], MONDAY + 3 * DAY, BERLIN)
    assert days(calendar) == ["03.12", "14.12", "21.12"]


@pytest.mark.parametrize(("zone", "day", "told", "meant", "offset"), CHANGES)
def test_hours_that_summer_time_leaves_out_or_doubles(
    zone: ZoneInfo, day: datetime.date, told: str, meant: str, offset: int
) -> None:
    plan = plan_of({"every_days": 1, "weeks": 1}, calendar={"at": [told]})
    calendar = due_dates(plan, day - DAY, [], day - DAY, zone)
    at = calendar.dues[1].at
    assert at is not None
    assert (f"{at:%H:%M}", at.date()) == (meant, day)
    assert at.utcoffset() == datetime.timedelta(hours=offset)


@pytest.mark.parametrize(
    ("zone", "day"), [(BERLIN, datetime.date(2027, 3, 28)), (NEW_YORK, datetime.date(2027, 3, 14))]
)
def test_a_day_of_23_hours_does_not_shorten_a_gap_of_24(zone: ZoneInfo, day: datetime.date) -> None:
    plan = plan_of(
        {"every_days": 1, "weeks": 1}, calendar={"at": ["19:00"]}, least_hours_between=Decimal(24)
    )
    calendar = due_dates(plan, day - DAY, [], day - DAY, zone)
    assert [f"{due.at:%d %H:%M}" for due in calendar.dues[:2] if due.at] == [
        f"{day - DAY:%d} 19:00",
        f"{day:%d} 20:00",
    ]


def planned(plan: Plan) -> int:
    """The sum of D19: times a week by weeks; every other way counted day by day."""
    return sum(
        phase.times_a_week * (phase.weeks or 0)
        if phase.times_a_week
        else len(range(0, 7 * (phase.weeks or 0), phase.every_days or 1))
        for phase in plan.course
    )


def keeps_gaps(plan: Plan, calendar: Calendar, held: list[Given]) -> Iterator[str]:
    """What is wrong with the days to come."""
    hours = plan.limits.least_hours_between
    apart = plan.calendar.least_days_between or 0
    rest = {
        due.number: phase.rest
        for due in calendar.dues
        for phase in plan.course
        if len(plan.course) == 1
    }
    to_come = [due for due in calendar.dues if due.state in OPEN]
    last_day = max((s.day for s in held if s.day is not None), default=None)
    for before, due in pairwise(to_come):
        if (due.day - before.day).days < apart:
            yield f"{due}: too near in days"
        if due.planned_on != before.planned_on and due.day == before.day:
            yield f"{due}: doubled"
        if hours and before.at and due.at:
            passed = due.at.astimezone(datetime.UTC) - before.at.astimezone(datetime.UTC)
            if passed < datetime.timedelta(hours=float(hours)):
                yield f"{due}: too near in hours"
    for due in to_come:
        if due.day < calendar.today:
            yield f"{due}: in the past"
        if due.day.weekday() in rest.get(due.number, ()):
            yield f"{due}: on a rest day"
        if last_day is not None and (due.day - last_day).days < apart:
            yield f"{due}: too near to what was given"
        if calendar.not_before is not None and due.at is not None and due.at < calendar.not_before:
            yield f"{due}: too soon after what was given"
    most = plan.limits.most_a_week
    taken = [s.day for s in held if s.day] + [due.day for due in to_come]
    for due in to_come if most else ():
        if sum(0 <= (due.day - day).days < 7 for day in taken) > (most or 0):
            yield f"{due}: too many in seven days"
    per_day = Counter(due.day for due in to_come)
    if max(per_day.values(), default=0) > max(
        Counter(d.planned_on for d in calendar.dues).values()
    ):
        yield "more on a day than the plan gives to one"


@settings(max_examples=60, deadline=None)
@given(world=worlds(), moods=st.lists(st.integers(0, 3), min_size=12, max_size=12))
def test_a_course_day_by_day_keeps_count_and_gaps(
    world: tuple[Plan, datetime.date, ZoneInfo], moods: list[int]
) -> None:
    """An owner who gives when it is due (mood 0, 1), forgets (2), or gives unasked (3)."""
    plan, start, zone = world
    held: list[Given] = []
    for ahead, mood in enumerate(moods):
        today = start + ahead * DAY
        calendar = due_dates(plan, start, held, today, zone)
        assert len(calendar.dues) == planned(plan)
        assert list(keeps_gaps(plan, calendar, held)) == []
        assert calendar.count("given") + len(calendar.extra) == len(held)
        if plan.calendar.missed == "shift":
            assert calendar.count("missed", "ask", "late") == 0
            assert calendar.count("given") == min(len(held), planned(plan))
        if mood == 3 or (mood < 2 and calendar.due_today):
            held.append(session(len(held) + 1, today, zone=zone, hour=20))


@settings(max_examples=25, deadline=None)
@given(world=worlds())
def test_an_owner_who_keeps_to_the_calendar_gives_the_whole_course(
    world: tuple[Plan, datetime.date, ZoneInfo],
) -> None:
    plan, start, zone = world
    held: list[Given] = []
    today = start
    while True:
        calendar = due_dates(plan, start, held, today, zone)
        if calendar.next is None:
            break
        if calendar.due_today:
            at = calendar.due_today.at
            soonest = calendar.not_before
            began = at or datetime.datetime.combine(today, datetime.time(12), zone)
            if soonest is not None:
                began = max(began, soonest)
            held.append(session(len(held) + 1, today, began=began, ended=began))
        else:
            today = calendar.next.day
    assert calendar.count("given") == planned(plan) or plan.calendar.missed != "shift"
    assert calendar.count("given", "missed", "ask") == planned(plan)
    between = plan.limits.least_hours_between
    for before, after in pairwise(held):
        assert before.began is not None
        assert after.began is not None
        passed = after.began.astimezone(datetime.UTC) - before.began.astimezone(datetime.UTC)
        assert passed >= datetime.timedelta(hours=float(between or 0))
