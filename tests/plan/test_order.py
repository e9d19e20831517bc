"""The order of spots: the best there is, proved against trying every order on small sessions.

The rules are common practice without a source: settle first, spine from head to tail, limbs
last, one side at a time or across, joints on the leg that lies on top. They are written here
once more, as a test of a finished order, so that the search is held against them from outside.

Longer than other files: the rules as a test and the search by brute force belong together.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby, pairwise, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.body import regions
from coach.body.position import access
from coach.body.regions import SIDES, Side
from coach.plan.order import Across, Costs, Item, Ordered, best_order, within_time
from coach.plan.order_text import stays, why

S = 10**9
COSTS = Costs(near_ns=8 * S, far_ns=12 * S, turn_ns=30 * S, awkward_ns=5 * S)
RANK = {key: number for number, key in enumerate(regions())}
SIDE_AT_A_TIME: Across = "one side at a time"
ACROSS: Across = "across, level by level"


def spot(
    key: str,
    side: Side,
    aspect: str | None = None,
    number: int = 1,
    *,
    hold_s: int = 30,
    first: bool = False,
    priority: int = 1,
) -> Item:
    way = access(key, side, aspect)
    return Item(
        region=key,
        side=side,
        aspect=aspect,
        number=number,
        hold_ns=hold_s * S,
        positions=way.positions,
        awkward=way.awkward,
        first=first,
        priority=priority,
    )


SETTLE = [spot("atlas", "left", first=True), spot("atlas", "right", first=True)]


def is_limb(item: Item) -> bool:
    return regions()[item.region].kind == "limb"


def in_one_go(values: Sequence[object]) -> bool:
    """Whether equal values stand together."""
    runs = [value for value, _ in groupby(values)]
    return len(runs) == len(set(runs))


def follows_the_rules(items: Sequence[Item], order: Sequence[int], within: Across) -> bool:
    row = [items[index] for index in order]
    part = [0 if item.first else 2 if is_limb(item) else 1 for item in row]
    if part != sorted(part):
        return False
    settle, spine, limbs = (
        [(item, index) for item, index, p in zip(row, order, part, strict=True) if p == n]
        for n in range(3)
    )
    ranks = [RANK[item.region] for item, _ in spine]
    if ranks != sorted(ranks):
        return False
    for group in [settle, *(list(g) for _, g in groupby(spine, key=lambda e: e[0].region))]:
        if group is not settle and within == ACROSS:
            levels = [(item.number, SIDES.index(item.side), index) for item, index in group]
            if levels != sorted(levels):
                return False
            continue
        if not in_one_go([item.side for item, _ in group]):
            return False
        for side in SIDES:
            listed = [index for item, index in group if item.side == side]
            if listed != sorted(listed):
                return False
    ways = {(item.side, item.positions, item.awkward) for item, _ in limbs}
    for way in ways:
        same = [
            (RANK[item.region], index)
            for item, index in limbs
            if (item.side, item.positions, item.awkward) == way
        ]
        if same != sorted(same):
            return False
    return in_one_go([(i.region, i.side, i.positions, i.awkward) for i, _ in limbs])


def cost(
    items: Sequence[Item], order: Sequence[int], positions: Sequence[str], costs: Costs = COSTS
) -> tuple[int, int, int]:
    """Turns, time beside the holds, and crossings between limbs of the two sides."""
    row = [items[index] for index in order]
    turns = sum(a != b for a, b in pairwise(positions))
    time_ns = turns * costs.turn_ns + (costs.far_ns if row else 0)
    for a, b in pairwise(row):
        near = (a.region, a.side) == (b.region, b.side)
        time_ns += costs.near_ns if near else costs.far_ns
    time_ns += costs.awkward_ns * sum(
        position in item.awkward for item, position in zip(row, positions, strict=True)
    )
    crossings = sum(is_limb(a) and is_limb(b) and a.side != b.side for a, b in pairwise(row))
    return turns, time_ns, crossings


def cheapest(items: Sequence[Item], within: Across, costs: Costs) -> tuple[int, int, int]:
    """By trying every order and, for each, every way for the dog to lie."""
    return min(
        cost(items, order, positions, costs)
        for order in permutations(range(len(items)))
        if follows_the_rules(items, order, within)
        for positions in product(*(items[index].positions for index in order))
    )


def told_cost(items: Sequence[Item], found: Ordered, costs: Costs = COSTS) -> tuple[int, int, int]:
    return cost(items, found.order, found.positions, costs)


PLACES = [
    (key, side, aspect)
    for key, place in regions().items()
    for side in place.sides
    for aspect in (place.aspects or (None,))
]
# Small sessions in which something can be won: few regions, inner faces, the lower neck.
TELLING = [
    place
    for place in PLACES
    if place[0] in {"atlas", "neck_lower", "elbow", "stifle"}
    and place[2] not in {"cranial", "caudal"}
]


@st.composite
def sessions(draw: st.DrawFn) -> list[Item]:
    settle = draw(st.sampled_from([[], SETTLE]))
    one_of = st.sampled_from(draw(st.sampled_from([TELLING, PLACES])))
    counted: dict[object, int] = {}
    items = [*settle]
    for place in draw(st.lists(one_of, max_size=6 - len(settle))):
        counted[place] = counted.get(place, 0) + 1
        items.append(spot(*place, number=counted[place]))
    return items


@st.composite
def any_costs(draw: st.DrawFn) -> Costs:
    near_s = draw(st.integers(0, 10))
    return Costs(
        near_ns=near_s * S,
        far_ns=draw(st.integers(near_s, 20)) * S,
        turn_ns=draw(st.integers(0, 40)) * S,
        awkward_ns=draw(st.integers(0, 40)) * S,
    )


@given(sessions(), any_costs(), st.sampled_from([SIDE_AT_A_TIME, ACROSS]))
@settings(max_examples=300, deadline=None)
def test_no_order_within_the_rules_is_better(
    items: list[Item], costs: Costs, within: Across
) -> None:
    found = best_order(items, costs=costs, within=within)
    assert sorted(found.order) == list(range(len(items)))
    assert follows_the_rules(items, found.order, within)
    for index, position in zip(found.order, found.positions, strict=True):
        assert position in items[index].positions
    assert told_cost(items, found, costs) == cheapest(items, within, costs)
    turns, time_ns, _ = told_cost(items, found, costs)
    assert found.turns == turns
    assert found.move_ns + found.turn_ns == time_ns
    assert found.turn_ns == turns * costs.turn_ns
    assert found.hold_ns == sum(item.hold_ns for item in items)


# The cases that a search which forgets something gets wrong, each worked out by hand.
@pytest.mark.parametrize(
    ("items", "turns", "move_s"),
    [
        # Eight awkward spots cost more than a turn, but turning the dog is what is to be spared:
        # 12 for the first move, 8 for each of eight more, 5 of trouble for each of eight.
        (
            [
                spot("stifle", "left", "lateral"),
                *(spot("stifle", "left", "medial", n) for n in range(1, 9)),
            ],
            0,
            12 + 8 * 8 + 8 * 5,
        ),
        # The settle ends on the side where the atlas itself comes next: 12, 12, then 8.
        ([*SETTLE, spot("atlas", "left")], 0, 12 + 12 + 8),
        # Both elbows, inside and outside, and the right knee's outside. On the left side: right
        # elbow, right knee, left elbow inside; on the right: left elbow outside, right inside.
        # Starting on the right side the left elbow's faces are neighbours: 12, 12, 8, 12, 12.
        (
            [
                *(spot("elbow", side, a) for side in SIDES[::2] for a in ("lateral", "medial")),
                spot("stifle", "right", "lateral"),
            ],
            1,
            12 + 12 + 8 + 12 + 12,
        ),
    ],
)
def test_orders_worked_out_by_hand(items: list[Item], turns: int, move_s: int) -> None:
    found = best_order(items, costs=COSTS)
    assert found.turns == turns
    assert found.move_ns == move_s * S


@given(sessions())
@settings(max_examples=60, deadline=None)
def test_a_pinned_order_is_kept_and_the_dog_turned_no_more_than_it_takes(
    items: list[Item],
) -> None:
    found = best_order(items, costs=COSTS, pinned=True)
    order = range(len(items))
    assert found.order == tuple(order)
    best = min(
        cost(items, order, positions) for positions in product(*(i.positions for i in items))
    )
    assert told_cost(items, found) == best


# Worked by hand. Both knees, outside and inside: lying on its left side the dog offers the
# outside of the right knee and the inside of the left; one turn, and the rest.
def test_both_knees_take_one_turn() -> None:
    items = [
        spot("stifle", side, aspect)
        for side in ("left", "right")
        for aspect in ("lateral", "medial")
    ]
    found = best_order(items, costs=COSTS)
    assert found.turns == 1
    done = {
        (position, items[index].side, items[index].aspect)
        for index, position in zip(found.order, found.positions, strict=True)
    }
    assert done == {
        ("left lateral", "right", "lateral"),
        ("left lateral", "left", "medial"),
        ("right lateral", "left", "lateral"),
        ("right lateral", "right", "medial"),
    }


def test_one_knee_is_done_without_a_turn() -> None:
    items = [spot("stifle", "left", aspect) for aspect in ("lateral", "medial")]
    found = best_order(items, costs=COSTS)
    assert found.turns == 0
    assert set(found.positions) == {"right lateral"}
    assert found.move_ns == (12 + 8 + 5) * S  # the first move, the other face, the trouble


# On the chest for the lower back, then once for each side: 2 turns, however it is listed.
def test_spine_and_both_hips_take_two_turns() -> None:
    items = [
        spot("hip", "right", "lateral"),
        spot("lumbar", "left", None, 1),
        spot("stifle", "left", "lateral"),
        spot("lumbar", "left", None, 2),
        spot("hip", "left", "lateral"),
        spot("stifle", "right", "lateral"),
    ]
    found = best_order(items, costs=COSTS)
    assert found.turns == 2
    assert found.order[:2] == (1, 3)
    assert found.positions[:2] == ("sternal", "sternal")


def test_the_lower_neck_joins_the_limbs_of_its_side() -> None:
    """No settle: neck and hip of the left side are both reached with that side on top."""
    found = best_order([spot("neck_lower", "left"), spot("hip", "left", "lateral")], costs=COSTS)
    assert found.turns == 0
    assert set(found.positions) == {"right lateral"}


def test_across_goes_level_by_level() -> None:
    items = [spot("lumbar", side, None, n) for side in SIDES for n in (1, 2)]
    found = best_order(items, costs=COSTS, within=ACROSS)
    assert [(items[i].number, items[i].side) for i in found.order] == [
        (n, side) for n in (1, 2) for side in SIDES
    ]
    one_side = best_order(items, costs=COSTS)
    assert [(items[i].side, items[i].number) for i in one_side.order] == [
        (side, n) for side in SIDES for n in (1, 2)
    ]


@given(sessions().flatmap(lambda items: st.tuples(st.just(items), st.permutations(items))))
@settings(max_examples=60, deadline=None)
def test_how_the_plan_lists_regions_does_not_change_the_turns(
    listed: tuple[list[Item], list[Item]],
) -> None:
    first, second = (best_order(items, costs=COSTS).turns for items in listed)
    assert first == second


def everything(*, times: int) -> list[Item]:
    return [*SETTLE, *(spot(*place, number=n) for place in PLACES for n in range(1, times + 1))]


def test_a_very_long_session_is_still_put_in_order() -> None:
    """Every place there is, three times over: more than 200 spots."""
    items = everything(times=3)
    assert len(items) > 200
    found = best_order(items, costs=COSTS)
    assert follows_the_rules(items, found.order, SIDE_AT_A_TIME)
    # On the chest, then on each side once: spots of three kinds cannot take fewer.
    assert found.turns == 2
    assert not any(p in items[i].awkward for i, p in zip(found.order, found.positions, strict=True))


@given(sessions(), st.lists(st.integers(1, 3), min_size=8, max_size=8), st.integers(0, 400))
@settings(max_examples=80, deadline=None)
def test_a_time_budget(items: list[Item], priorities: list[int], budget_s: int) -> None:
    items = [replace(item, priority=p) for item, p in zip(items, priorities, strict=False)]
    left, today = within_time(items, budget_ns=budget_s * S, costs=COSTS)
    assert today.total_ns <= budget_s * S
    assert sorted([*left, *today.order]) == list(range(len(items)))
    # Holds are whole.
    assert today.hold_ns == sum(items[i].hold_ns for i in today.order)

    def importance(i: int) -> tuple[bool, int, int]:
        return not items[i].first, items[i].priority, i

    if left:
        first_left = min(left, key=importance)
        assert all(importance(i) < importance(first_left) for i in today.order)
        more = sorted([*today.order, first_left])
        assert best_order([items[i] for i in more], costs=COSTS).total_ns > budget_s * S


# By hand: 12 s for the first move, 8 s for the next, 30 s on each: 42 s, 80 s, 118 s.
@pytest.mark.parametrize(
    ("budget_s", "count"), [(0, 0), (41, 0), (42, 1), (79, 1), (80, 2), (118, 3), (999, 3)]
)
def test_what_fits_by_hand(budget_s: int, count: int) -> None:
    items = [spot("lumbar", "left", None, n) for n in (1, 2, 3)]
    left, today = within_time(items, budget_ns=budget_s * S, costs=COSTS)
    assert today.order == tuple(range(count))
    assert left == tuple(range(count, 3))


def test_priorities_decide_what_is_left_for_next_time() -> None:
    items = [
        *SETTLE,
        spot("lumbar", "left", priority=2),
        spot("hip", "left", "lateral", priority=1),
    ]
    # Settle 12 + 30 + 12 + 30, hip 12 + 30 + 30 for the turn: 156 s.
    left, today = within_time(items, budget_ns=156 * S, costs=COSTS)
    assert left == (2,)
    assert today.order == (0, 1, 3)


def test_an_order_is_explained() -> None:
    items = [
        *SETTLE,
        spot("lumbar", "left"),
        spot("hip", "left", "lateral"),
        spot("hip", "right", "lateral"),
    ]
    found = best_order(items, costs=COSTS)
    words = " ".join(why(items, found))
    assert "What the plan calls first comes first" in words
    assert "Dog on its chest: spots 1 to 3 (" in words
    assert "lower back, left" in words
    assert "2 turns of the dog: no order within these rules has fewer." in words
    assert "1 with the dog on its right side, left side on top" in words
    # 5 holds of 30 s, 5 far moves of 12 s, 2 turns of 30 s: 270 s.
    assert "4:30 in all: 2:30 holding, 1:00 moving, 1:00 turns." in words
    assert [(stay.first, stay.last) for stay in stays(items, found)] == [(1, 3), (4, 4), (5, 5)]


def test_a_pinned_order_says_what_it_costs() -> None:
    items = [spot("hip", "left", "lateral"), spot("lumbar", "left"), spot("hip", "left", "caudal")]
    pinned = best_order(items, costs=COSTS, pinned=True)
    free = best_order(items, costs=COSTS)
    words = " ".join(why(items, pinned, free=free))
    assert "The plan pins the order" in words
    # 2 turns against 1; three far moves against two far and one near: 34 s.
    assert "A free order would have 1 fewer turn and take 34 less." in words
    alone = items[:1]
    words = " ".join(why(alone, best_order(alone, pinned=True), free=best_order(alone)))
    assert "A free order would be no shorter." in words


def test_no_spots_need_no_order() -> None:
    assert best_order([]).order == ()
    assert why([], best_order([])) == ["There are no spots."]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"region": "lumbr"}, "region: 'lumbr' found"),
        ({"hold_ns": 0}, "not a spot to order"),
        ({"positions": ()}, "not a spot to order"),
        ({"number": 0}, "not a spot to order"),
        ({"awkward": ("left lateral",)}, "not a spot to order"),
    ],
)
def test_items_that_make_no_sense_are_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(spot("lumbar", "left"), **change)  # type: ignore[arg-type]


def test_other_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="near no more than far"):
        Costs(near_ns=9, far_ns=8)
    with pytest.raises(ValueError, match="budget_ns: -1 found"):
        within_time([], budget_ns=-1)
    one = spot("lumbar", "left")
    with pytest.raises(ValueError, match="allowed: the same"):
        best_order([one, replace(one, number=2, positions=("standing",))])
