"""What one session works through: the spots of a plan, in order."""

from dataclasses import dataclass

from coach.body import region
from coach.body.regions import SIDES, Side
from coach.plan.model import Plan
from coach.units import ns_from_s

SETTLE_REGION = "atlas"

_Order = tuple[str, Side, str | None, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One place where the head rests, once.

    Attributes:
        index: place in the session, from 0.
        region: region key.
        side: the dog's side.
        aspect: face of a joint, or None.
        number: this spot among those of its region, side and aspect, from 1.
        of: how many of those there are.
        hold_ns: planned time on the spot, > 0.
        move_ns: time allowed for getting there.
        settle: part of the calm opening.
        note: the prescriber's words, or "".
    """

    index: int
    region: str
    side: Side
    aspect: str | None
    number: int
    of: int
    hold_ns: int
    move_ns: int
    settle: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        if self.hold_ns <= 0 or self.move_ns < 0 or not 1 <= self.number <= self.of:
            raise ValueError(f"not a spot: {self!r}")


def spots_of(plan: Plan) -> tuple[Spot, ...]:
    """The spots of one session of ``plan``: the settle, then the regions in the plan's order."""
    rules = plan.rules
    move_ns = ns_from_s(rules.move_seconds)
    found: list[Spot] = []

    def add(order: _Order, hold_ns: int, *, of: int, settle: bool = False, note: str = "") -> None:
        key, side, aspect, number = order
        found.append(
            Spot(
                index=len(found),
                region=key,
                side=side,
                aspect=aspect,
                number=number,
                of=of,
                hold_ns=hold_ns,
                move_ns=move_ns,
                settle=settle,
                note=note,
            )
        )

    if not plan.settle.leave_out:
        hold_ns = ns_from_s(plan.settle.seconds_each_side)
        for side in region(SETTLE_REGION).sides:
            add((SETTLE_REGION, side, None, 1), hold_ns, of=1, settle=True)
    for order in plan.regions:
        hold_ns = plan.hold_ns(order)
        sides = sorted(order.sides, key=SIDES.index)
        aspects: list[str | None] = [*order.aspects] if order.aspects else [None]
        numbers = range(1, order.spots + 1)
        # A joint is never done across: that would turn the dog at every level.
        across = rules.order == "across, level by level" and aspects == [None]
        places: list[_Order] = (
            [(order.region, side, None, number) for number in numbers for side in sides]
            if across
            else [
                (order.region, side, aspect, number)
                for side in sides
                for aspect in aspects
                for number in numbers
            ]
        )
        for place in places:
            add(place, hold_ns, of=order.spots, note=order.note)
    return tuple(found)
