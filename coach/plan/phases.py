"""A phase of the course with its own dose: the plan as it is in that phase. Pure.

``[[course.regions]]`` says what a phase orders otherwise. A phase begins after the sessions of the
phases before it or on its day (:func:`phases_by`).
"""

import datetime
from collections.abc import Iterable
from typing import Literal

from coach.plan.calendar import Calendar
from coach.plan.course import PhaseRegion
from coach.plan.model import Plan, RegionOrder

DOSE_FIELDS = (
    "seconds_each_spot",
    "joules_each_spot",
    "joules_per_cm2_each_spot",
    "seconds_each_area",
    "joules_each_area",
    "joules_per_cm2_over_area",
)


def dose_stated(table: RegionOrder | PhaseRegion) -> list[str]:
    """The fields of a table that state a dose."""
    return [name for name in DOSE_FIELDS if getattr(table, name) is not None]


def order_in_phase(order: RegionOrder, changes: Iterable[PhaseRegion]) -> RegionOrder | None:
    """What is ordered for a region with the ``changes`` of a phase; None where it is left out."""
    for change in changes:
        if change.region != order.region:
            continue
        if change.leave_out:
            return None
        update: dict[str, object] = {}
        if dose_stated(change):
            update |= {name: getattr(change, name) for name in DOSE_FIELDS}
        if change.spots is not None:
            update |= {"spots": change.spots, "most_spots": None}
        return order.model_copy(update=update)
    return order


def plan_in_phase(plan: Plan, number: int) -> Plan:
    """``plan`` with what it orders in a phase of its course, counted from 0."""
    changes = plan.course[number].regions
    orders = [order_in_phase(order, changes) for order in plan.regions]
    regions = tuple(order for order in orders if order is not None)
    return plan.model_copy(update={"regions": regions, "phase": number})


def phase_plans(plan: Plan) -> list[Plan]:
    """The plan as it is in each phase; the plan itself where it has no course."""
    return [plan_in_phase(plan, number) for number in range(len(plan.course))] or [plan]


def has_phases(plan: Plan) -> bool:
    """Whether some phase orders something otherwise."""
    return any(phase.regions for phase in plan.course)


def phases_by(plan: Plan) -> Literal["sessions", "dates"]:
    """What ends a phase: its sessions are given, or its days are over.

    As the plan says; otherwise its sessions where missed ones move the rest on, else its days.
    """
    stated = plan.calendar.phases_by
    if stated is not None:
        return stated
    return "sessions" if plan.calendar.missed == "shift" else "dates"


def phase_of_today(plan: Plan, calendar: Calendar, *, clock_trusted: bool) -> int | None:
    """The phase of a session that begins now, counted from 0; None without a course.

    After the last phase it stays the last. Without a clock that can be trusted, sessions count.
    """
    if not plan.course:
        return None
    if phases_by(plan) == "sessions" or not clock_trusted:
        given = calendar.count("given") + len(calendar.extra)
        for number, phase in enumerate(plan.course):
            given -= phase.sessions
            if given < 0:
                return number
        return len(plan.course) - 1
    found = 0
    for number, begin in enumerate(_begins(plan, calendar.start)):
        if begin <= calendar.today:
            found = number
    return found


def begins_phase(plan: Plan, calendar: Calendar, number: int, *, clock_trusted: bool) -> bool:
    """Whether no session was given in phase ``number`` so far."""
    if phases_by(plan) == "sessions" or not clock_trusted:
        before = sum(phase.sessions for phase in plan.course[:number])
        return calendar.count("given") + len(calendar.extra) == before
    begin = _begins(plan, calendar.start)[number]
    given = [due.given for due in calendar.dues if due.given is not None]
    days = [session.day for session in (*given, *calendar.extra)]
    return not any(day is not None and day >= begin for day in days)


def _begins(plan: Plan, start: datetime.date) -> list[datetime.date]:
    found = []
    begin = start
    for phase in plan.course:
        begin = phase.first_day or begin
        found.append(begin)
        begin += datetime.timedelta(days=phase.days)
    return found
