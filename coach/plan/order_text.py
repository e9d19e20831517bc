"""An order of spots told in words: how the dog lies when, and why it is so."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from coach.body import region
from coach.body.position import POSITION_WORDS, Position
from coach.plan.order import Item, Ordered
from coach.units import NS_PER_S, clock_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """Spots done without turning the dog: the ``first``-th to the ``last``-th, from 1.

    ``places`` are regions with the sides worked there, each once, in order.
    """

    position: Position
    first: int
    last: int
    places: tuple[tuple[str, tuple[str, ...]], ...]


def stays(items: Sequence[Item], ordered: Ordered) -> tuple[Stay, ...]:
    """The stays of an order; one more than it has turns."""
    found: list[Stay] = []
    steps = zip(ordered.order, ordered.positions, strict=True)
    for position, group in groupby(steps, key=lambda step: step[1]):
        indexes = [index for index, _ in group]
        sides: dict[str, dict[str, None]] = {}
        for index in indexes:
            sides.setdefault(items[index].region, {})[items[index].side] = None
        first = found[-1].last + 1 if found else 1
        found.append(
            Stay(
                position=position,
                first=first,
                last=first + len(indexes) - 1,
                places=tuple((key, tuple(worked)) for key, worked in sides.items()),
            )
        )
    return tuple(found)


def why(items: Sequence[Item], ordered: Ordered, *, free: Ordered | None = None) -> list[str]:
    """Sentences that explain an order; ``free`` is the best one where the order is pinned."""
    if not ordered.order:
        return ["There are no spots."]
    found = []
    if ordered.pinned:
        found.append("The plan pins the order of the spots; only how the dog lies was chosen.")
    else:
        if any(item.first for item in items):
            found.append("What the plan calls first comes first, calmly.")
        found.append("Neck and spine go from head to tail, and the limbs come after them.")
    for stay in stays(items, ordered):
        places = "; ".join(
            f"{region(key).owner_words}, {' and '.join(sides)}" for key, sides in stay.places
        )
        spots = f"spot {stay.first}"
        if stay.last > stay.first:
            spots = f"spots {stay.first} to {stay.last}"
        found.append(f"Dog {POSITION_WORDS[stay.position]}: {spots} ({places}).")
    needs = Counter(items[index].positions for index in ordered.order)
    told = ", ".join(
        f"{count} with the dog {' or '.join(POSITION_WORDS[p] for p in positions)}"
        for positions, count in needs.items()
    )
    turns = f"{ordered.turns} turn{'' if ordered.turns == 1 else 's'} of the dog"
    if ordered.pinned:
        found.append(f"{turns}. Spots are reached: {told}.")
    else:
        found.append(f"{turns}: no order within these rules has fewer. Spots are reached: {told}.")
    if free is not None and ordered.pinned:
        spared_s = max(0, ordered.total_ns - free.total_ns) // NS_PER_S
        fewer = ordered.turns - free.turns
        found.append(
            f"A free order would have {fewer} fewer turn{'' if fewer == 1 else 's'} and take "
            f"{clock_text(spared_s)} less."
            if (ordered.turns, ordered.total_ns) > (free.turns, free.total_ns)
            else "A free order would be no shorter."
        )
    parts = ((ordered.hold_ns, "holding"), (ordered.move_ns, "moving"), (ordered.turn_ns, "turns"))
    told = ", ".join(f"{clock_text(ns // NS_PER_S)} {word}" for ns, word in parts)
    found.append(f"{clock_text(ordered.total_ns // NS_PER_S)} in all: {told}.")
    return found
