"""The order of a whole plan, the turns in it, and what a short session leaves for the next.

Which position reaches what is common practice, no source: neck and spine with the dog on its
chest, joints on its side with the leg on top, inner faces most easily on the lower leg.
"""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.plan.files import load_plan
from coach.plan.spots import NotShortened, SessionSpots, Spot, session_of, spots_in, spots_of
from coach.units import NS_PER_S
from tests.plan.any_plans import AnyPlan, any_plans
from tests.plan.test_any_plans import usable
from tests.plan.worlds import PLAN, PLANS, TODAY, changed, read

Place = tuple[bool, str, str, str | None, int]

HIPS = changed(
    ('region = "hip"\nsides = ["right"]', 'region = "hip"\nsides = ["left", "right"]'),
    (
        "joules_each_spot = 4\n",
        'joules_each_spot = 4\n\n[[regions]]\nregion = "stifle"\nsides = ["left", "right"]\n'
        'aspects = ["lateral", "medial"]\nseconds_each_spot = 20\n',
    ),
)
PINNED = ("repeats_allowed = 1", "repeats_allowed = 1\npinned = true")


def place(spot: Spot) -> Place:
    return spot.settle, spot.region, spot.side, spot.aspect, spot.number


def total_ns(session: SessionSpots) -> int:
    return sum(spot.hold_ns + spot.move_ns for spot in session.spots)


@pytest.mark.parametrize("name", ["demo-long-back", "demo-big-hips"])
def test_a_demo_session_has_every_ordered_place_once(name: str) -> None:
    plan = load_plan(PLANS / f"{name}.toml", today=TODAY).plan
    spots = spots_of(plan)
    ordered = {
        (order.region, side, aspect, number)
        for order in plan.regions
        for side in order.sides
        for aspect in (*(order.aspects or ()), *(() if order.aspects else (None,)))
        for number in range(1, (order.spots or 1) + 1)
    }
    given_ = [(s.region, s.side, s.aspect, s.number) for s in spots if not s.settle]
    assert set(given_) == ordered
    assert len(given_) == len(ordered)
    assert [s.index for s in spots] == list(range(len(spots)))


def test_settle_then_head_to_tail_then_limbs_with_two_turns() -> None:
    spots = spots_of(read(HIPS))
    lies = [spot.position for spot in spots]
    assert [p for n, p in enumerate(lies) if n == 0 or lies[n - 1] != p] in (
        ["sternal", "left lateral", "right lateral"],
        ["sternal", "right lateral", "left lateral"],
    )
    assert [spot.settle for spot in spots] == [True] * 2 + [False] * 16
    assert [spot.region for spot in spots[2:10]] == ["lumbar"] * 8
    # The leg on top for the outside, the lower leg for the inside of the knee.
    for spot in spots[10:]:
        down = "left lateral" if spot.side == "left" else "right lateral"
        up = "right lateral" if spot.side == "left" else "left lateral"
        assert spot.position == (down if spot.aspect == "medial" else up)


def test_a_turn_costs_its_seconds_on_the_way_to_the_first_spot_after_it() -> None:
    text = changed(("move_seconds = 8", "move_seconds = 8\nturn_seconds = 45"), text=HIPS)
    for given_text, turn_s in ((HIPS, 30), (text, 45)):
        spots = spots_of(read(given_text))
        assert spots[0].turn_ns == 0
        for before, spot in pairwise(spots):
            turned = before.position != spot.position
            assert spot.turn_ns == (turn_s * NS_PER_S if turned else 0)
            assert spot.move_ns == 8 * NS_PER_S + spot.turn_ns


def test_a_pinned_plan_keeps_the_order_of_the_file() -> None:
    hip, lumbar = (HIPS.split("[[regions]]")[n] for n in (2, 1))
    text = changed(PINNED, text=HIPS.replace(lumbar, "@").replace(hip, lumbar).replace("@", hip))
    regions = [spot.region for spot in spots_of(read(text)) if not spot.settle]
    assert list(dict.fromkeys(regions)) == ["hip", "lumbar", "stifle"]
    session = session_of(read(text))
    assert session.free is not None
    assert session.ordered.turns > session.free.turns
    assert [spot.region for spot in spots_of(read(HIPS))][2] == "lumbar"


