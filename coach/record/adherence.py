"""How the sessions of a course went against its days: counts, and what each of them means. Pure.

Nothing here praises, blames or counts runs of days: a missed session has its reasons.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from coach.language import N_
from coach.plan.calendar import Calendar
from coach.plan.due_days import DAY


@dataclass(frozen=True, slots=True, kw_only=True)
class Adherence:
    """The figures of a calendar as it stands today. :data:`MEANING` says what each of them is.

    Attributes:
        due: sessions of the course whose planned day is over, and today's if it was given.
        begun: sessions in which light was given, under this plan and since it began.
        complete: of those, the ones in which every spot of the plan had its seconds.
        in_part: the shares of the others, smallest first, as far as their logs tell.
        too_little: how many of these had too small a part to count for a day of the course.
        extra: sessions that count, beyond those that were due.
        behind: sessions that were due, beyond those that count.
        beyond: sessions that count, beyond the whole course.
        given: sessions that count for a day of the course.
        whole_course: sessions of the whole course.
        on_the_day: of those given, on the day that they were due.
        in_window: of those given, in the window of the plan; None where the plan states none.
        day_unknown: of those given, those whose day no clock could tell.
        longest_gap_days: most days from one session to the next, or from the last until today
            while the course goes on; None before the first.
    """

    due: int
    begun: int
    complete: int
    in_part: tuple[Fraction, ...]
    too_little: int
    extra: int
    behind: int
    beyond: int
    given: int
    whole_course: int
    on_the_day: int
    in_window: int | None
    day_unknown: int
    longest_gap_days: int | None


MEANING: Mapping[str, str] = {
    "due": N_(
        "Due so far: sessions whose day in the plan is over, and today's once it is begun. "
        "The first session starts the course, unless the plan sets its date."
    ),
    "begun": N_(
        "Begun: sessions in which the laser ran. Complete: each spot had all its seconds. "
        "In part: some had not; the percent says how much of the seconds were given."
    ),
    "extra": N_(
        "More than was due: sessions beyond those that the plan asked for so far. A session with "
        "too small a part does not count for a day."
    ),
    "on_the_day": N_(
        "On the day: sessions held on the day they were due. A day is the day where you were."
    ),
    "in_window": N_(
        "In time: sessions held in the window that the plan allows around the day or the hour."
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
    here = (*(session for _, session in given), *calendar.extra, *calendar.part)
    enough = len(here) - len(calendar.part)
    due_so_far = sum(
        due.planned_on < calendar.today
        or (due.planned_on == calendar.today and due.given is not None)
        for due in calendar.dues
    )
    days = sorted(day for _, _, day in dated)
    if days and calendar.next is not None:
        days.append(max(calendar.today, days[-1]))
    return Adherence(
        due=due_so_far,
        begun=len(here),
        complete=sum(session.complete for session in here),
        in_part=tuple(
            sorted(session.share for session in here if session.share and not session.complete)
        ),
        too_little=len(calendar.part),
        extra=max(0, enough - due_so_far) if calendar.dues else 0,
        behind=max(0, due_so_far - enough),
        beyond=max(0, enough - len(calendar.dues)) if calendar.dues else 0,
        given=len(given),
        whole_course=len(calendar.dues),
        on_the_day=sum(due.day == day for due, _, day in dated),
        in_window=in_window,
        day_unknown=len(given) - len(dated),
        longest_gap_days=max(((b - a).days for a, b in pairwise(days)), default=0)
        if days
        else None,
    )
