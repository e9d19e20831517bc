"""How the sessions of a course went against its days: counts, and what each of them means. Pure.

Nothing here praises, blames or counts runs of days: a missed session has its reasons.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from coach.language import N_
from coach.plan.calendar import Calendar
from coach.plan.due_days import DAY


@dataclass(frozen=True, slots=True, kw_only=True)
class Adherence:
    """The figures of a calendar as it stands today. :data:`MEANING` says what each of them is.

    Attributes:
        planned: sessions of the course whose planned day is over, and today's if it was given.
        given: sessions given that count for the course.
        whole_course: sessions of the whole course.
        on_the_day: of those given, on the day that they were due.
        in_window: of those given, in the window of the plan; None where the plan states none.
        day_unknown: of those given, those whose day no clock could tell.
        longest_gap_days: most days from one session to the next, or from the last until today
            while the course goes on; None before the first.
    """

    planned: int
    given: int
    whole_course: int
    on_the_day: int
    in_window: int | None
    day_unknown: int
    longest_gap_days: int | None


MEANING: Mapping[str, str] = {
    "given": N_(
        "Given: sessions in which the laser ran and that count for this course. A session that "
        "was stopped early counts too."
    ),
    "planned": N_(
        "Planned so far: sessions whose day in the plan is over, and today's once it is given. "
        "The first session starts the course, unless the plan sets its date."
    ),
    "on_the_day": N_(
        "On the day: sessions given on the day they were due. A day is the day where you were."
    ),
    "in_window": N_(
        "In time: sessions given in the window that the plan allows around the day or the hour."
    ),
    "longest_gap": N_(
        "Longest gap: the most days from one session to the next, or from the last one until "
        "today while the course goes on."
    ),
    "day_unknown": N_(
        "Day not known: sessions that count, but whose day the clock of the computer could not "
        "tell."
    ),
}


def adherence(
    calendar: Calendar,
    *,
    window_days: int | None = None,
    window: datetime.timedelta | None = None,
) -> Adherence:
    """The figures of ``calendar``; the windows are those of the plan's ``[calendar]``.

    ``window`` is a span around the hour of a session, ``window_days`` one around its day.
    """
    given = [(due, due.given) for due in calendar.dues if due.given is not None]
    dated = [(due, session, session.day) for due, session in given if session.day is not None]
    in_window = None
    if window is not None:
        in_window = sum(
            due.at is not None
            and session.began is not None
            and abs(session.began - due.at) <= window
            for due, session, _ in dated
        )
    elif window_days is not None:
        in_window = sum(abs(day - due.day) <= window_days * DAY for due, _, day in dated)
    days = sorted(day for _, _, day in dated)
    if days and calendar.next is not None:
        days.append(max(calendar.today, days[-1]))
    return Adherence(
        planned=sum(
            due.planned_on < calendar.today
            or (due.planned_on == calendar.today and due.given is not None)
            for due in calendar.dues
        ),
        given=len(given),
        whole_course=len(calendar.dues),
        on_the_day=sum(due.day == day for due, _, day in dated),
        in_window=in_window,
        day_unknown=len(given) - len(dated),
        longest_gap_days=max(((b - a).days for a, b in pairwise(days)), default=0)
        if days
        else None,
    )