@settings(deadline=None)
@given(any_plans())
def test_a_pinned_order_is_never_better_than_the_free_one(any_plan: AnyPlan) -> None:
    text = usable(any_plan).text
    free = session_of(read(text))
    head = "[session]\n" if "[session]\n" in text else "[dog]\n"
    more = "[session]\npinned = true\n" + head.removeprefix("[session]\n")
    pinned = session_of(read(text.replace(head, more, 1)))
    assert free.ordered.turns <= pinned.ordered.turns
    assert sorted(map(place, free.spots), key=repr) == sorted(map(place, pinned.spots), key=repr)
    for session in (free, pinned):
        assert total_ns(session) == session.ordered.total_ns
        assert sum(spot.turn_ns > 0 for spot in session.spots) == session.ordered.turns


@settings(deadline=None, max_examples=60)
@given(any_plans(), st.integers(1, 240))
def test_a_short_session_fits_loses_nothing_and_shortens_no_hold(
    any_plan: AnyPlan, minutes: int
) -> None:
    plan = read(usable(any_plan).text)
    whole = session_of(plan)
    budget_ns = minutes * 60 * NS_PER_S
    try:
        short = session_of(plan, budget_ns=budget_ns)
    except NotShortened:
        assert total_ns(whole) > budget_ns
        return
    assert total_ns(short) <= budget_ns
    both = [*short.spots, *short.left_for_next]
    assert sorted(map(place, both), key=repr) == sorted(map(place, whole.spots), key=repr)
    assert sum(s.hold_ns for s in both) == sum(s.hold_ns for s in whole.spots)
    if not short.left_for_next:
        assert short.spots == whole.spots


def test_priorities_decide_what_is_left_for_the_next_session() -> None:
    first = changed(("joules_each_spot = 4", "joules_each_spot = 4\npriority = 1"))
    text = changed(("seconds_each_spot = 40", "seconds_each_spot = 40\npriority = 2"), text=first)
    # Settle 2 x 38 s, two hip spots 2 x 48 s and a turn of 30 s, then 48 s for each spot of the
    # back: 202 s and two of them are 298 s of 300.
    session = session_of(read(text), budget_ns=300 * NS_PER_S)
    assert sorted({s.region for s in session.spots}) == ["atlas", "hip", "lumbar"]
    assert total_ns(session) == 298 * NS_PER_S
    assert len(session.left_for_next) == 6
    assert {s.region for s in session.left_for_next} == {"lumbar"}
    # The other way round the back is done and the hip is left.
    other = changed(("joules_each_spot = 4", "joules_each_spot = 4\npriority = 2"))
    session = session_of(read(other), budget_ns=480 * NS_PER_S)
    assert {s.region for s in session.left_for_next} == {"hip"}


def test_the_next_session_has_every_spot_once_and_none_twice() -> None:
    plan = read(PLAN)
    assert session_of(plan, budget_ns=300 * NS_PER_S).left_for_next
    assert len(spots_of(plan)) == len(set(map(place, spots_of(plan)))) == 12


def test_a_shorter_session_is_refused_where_the_prescriber_forbids_it() -> None:
    plan = read(changed(("repeats_allowed = 1", "repeats_allowed = 1\nmay_be_shortened = false")))
    with pytest.raises(NotShortened, match="prescriber does not allow"):
        session_of(plan, budget_ns=300 * NS_PER_S)
    assert session_of(plan, budget_ns=3600 * NS_PER_S).spots == spots_of(plan)


def test_the_settle_alone_is_no_session() -> None:
    with pytest.raises(NotShortened, match="not one ordered spot fits"):
        session_of(read(PLAN), budget_ns=80 * NS_PER_S)


def test_a_journal_from_before_positions_still_gives_its_spots() -> None:
    record = {
        "index": 0,
        "region": "lumbar",
        "side": "left",
        "aspect": None,
        "number": 1,
        "of": 1,
        "hold_ns": 10**9,
        "move_ns": 0,
        "settle": False,
        "note": "",
    }
    (spot,) = spots_in([record])
    assert (spot.position, spot.turn_ns) == (None, 0)
