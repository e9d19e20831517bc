"""How long a session takes this owner and this dog, from the sessions they have had. Pure.

The seconds on the spots are the plan's and do not change. What differs from home to home is the
time between them: moves, turns, pauses. Of the last sessions that were gone through in one go,
that time is compared with what the plan allows for it; the middle of these is what is expected,
the lowest and the highest make the range. A single evening says little, so below
``FEWEST`` sessions the plan's own times are used.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median
from typing import Any, NamedTuple

from coach.language import _, ngettext
from coach.units import NS_PER_S

FEWEST = 3
LATEST = 10
# From so many on, the one highest and the one lowest are left out of the range: the evening on
# which somebody rang at the door.
TRIMMED_FROM = 5


class Between(NamedTuple):
    """The time between the holds of a session: as planned, and as it was, pauses included."""

    planned_ns: int
    taken_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """How long a session will take: lowest, expected, highest; ``sessions`` it was learnt from.

    None learnt: all three are the plan's.
    """

    low_ns: int
    expected_ns: int
    high_ns: int
    sessions: int


def between_of(lines: Sequence[Mapping[str, Any]]) -> Between | None:
    """The time between the holds of one journal, its decoded lines; None where it tells nothing.

    That is the case for a rehearsal, and for a session that was stopped or cut off.
    """
    head = lines[0]["data"]
    began_ns: int | None = None
    over_ns: int | None = None
    held_ns = 0
    for line in lines:
        kind, data = line["kind"], line["data"]
        if kind == "session_started":
            began_ns = data["at_ns"]
        elif kind == "hold_ended":
            held_ns += data["given_ns"]
        elif kind == "session_finished":
            over_ns = data["at_ns"]
        elif kind == "session_resumed":
            return None
    planned_ns = sum(spot["move_ns"] for spot in head["spots"])
    if head["rehearsal"] or began_ns is None or over_ns is None or planned_ns <= 0:
        return None
    return Between(planned_ns, max(0, over_ns - began_ns - held_ns))


def foretell(past: Sequence[Between], *, hold_ns: int, move_ns: int) -> Foretold:
    """How long ``hold_ns`` on the spots and ``move_ns`` planned between them will take.

    ``past`` are the sessions before, in their order. Never less than ``hold_ns``.
    """
    if hold_ns < 0 or move_ns < 0:
        raise ValueError(f"hold_ns {hold_ns}, move_ns {move_ns}: neither may be below 0")
    latest = sorted(Fraction(one.taken_ns, one.planned_ns) for one in past[-LATEST:])
    if len(latest) < FEWEST:
        whole_ns = hold_ns + move_ns
        return Foretold(low_ns=whole_ns, expected_ns=whole_ns, high_ns=whole_ns, sessions=0)
    ranged = latest[1:-1] if len(latest) >= TRIMMED_FROM else latest
    low, high = (hold_ns + round(times * move_ns) for times in (ranged[0], ranged[-1]))
    return Foretold(
        low_ns=low,
        expected_ns=hold_ns + round(median(latest) * move_ns),
        high_ns=high,
        sessions=len(latest),
    )


def done_text(foretold: Foretold, *, now: datetime.datetime, speed: int = 1) -> str:
    """When it will be over by the clock on the wall, if it is started ``now``.

    In a rehearsal session time runs ``speed`` times as fast.
    """

    def at(duration_ns: int) -> str:
        return f"{now + datetime.timedelta(seconds=duration_ns / NS_PER_S / speed):%H:%M}"

    done = at(foretold.expected_ns)
    if not foretold.sessions:
        return _("You will be done at about {time}, by the plan.").format(time=done)
    return ngettext(
        "You will be done at about {time} ({early} to {late}, by your last session).",
        "You will be done at about {time} ({early} to {late}, by your last {n} sessions).",
        foretold.sessions,
    ).format(time=done, early=at(foretold.low_ns), late=at(foretold.high_ns), n=foretold.sessions)
