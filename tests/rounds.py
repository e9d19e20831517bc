"""What an owner types to go through the readiness round, for tests of what comes after it."""

import datetime
from pathlib import Path

from coach.plan.files import load_plan
from coach.session.readiness import eyes_only, round_for

TODAY = datetime.date(2026, 11, 25)


def through(plan: Path, *, first: bool = True) -> str:
    """A line for each point before a session of ``plan``; the next Enter starts it."""
    points = round_for(load_plan(plan, today=TODAY).plan, first=first).points
    return "".join("n\n" if point.health else "\n" for point in points)


def eyes(plan: Path) -> str:
    """The same before a session that was cut off is carried on."""
    return "\n" * len(eyes_only(load_plan(plan, today=TODAY).plan).points)
