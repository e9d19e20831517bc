"""Sessions of a course: the day that the plan gives, the first that keeps every gap. Pure."""

import datetime
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from coach.plan.course import DAYS_A_WEEK, CoursePhase
from coach.plan.course_findings import days_apart
from coach.plan.model import Plan
from coach.plan.week_pattern import week_pattern

DAY = datetime.timedelta(days=1)
State = Literal["given", "due", "late", "to_come", "missed", "ask"]
# The limits look back a week; so many sessions are more than a week can hold.
LOOK_BACK = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A session in which something was given.

    Attributes:
        number: of its journal; sessions are ordered by it, never by a clock.
        plan_id, plan_revision: the plan it was given under.
        began, ended: wall clock with offset, first and last light; None if the log does not tell.
        trusted: the wall clock may be relied upon.
        share: given seconds as a part of those of the plan's whole session, at most 1; None where
            a damaged log does not tell: it counts.
        complete: every spot of the plan's session had its seconds.
    """

    number: int
    plan_id: str
    plan_revision: int
    began: datetime.datetime | None
    ended: datetime.datetime | None
    trusted: bool
    share: Fraction | None = Fraction(1)
    complete: bool = True

    @property
    def day(self) -> datetime.date | None:
        """The local day on which it was given, or None if nobody can tell."""
        return self.began.date() if self.trusted and self.began is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One session of the course.

    Attributes:
        number: from 1.
        phase: name of its phase.
        planned_on: the day that the plan gives it.
        day: the day on which it is due, or was when it was given.
        at: the moment on that day, where the plan says the time; else None.
        state: ``given``; ``due`` today; ``late``: its day is over, its window is not; ``to_come``;
            ``missed``; ``ask``: missed, and the prescriber is to be asked.
        given: the session, if there was one.
    """

    number: int
    phase: str
    planned_on: datetime.date
    day: datetime.date
    at: datetime.datetime | None
    state: State
    given: Given | None = None


@dataclass(frozen=True, slots=True)
class Slot:
    """A session as planned: phase by its place, ``nth`` session of ``day`` from 0.

    ``fixed``: the plan gives the date itself, which a late course does not move.
    """

    phase: int
    day: datetime.date
    nth: int = 0
    fixed: bool = False


def slots_of(plan: Plan, begin: datetime.date) -> list[Slot]:
    """The days that the plan gives to its sessions."""
    slots: list[Slot] = []
    for number, phase in enumerate(plan.course):
        begin = phase.first_day or begin
        if phase.dates is not None:
            slots += [Slot(number, day, fixed=True) for day in phase.dates]
        elif phase.every_days is not None:
            slots += [Slot(number, day) for day in _every(phase, begin, phase.every_days)]
        else:
            slots += _weekly(number, phase, begin, days_apart(plan))
        begin += phase.days * DAY
    return slots


def _every(phase: CoursePhase, begin: datetime.date, days: int) -> Iterable[datetime.date]:
    last: datetime.date | None = None
    for ahead in range(0, phase.days, days):
        day = begin + ahead * DAY
        while day.weekday() in phase.rest or (last is not None and day <= last):
            day += DAY
        last = day
        yield day


def _weekly(number: int, phase: CoursePhase, begin: datetime.date, apart: int) -> Iterable[Slot]:
    rest = frozenset(
        ahead for ahead in range(DAYS_A_WEEK) if (begin + ahead * DAY).weekday() in phase.rest
    )
    pattern = week_pattern(phase.times_a_week or 1, rest=rest, apart=apart)
    for week in range(phase.weeks or 0):
        for place, ahead in enumerate(pattern):
            nth = place > 0 and pattern[place - 1] == ahead
            yield Slot(number, begin + (DAYS_A_WEEK * week + ahead) * DAY, int(nth))


