"""The order of spots: how its time grows with their number."""

import time

from coach.body.position import access
from coach.body.regions import SIDES
from coach.plan.order import Costs, Item, best_order
from coach.units import NS_PER_S
from tests.benchmarks.frame import Figure, pairs, say

# From the neck to the tail, each with the three sides and so many spots to a side.
SPINE = ("thoracic", "lumbar", "sacrum", "lumbosacral")


def items(count: int) -> tuple[Item, ...]:
    """So many spots along an invented spine."""
    found = []
    for number in range(count):
        key, side = SPINE[number % 4], SIDES[number // 4 % 3]
        way = access(key, side, None)
        found.append(
            Item(
                region=key,
                side=side,
                aspect=None,
                number=number // 12 + 1,
                hold_ns=30 * NS_PER_S,
                positions=way.positions,
                awkward=way.awkward,
                first=False,
                priority=1,
            )
        )
    return tuple(found)


def _order_s(count: int) -> float:
    spots = items(count)
    began_s = time.perf_counter()
    best_order(spots, costs=Costs())
    return time.perf_counter() - began_s


def _every_pair_s(count: int) -> float:
    spots = items(count)
    began_s = time.perf_counter()
    sum(one.side == other.side and one.number < other.number for one in spots for other in spots)
    return time.perf_counter() - began_s


def measure(*, quick: bool) -> list[Figure]:
    """20, 80 and 200 spots."""
    say("ordering")
    figures = []
    for count in (20, 80, 200):
        ours_s, base_s = pairs(
            lambda count=count: _order_s(count),  # type: ignore[misc]
            lambda count=count: _every_pair_s(count),  # type: ignore[misc]
            rounds=3 if quick else 9,
        )
        figures.append(
            Figure(
                name=f"order of {count} spots",
                ours=ours_s * 1000,
                baseline=base_s * 1000,
                unit="ms",
                against="one look at every pair of them",
            )
        )
    return figures
