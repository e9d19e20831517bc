"""The shortest order of the spots of a session, exactly, under the rules of the trade.

Rules (common practice, no source):

1. What the plan calls first comes first, then neck and spine from head to tail, then the limbs.
2. In a region of the spine: one side after the other, each from head to tail; or across, level
   by level from left to right.
3. On a limb the faces of a joint that are reached the same way are done in one go, as the plan
   lists them; joints of one side that are reached the same way go from the front leg to the hind
   leg and from the trunk to the foot.

What is left free is the order of the sides of a region, how the limbs of both sides mix, and how
the dog lies for each spot. Of all that, the result has the fewest turns of the dog, among those
takes the least time, and among those crosses least often from the limbs of one side to those of
the other. Costs only add up and only depend on the last spot and on how the
dog lies, so this is dynamic programming: over the regions for the spine, and for the limbs over
how far each way of reaching each side has got (four rows of at most eight joints).
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import groupby, pairwise, permutations
from typing import Literal, NamedTuple

from coach.body.places import is_own, read_key
from coach.body.position import POSITIONS, Position
from coach.body.regions import SIDES, Side, is_region, region, regions
from coach.body.site import Face, Site
from coach.units import NS_PER_S

Across = Literal["one side at a time", "across, level by level"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One spot to put in order.

    Attributes:
        region: region key.
        side: the dog's side.
        aspect: face of a joint, or None.
        number: from 1, head to tail, within its region, side and aspect.
        hold_ns: planned time on the spot, > 0.
        positions: how the dog may lie for it, best first, at least one.
        awkward: those of ``positions`` that are some trouble.
        first: of a region that comes before all others.
        priority: 1 is done first when time is short.
    """

    region: str
    side: Side
    aspect: str | None
    number: int
    hold_ns: int
    positions: tuple[Position, ...]
    awkward: tuple[Position, ...] = ()
    first: bool = False
    priority: int = 1

    def __post_init__(self) -> None:
        if not is_region(self.region):
            raise ValueError(f"region: {self.region!r} found; allowed: {', '.join(regions())}")
        if (
            self.hold_ns <= 0
            or self.number < 1
            or not self.positions
            or not set(self.awkward) <= set(self.positions)
        ):
            raise ValueError(f"not a spot to order: {self!r}")

    @property
    def site(self) -> Site:
        """Where it is: the key by which it is found again."""
        return Site(self.region, self.side, self.aspect, self.number)


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Time that an order takes beside the holds (house rules; all >= 0, near <= far).

    Attributes:
        near_ns: to the next spot of the same region and side.
        far_ns: to any other spot, and to the first.
        turn_ns: for the dog to lie down another way, on top of the move.
        awkward_ns: for a spot that is some trouble to reach.
    """

    near_ns: int = 8 * NS_PER_S
    far_ns: int = 8 * NS_PER_S
    turn_ns: int = 30 * NS_PER_S
    awkward_ns: int = 5 * NS_PER_S

    def __post_init__(self) -> None:
        if not 0 <= self.near_ns <= self.far_ns or self.turn_ns < 0 or self.awkward_ns < 0:
            raise ValueError(f"costs: {self!r} found; allowed: 0 or more, near no more than far")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordered:
    """An order of spots and what it takes.

    Attributes:
        order: indexes of the items, in the order of the session.
        positions: how the dog lies for each of them, in that order.
        turns: how often the dog has to lie down another way.
        hold_ns, move_ns, turn_ns: the parts of the time; ``move_ns`` has the trouble in it.
        pinned: the order was given and only the positions were chosen.
    """

    order: tuple[int, ...]
    positions: tuple[Position, ...]
    turns: int
    hold_ns: int
    move_ns: int
    turn_ns: int
    pinned: bool = False

    @property
    def total_ns(self) -> int:
        """The whole session, if nothing interferes."""
        return self.hold_ns + self.move_ns + self.turn_ns


# A block is a run of items that stays together: indexes, in order.
_Block = tuple[int, ...]


class _Way(NamedTuple):
    """The best way found to a state: cost so far, and the steps back to the start."""

    turns: int
    time_ns: int
    crossings: int
    position: Position | None
    last: int | None
    block: _Block
    before: "_Way | None"

    def cost(self) -> tuple[int, int, int]:
        return self.turns, self.time_ns, self.crossings


_START = _Way(0, 0, 0, None, None, (), None)


def best_order(
    items: Sequence[Item],
    *,
    costs: Costs | None = None,
    within: Across = "one side at a time",
    pinned: bool = False,
) -> Ordered:
    """The order with the fewest turns and then the least time; the given one when ``pinned``.

    Of orders that cost the same, the one that keeps the sides left, middle, right.

    Raises:
        ValueError: two items of the same region, side and aspect differ in how they are reached.
    """
    _check(items)
    search = _Search(items, costs or Costs())
    ways = [_START]
    if pinned:
        for index in range(len(items)):
            ways = search.extend(ways, (index,))
    else:
        for choices in search.spine(within):
            ways = _best(
                way for blocks in choices for way in reduce(search.extend, blocks, list(ways))
            )
        ways = search.limbs(ways)
    return _told(items, search.costs, min(ways, key=_Way.cost), pinned=pinned)


def within_time(
    items: Sequence[Item],
    *,
    budget_ns: int,
    costs: Costs | None = None,
    within: Across = "one side at a time",
    pinned: bool = False,
) -> tuple[tuple[int, ...], Ordered]:
    """What fits into a time: indexes that are left for the next session, and today's order.

    The first regions and then the spots by priority (1 first), as they are listed: what is taken
    fits, and with one spot more it would not. No hold is ever shortened. The order holds indexes of
    ``items``.
    """
    if budget_ns < 0:
        raise ValueError(f"budget_ns: {budget_ns} found; allowed: 0 or more")
    ranked = sorted(range(len(items)), key=lambda i: (not items[i].first, items[i].priority, i))

    def taking(count: int) -> Ordered:
        chosen = sorted(ranked[:count])
        found = best_order([items[i] for i in chosen], costs=costs, within=within, pinned=pinned)
        return Ordered(
            order=tuple(chosen[i] for i in found.order),
            positions=found.positions,
            turns=found.turns,
            hold_ns=found.hold_ns,
            move_ns=found.move_ns,
            turn_ns=found.turn_ns,
            pinned=pinned,
        )

    # Halving keeps what is promised: ``fits`` spots fit and ``too_many`` do not.
    fits, too_many = 0, len(ranked) + 1
    while too_many - fits > 1:
        middle = (fits + too_many) // 2
        if taking(middle).total_ns <= budget_ns:
            fits = middle
        else:
            too_many = middle
    return tuple(sorted(ranked[fits:])), taking(fits)


class _Search:
    def __init__(self, items: Sequence[Item], costs: Costs) -> None:
        self.items = items
        self.costs = costs
        ranked = sorted({item.region for item in items}, key=_rank)
        self.rank = {key: number for number, key in enumerate(ranked)}
        self._inside: dict[_Block, int] = {}

    def extend(self, ways: Iterable[_Way], block: _Block) -> list[_Way]:
        """Do ``block`` after each of ``ways``; the best for each state that this can end in."""
        first = self.items[block[0]]
        inside_ns = self._inside_ns(block)
        entered = [
            (
                position,
                inside_ns + self.costs.awkward_ns * len(block) * (position in first.awkward),
            )
            for position in first.positions
        ]
        found: dict[Position, _Way] = {}
        for way in ways:
            time_ns = way.time_ns + self._move_ns(way.last, block[0])
            crossings = way.crossings + self._crosses(way.last, block[0])
            for position, more_ns in entered:
                turn = way.position not in (None, position)
                turns = way.turns + turn
                total_ns = time_ns + more_ns + turn * self.costs.turn_ns
                # All end with the same spot: how the dog lies is the whole state.
                best = found.get(position)
                if best is None or (turns, total_ns, crossings) < best.cost():
                    found[position] = _Way(
                        turns, total_ns, crossings, position, block[-1], block, way
                    )
        return list(found.values())

    def spine(self, within: Across) -> Iterator[list[list[_Block]]]:
        """For each first region and each region of the spine: every allowed row of blocks."""
        here = [i for i, item in enumerate(self.items) if item.first or not _limb(item)]
        for (later, _), group in groupby(sorted(here, key=self._place), key=self._place):
            indexes = list(group)
            if _limb(self.items[indexes[0]]):
                # The faces of a joint that are reached the same way stay together.
                by_side = _grouped(indexes, lambda i: (SIDES.index(self.items[i].side),))
                yield [
                    [
                        block
                        for side in sides
                        for block in _grouped(side, lambda i: _reach(self.items[i]))
                    ]
                    for sides in permutations(by_side)
                ]
            elif later and within == "across, level by level":
                indexes.sort(key=self._level)
                yield [[(index,) for index in indexes]]
            else:
                by_side = _grouped(indexes, lambda i: (SIDES.index(self.items[i].side),))
                yield [list(blocks) for blocks in permutations(by_side)]

    def limbs(self, ways: list[_Way]) -> list[_Way]:
        """Every limb after each of ``ways``: the best by how the dog lies at the end."""
        rows = self._rows()
        ends = tuple(len(row) for row in rows)
        # By how far each row has got; a step makes one of them longer.
        reached = {tuple(0 for _ in rows): ways}
        for _ in range(sum(ends)):
            longer: dict[tuple[int, ...], list[_Way]] = {}
            for done, here in reached.items():
                for number, row in enumerate(rows):
                    if done[number] < ends[number]:
                        further = (*done[:number], done[number] + 1, *done[number + 1 :])
                        longer.setdefault(further, []).extend(self.extend(here, row[done[number]]))
            reached = {done: _best(here) for done, here in longer.items()}
        return reached[ends]

    def _rows(self) -> list[list[_Block]]:
        """Limb blocks by side and way of reaching, each row from front to back and down."""
        here = [i for i, item in enumerate(self.items) if not item.first and _limb(item)]
        return [
            _grouped(row, lambda i: (self.rank[self.items[i].region],))
            for row in _grouped(
                here, lambda i: (SIDES.index(self.items[i].side), *_reach(self.items[i]))
            )
        ]

    def _place(self, index: int) -> tuple[bool, int]:
        item = self.items[index]
        return not item.first, self.rank[item.region]

    def _level(self, index: int) -> tuple[int, int]:
        item = self.items[index]
        return item.number, SIDES.index(item.side)

    def _inside_ns(self, block: _Block) -> int:
        if block not in self._inside:
            self._inside[block] = sum(self._move_ns(a, b) for a, b in pairwise(block))
        return self._inside[block]

    def _move_ns(self, before: int | None, after: int) -> int:
        if before is None:
            return self.costs.far_ns
        a, b = self.items[before], self.items[after]
        near = (a.region, a.side) == (b.region, b.side)
        return self.costs.near_ns if near else self.costs.far_ns

    def _crosses(self, before: int | None, after: int) -> bool:
        """From a limb on one side to a limb on the other."""
        if before is None:
            return False
        a, b = self.items[before], self.items[after]
        return a.side != b.side and _limb(a) and _limb(b)


def _check(items: Sequence[Item]) -> None:
    ways: dict[Face, tuple[int, ...]] = {}
    for item in items:
        place = item.site.face
        if ways.setdefault(place, _reach(item)) != _reach(item):
            raise ValueError(f"positions: {item.positions} found for {place}; allowed: the same")


def _limb(item: Item) -> bool:
    return region(item.region).kind == "limb"


def _rank(key: str) -> tuple[int, str]:
    """Head to tail, then the limbs; a place of one's own comes after the region it lies at."""
    own = is_own(key)
    anchor = read_key(key, regions()).anchor if own else key
    return list(regions()).index(anchor), key if own else ""


