"""From a course to the days on which its sessions are due, in local time. Pure.

The sessions of a course are numbered. Each has the day that the plan gives it and the day on
which it is due now, after what was given and what was missed:

* ``shift``: the k-th session given is the k-th of the course; one that was missed is due today,
  and the rest moves on by as many days as it is late.
* ``drop`` and ``ask``: the days stand. A session counts for the first one that is open and in
  whose window it was given; what nobody gave in its window is ``missed`` (drop) or ``ask``.

Days that are still to come keep the gaps of the plan and its limits, whatever happened before; no
day ever gets more sessions than the plan gives to one day. Sessions of other plans keep their
distance too, but count for nothing else.

Whose day a session has is decided by the place where it was given: the offset in its log. Where
the hours were told in advance, a local time that a change to summer time leaves out is read with
the offset before it, and one that comes twice means the first (RFC 5545, section 3.3.5).
"""

import datetime
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from coach.plan.course import DAYS_A_WEEK, CoursePhase, Missed
from coach.plan.due_days import DAY, Days, Slot, State, slots_of
from coach.plan.due_days import Due as Due
from coach.plan.due_days import Given as Given
from coach.plan.model import Plan

OPEN: frozenset[State] = frozenset({"due", "late", "to_come"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """A course on the calendar.

    Attributes:
        dog, plan_id, plan_revision: whose, and by which plan.
        start: first day of the course.
        assumed: nothing was given and the plan sets no date: the course is shown from today.
        today: the day for which this holds.
        rule: what becomes of a missed session.
        dues: every session of the course.
        extra: sessions under this plan that no day of the course asked for.
        part: sessions under this plan that had too small a part to count for a day of it.
        before: sessions under this plan from before the course began.
        others: number of sessions under other plans.
        elsewhere: sessions whose log has the time of another zone: their day is the day there.
        rest: days without a session, from ``start`` to the last day due.
        valid_until: last day of the plan.
        not_before: when the next session may begin by ``least_hours_between``, or None.
    """

    dog: str
    plan_id: str
    plan_revision: int
    start: datetime.date
    assumed: bool
    today: datetime.date
    rule: Missed
    dues: tuple[Due, ...]
    extra: tuple[Given, ...]
    before: tuple[Given, ...]
    part: tuple[Given, ...] = ()
    others: int
    elsewhere: tuple[Given, ...]
    rest: frozenset[datetime.date]
    valid_until: datetime.date
    not_before: datetime.datetime | None

    @property
    def next(self) -> Due | None:
        """The session that comes next; None when the course is at its end."""
        return next((due for due in self.dues if due.state in OPEN), None)

    @property
    def due_today(self) -> Due | None:
        """What may be given today."""
        due = self.next
        return due if due is not None and due.day <= self.today else None

    def count(self, *states: State) -> int:
        """Sessions of the course in one of these states."""
        return sum(due.state in states for due in self.dues)


def due_dates(
    plan: Plan,
    start: datetime.date | None,
    given: Iterable[Given],
    today: datetime.date,
    zone: datetime.tzinfo,
) -> Calendar:
    """The course of ``plan`` on the calendar, as it stands at ``today`` in ``zone``.

    ``start`` is the first day, where it is known otherwise; by default the plan's date, else the
    day of the first session under this plan, else today. ``given`` are all sessions of the dog.
    """
    every = sorted(given, key=lambda session: session.number)
    own = [session for session in every if session.plan_id == plan.about.id]
    dated = start or (plan.course[0].first_day if plan.course else None)
    first = dated or next((s.day for s in own if s.day is not None), None)
    begin = first or today
    before = tuple(s for s in own if s.day is not None and s.day < begin)
    here = [s for s in own if s.day is None or s.day >= begin]
    least = Fraction(plan.calendar.counts_from_percent, 100)
    counted = [s for s in here if s.share is None or s.share >= least]
    slots = slots_of(plan, begin)
    days = Days(plan, every, zone)
    if plan.calendar.missed == "shift":
        dues, extra = _shifted(plan, slots, counted, today, days)
    else:
        dues, extra = _standing(plan, slots, counted, today, days)
    return Calendar(
        dog=plan.dog.name,
        plan_id=plan.about.id,
        plan_revision=plan.about.revision,
        start=begin,
        assumed=first is None,
        today=today,
        rule=plan.calendar.missed,
        dues=tuple(dues),
        extra=tuple(extra),
        before=before,
        part=tuple(s for s in here if s.share is not None and s.share < least),
        others=len(every) - len(own),
        elsewhere=tuple(s for s in own if s.began is not None and _elsewhere(s.began, zone)),
        rest=frozenset(_rest_days(plan.course, slots, dues)),
        valid_until=plan.about.valid_until,
        not_before=days.not_before(),
    )


def _rest_days(
    course: Sequence[CoursePhase], slots: Sequence[Slot], dues: Sequence[Due]
) -> Iterable[datetime.date]:
    for number, phase in enumerate(course):
        if not phase.rest:
            continue
        days = [due.day for slot, due in zip(slots, dues, strict=True) if slot.phase == number]
        first = min(days)
        for ahead in range((max(days) - first).days + 1):
            day = first + ahead * DAY
            if day.weekday() in phase.rest:
                yield day


def _shifted(
    plan: Plan, slots: Sequence[Slot], given: Sequence[Given], today: datetime.date, days: Days
) -> tuple[list[Due], Sequence[Given]]:
    laid: list[Due] = []
    late = datetime.timedelta()
    for place, slot in enumerate(slots):
        session = given[place] if place < len(given) else None
        late = _room(plan.course, slots, place, late)
        wanted = slot.day if slot.fixed else slot.day + late
        if session is None and wanted < today:
            if not slot.fixed:
                late += today - wanted
            wanted = today
        day, at = days.place(slot, wanted, laid, behind_given=session is None)
        if session is not None and session.day is not None and not slot.fixed:
            late += max(session.day - day, 0 * DAY)
        laid.append(_due(plan, slot, place, day, at, session, today))
    return laid, given[len(slots) :]


def _room(
    course: Sequence[CoursePhase], slots: Sequence[Slot], place: int, late: datetime.timedelta
) -> datetime.timedelta:
    """What is left of ``late`` where a phase with a date of its own begins after a pause."""
    slot = slots[place]
    if place == 0 or slots[place - 1].phase == slot.phase:
        return late
    phase, before = course[slot.phase], slots[place - 1]
    if phase.starts_on is None:
        return late
    pause = phase.starts_on - before.day - DAY
    return max(late - pause, 0 * DAY)


def _standing(
    plan: Plan, slots: Sequence[Slot], given: Sequence[Given], today: datetime.date, days: Days
) -> tuple[list[Due], Sequence[Given]]:
    windows = _windows(plan, slots)
    found: dict[int, Given] = {}
    extra: list[Given] = []
    place = 0
    for session in given:
        day = session.day
        while day is not None and place < len(slots) and windows[place][1] < day:
            place += 1
        if place < len(slots) and (day is None or windows[place][0] <= day):
            found[place] = session
            place += 1
        else:
            extra.append(session)
    lost_state: State = "missed" if plan.calendar.missed == "drop" else "ask"
    laid: list[Due] = []
    behind: list[Due] = []
    for number, slot in enumerate(slots):
        match = found.get(number)
        lost = match is None and (number < place or windows[number][1] < today)
        if match is not None or lost:
            at = days.at(slot.day, slot.nth)
            due = _due(plan, slot, number, slot.day, at, match, today)
            laid.append(due if match is not None else replace(due, state=lost_state))
            behind += [due] if match is not None else []
            continue
        day, at = days.place(slot, max(slot.day, today), behind, behind_given=True)
        due = _due(plan, slot, number, day, at, None, today)
        laid.append(replace(due, state="late") if slot.day < today == day else due)
        behind.append(due)
    return laid, extra


def _windows(plan: Plan, slots: Sequence[Slot]) -> list[tuple[datetime.date, datetime.date]]:
    """First and last day on which a session counts for each slot."""
    hours, days = plan.calendar.window_hours, plan.calendar.window_days
    return windows_of([slot.day for slot in slots], window_days=days, window_hours=hours)


def windows_of(
    ordered: Sequence[datetime.date], *, window_days: int | None, window_hours: Decimal | None
) -> list[tuple[datetime.date, datetime.date]]:
    """First and last day on which a session counts for each of the days ``ordered``.

    Without a window: from the day after the session before to the day before the next one, and a
    week for the last.
    """
    days = window_days if window_hours is None else -int(-window_hours // 24)
    if days is not None:
        return [(day - days * DAY, day + days * DAY) for day in ordered]
    found = []
    for day in ordered:
        before, behind = bisect_left(ordered, day), bisect_right(ordered, day)
        first = ordered[before - 1] + DAY if before else datetime.date.min
        last = ordered[behind] - DAY if behind < len(ordered) else day + (DAYS_A_WEEK - 1) * DAY
        found.append((first, last))
    return found


def _due(
    plan: Plan,
    slot: Slot,
    place: int,
    day: datetime.date,
    at: datetime.datetime | None,
    given: Given | None,
    today: datetime.date,
) -> Due:
    state: State = "given" if given is not None else "due" if day <= today else "to_come"
    return Due(
        number=place + 1,
        phase=plan.course[slot.phase].name,
        planned_on=slot.day,
        day=day,
        at=at,
        state=state,
        given=given,
    )


def _elsewhere(moment: datetime.datetime, zone: datetime.tzinfo) -> bool:
    return moment.utcoffset() != moment.astimezone(zone).utcoffset()
