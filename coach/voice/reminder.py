"""When the reminder may speak, and whether it should. Pure.

A reminder that is missed harms nobody; one in the night, or twice, annoys. So every doubt means
silence, and the reason is given.
"""

import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coach.plan.calendar import Calendar
from coach.plan.parse import UNREADABLE
from coach.plan.problems import Report, show

CLOCK_TIME = re.compile(r"([01]\d|2[0-3]):([0-5]\d)")
KEYS = ("from", "until")
ALLOWED_HOURS = "two times of day, the earlier first, such as 18:00-20:30"


@dataclass(frozen=True, slots=True)
class Hours:
    """Between which times of day it may speak, ``until`` not included."""

    since: datetime.time
    until: datetime.time

    def hold(self, moment: datetime.time) -> bool:
        """Whether it may speak at ``moment``."""
        return self.since <= moment < self.until


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is known of one dog now.

    Attributes:
        now: the time on the wall, with its offset.
        trusted: whether the wall clock may be relied upon.
        prescribed_on, valid_until: the days for which the plan holds.
        calendar: its course with all that was given; None where the plan tells no course.
        unsure: a log does not tell, or not by a clock to rely upon, when its session was given.
        running: a session is being held.
        reminded_on: the last day on which a reminder was spoken, or None.
    """

    now: datetime.datetime
    trusted: bool
    prescribed_on: datetime.date
    valid_until: datetime.date
    calendar: Calendar | None
    unsure: bool
    running: bool
    reminded_on: datetime.date | None


def hours_from(text: str) -> Hours:
    """``18:00-20:30`` as hours. Raises ValueError with what is allowed."""
    since, _, until = text.partition("-")
    hours = _hours(since.strip(), until.strip())
    if hours is None:
        raise ValueError(f"found {text!r}; allowed: {ALLOWED_HOURS}")
    return hours


def hours_of(table: Any, report: Report) -> Hours | None:
    """The ``[reminder]`` table of the settings; what is wrong goes to ``report``: then silence."""
    if table is UNREADABLE or table == {}:
        return None
    if not isinstance(table, dict):
        report.add(("reminder",), show(table), "a table [reminder]")
        return None
    for key in table:
        if key not in KEYS:
            report.add(("reminder", key), "an unknown key", ", ".join(KEYS))
    since, until = (table.get(key) for key in KEYS)
    hours = _hours(since, until)
    if hours is None:
        found = f"{show(since)} until {show(until)}"
        report.add(("reminder",), found, 'from = "18:00" and until = "20:30", the earlier first')
    return hours


def as_table(hours: Hours | None) -> Mapping[str, str | None]:
    """What to keep in the settings; None takes a key out."""
    if hours is None:
        return dict.fromkeys(KEYS)
    return {"from": f"{hours.since:%H:%M}", "until": f"{hours.until:%H:%M}"}


def silent_because(facts: Facts, hours: Hours | None) -> str | None:
    """Why nothing is said now; None when the reminder is to be spoken."""
    today = facts.now.date()
    if hours is None:
        return "no hours are set for it (coach remind --between 18:00-20:30)"
    if not facts.trusted:
        return "the clock of this computer cannot be trusted"
    if not hours.hold(facts.now.time()):
        return f"it may speak from {hours.since:%H:%M} until {hours.until:%H:%M} only"
    if facts.running:
        return "a session is being held"
    if facts.reminded_on is not None and facts.reminded_on >= today:
        return "it was said today already"
    if not facts.prescribed_on <= today <= facts.valid_until:
        return "the plan does not hold today"
    if facts.calendar is None:
        return "the plan tells no course"
    if facts.unsure:
        return "a log does not tell when its session was given"
    if facts.calendar.next is None:
        return "the course is at its end"
    if facts.calendar.due_today is None:
        return "the next session is not due yet"
    return None


def _hours(since: Any, until: Any) -> Hours | None:
    if not isinstance(since, str) or not isinstance(until, str):
        return None
    if not CLOCK_TIME.fullmatch(since) or not CLOCK_TIME.fullmatch(until) or since >= until:
        return None
    return Hours(datetime.time.fromisoformat(since), datetime.time.fromisoformat(until))
