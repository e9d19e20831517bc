"""A plan that is kept, also one that has run out: its sessions and its figures stay true."""

import datetime
import tomllib
from pathlib import Path

from coach.plan.files import PlanFile, load_plan
from coach.plan.problems import PlanProblems


def load_kept(path: Path, *, today: datetime.date) -> PlanFile:
    """Read a plan as of ``today``, or as of its last day if that is over. Raises PlanProblems."""
    try:
        return load_plan(path, today=today)
    except PlanProblems:
        last = _last_day(path)
        if last is None or last >= today:
            raise
        return load_plan(path, today=last)


def _last_day(path: Path) -> datetime.date | None:
    try:
        last = tomllib.loads(path.read_text(encoding="utf-8-sig"))["plan"]["valid_until"]
    except (OSError, ValueError, KeyError, TypeError):
        # What is wrong with it has been said by whoever read it first.
        return None
    if type(last) is not datetime.date:
        return None
    return last