def _reach(item: Item) -> tuple[int, ...]:
    """A number for each way of lying: best first, the awkward ones told apart."""
    return tuple(
        POSITIONS.index(position) + len(POSITIONS) * (position in item.awkward)
        for position in item.positions
    )


def _grouped(indexes: Iterable[int], key: Callable[[int], tuple[int, ...]]) -> list[_Block]:
    """Indexes of the same key together, groups by key, each group as it was listed."""
    return [tuple(group) for _, group in groupby(sorted(indexes, key=key), key=key)]


def _best(ways: Iterable[_Way]) -> list[_Way]:
    """The cheapest way to each state; the first of those that cost the same."""
    found: dict[tuple[Position | None, int | None], _Way] = {}
    for way in ways:
        state = way.position, way.last
        if state not in found or way.cost() < found[state].cost():
            found[state] = way
    return list(found.values())


def _told(items: Sequence[Item], costs: Costs, way: _Way, *, pinned: bool) -> Ordered:
    steps: list[tuple[_Block, Position]] = []
    end: _Way | None = way
    while end is not None and end.position is not None:
        steps.append((end.block, end.position))
        end = end.before
    steps.reverse()
    turn_ns = way.turns * costs.turn_ns
    return Ordered(
        order=tuple(index for block, _ in steps for index in block),
        positions=tuple(position for block, position in steps for _ in block),
        turns=way.turns,
        hold_ns=sum(item.hold_ns for item in items),
        move_ns=way.time_ns - turn_ns,
        turn_ns=turn_ns,
        pinned=pinned,
    )