class Days:
    """Finds the first day that keeps every gap, behind the sessions before it."""

    def __init__(self, plan: Plan, every: Sequence[Given], zone: datetime.tzinfo) -> None:
        hours = plan.limits.least_hours_between
        self._between = None if hours is None else datetime.timedelta(hours=float(hours))
        self._apart = days_apart(plan)
        self._own_apart = plan.calendar.least_days_between or 0
        self._keep_distance = plan.calendar.keep_distance
        self._a_day = plan.limits.most_a_day
        self._a_week = plan.limits.most_a_week
        self._times = plan.calendar.times
        self._course = plan.course
        self._zone = zone
        self._given = sorted(s.day for s in every if s.day is not None)
        last = next((s for s in reversed(every) if s.day is not None), None)
        self._ended = None if last is None else last.ended

    def not_before(self) -> datetime.datetime | None:
        """When the hours after the last session of all are over."""
        if self._ended is None or self._between is None:
            return None
        return self._after(self._ended)

    def _after(self, moment: datetime.datetime) -> datetime.datetime:
        # In UTC: hours that pass, not hours that the clock on the wall shows.
        return ((moment.astimezone(datetime.UTC)) + (self._between or 0 * DAY)).astimezone(
            self._zone
        )

    def local(self, day: datetime.date, time: datetime.time) -> datetime.datetime:
        """A local time of day as a moment that there is."""
        naive = datetime.datetime.combine(day, time, self._zone)
        return naive.astimezone(datetime.UTC).astimezone(self._zone)

    def _own(self, slot: Slot) -> int:
        """Least days from a session that was given to ``slot``."""
        every = self._course[slot.phase].every_days
        if self._own_apart or slot.fixed or every is None or not self._keep_distance:
            return self._own_apart
        return every

    def place(
        self, slot: Slot, day: datetime.date, laid: Sequence[Due], *, behind_given: bool
    ) -> tuple[datetime.date, datetime.datetime | None]:
        """The first day from ``day`` on, and its moment, for ``slot`` behind ``laid``.

        ``behind_given``: it is still to come, so it stays behind everything that was given.
        """
        before = laid[-1] if laid else None
        rest = frozenset[int]() if slot.fixed else self._course[slot.phase].rest
        earliest: datetime.datetime | None = None
        least = day
        if before is not None:
            last = before.given.day if before.given is not None else None
            same = slot.nth > 0 and before.planned_on == slot.day and last in (None, before.day)
            apart = self._own(slot) if before.given is not None else self._apart
            least = max(least, (last or before.day) + (max(apart, 0 if same else 1)) * DAY)
            if before.given is None and before.at is not None and self._between is not None:
                earliest = self._after(before.at)
        if behind_given and self._given:
            newest = self._given[-1]
            pair = before is not None and before.given is not None and before.given.day == newest
            apart = max(self._own(slot), 0 if slot.nth > 0 and pair else 1)
            least = max(least, newest + apart * DAY)
            limit = self.not_before()
            if limit is not None and (earliest is None or limit > earliest):
                earliest = limit
        day = least
        limited = behind_given and (self._a_day is not None or self._a_week is not None)
        taken = self._taken(laid) if limited else []
        while True:
            if day.weekday() in rest or (limited and self._full(day, taken)):
                day += DAY
                continue
            at = self.at(day, slot.nth)
            if earliest is None or (at or self.local(day, datetime.time.max)) >= earliest:
                return day, at
            # Later on the same day, if that day has still an hour for it.
            if earliest.date() == day:
                return day, at and earliest
            day += DAY

    def at(self, day: datetime.date, nth: int) -> datetime.datetime | None:
        """The moment on ``day`` at which the plan has its ``nth`` session; None if it is open."""
        if not self._times:
            return None
        return self.local(day, self._times[min(nth, len(self._times) - 1)])

    def _taken(self, laid: Sequence[Due]) -> list[datetime.date]:
        """The latest days that have a session, given or to come, in order."""
        to_come = (due.day for due in laid[-LOOK_BACK:] if due.given is None)
        return sorted([*self._given[-LOOK_BACK:], *to_come])

    def _full(self, day: datetime.date, taken: Sequence[datetime.date]) -> bool:
        """Whether ``day`` or the seven days up to it have all that the limits allow."""
        up_to = bisect_right(taken, day)
        today = up_to - bisect_left(taken, day)
        week = up_to - bisect_left(taken, day - 6 * DAY)
        return (self._a_day is not None and today >= self._a_day) or (
            self._a_week is not None and week >= self._a_week
        )
