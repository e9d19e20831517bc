"""What a plan of format 1 leaves unsaid, and how it is then read. Pure.

A default is never a dose: no opening and no second hold is given that nobody ordered.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from coach.plan.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Unstated:
    """One thing that a plan does not say.

    Attributes:
        field: its place in the plan. ``settle``: there is no opening at the top of the neck.
        text: how the plan is read, for the prescriber.
    """

    field: Literal["settle", "session.repeats_allowed", "laser.starts"]
    text: str


def unstated(plan: Plan) -> tuple[Unstated, ...]:
    """What ``plan`` leaves unsaid that decides what is given or what the owner is told to do.

    Empty for format 2, in which nothing of this can be left to a default.
    """
    return tuple(_unstated(plan)) if plan.format == 1 else ()


def _unstated(plan: Plan) -> Iterator[Unstated]:
    if plan.settle.seconds_each_side is None and not plan.settle.leave_out:
        yield Unstated(
            field="settle",
            text="the plan does not say how long the opening at the top of the neck takes: it is "
            "left out. Write seconds_each_side, or leave_out = true",
        )
    if "repeats_allowed" not in plan.rules.model_fields_set:
        yield Unstated(
            field="session.repeats_allowed",
            text="the plan does not say whether a spot may be given again: no spot may be given "
            "again. Write repeats_allowed",
        )
    if "starts" not in plan.laser.model_fields_set:
        yield Unstated(
            field="laser.starts",
            text="the plan does not say how the laser starts: the owner is told that it stays on "
            'for the whole session. Write starts = "stays on" or "button at each spot"',
        )
