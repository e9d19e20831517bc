"""Which spots a plan gives, and in which order."""

import pytest

from coach.plan.spots import Spot, spots_of
from tests.plan.worlds import PLAN, changed, read

ACROSS = ('order = "one side at a time"', 'order = "across, level by level"')
NO_SETTLE = ("seconds_each_side = 30", "leave_out = true")
BARE = changed(NO_SETTLE)


def places(text: str) -> list[tuple[str, str, str | None, int]]:
    return [(s.region, s.side, s.aspect, s.number) for s in spots_of(read(text))]


def lumbar(text: str) -> list[tuple[str, int]]:
    return [(side, number) for region, side, _, number in places(text) if region == "lumbar"]


def test_the_settle_comes_first_left_then_right() -> None:
    settle = [spot for spot in spots_of(read(PLAN)) if spot.settle]
    assert [(s.index, s.region, s.side) for s in settle] == [
        (0, "atlas", "left"),
        (1, "atlas", "right"),
    ]
    assert {s.hold_ns for s in settle} == {30 * 10**9}


def test_the_settle_may_be_changed_or_left_out() -> None:
    longer = spots_of(read(changed(("seconds_each_side = 30", "seconds_each_side = 45.5"))))
    assert [s.hold_ns for s in longer if s.settle] == [45_500_000_000] * 2
    assert not any(s.settle for s in spots_of(read(BARE)))


def test_one_side_at_a_time() -> None:
    assert lumbar(BARE) == [("left", n) for n in (1, 2, 3, 4)] + [
        ("right", n) for n in (1, 2, 3, 4)
    ]


def test_across_level_by_level() -> None:
    text = changed(ACROSS, ('["left", "right"]', '["right", "middle", "left"]'), text=BARE)
    assert lumbar(text) == [
        (side, number) for number in (1, 2, 3, 4) for side in ("left", "middle", "right")
    ]


@pytest.mark.parametrize("text", [BARE, changed(ACROSS, text=BARE)], ids=["one side", "across"])
def test_a_joint_is_done_aspect_by_aspect_whatever_the_order(text: str) -> None:
    both = changed(('["right"]', '["right", "left"]'), ("spots = 1", "spots = 2"), text=text)
    assert [place for place in places(both) if place[0] == "hip"] == [
        ("hip", side, aspect, number)
        for side in ("left", "right")
        for aspect in ("lateral", "cranial")
        for number in (1, 2)
    ]


def test_a_spot_knows_its_place_its_time_and_the_prescribers_words() -> None:
    text = changed(("joules_each_spot = 4", 'joules_each_spot = 4\nnote = "Feel for the knob."'))
    assert spots_of(read(text))[-1] == Spot(
        index=11,
        region="hip",
        side="right",
        aspect="cranial",
        number=1,
        of=1,
        hold_ns=40 * 10**9,
        move_ns=8 * 10**9,
        note="Feel for the knob.",
        position="left lateral",
    )


@pytest.mark.parametrize(
    ("number", "of", "hold_ns", "move_ns"),
    [(1, 2, 0, 0), (1, 2, 10**9, -1), (0, 2, 10**9, 0), (3, 2, 10**9, 0)],
)
def test_what_is_no_spot_is_refused(number: int, of: int, hold_ns: int, move_ns: int) -> None:
    with pytest.raises(ValueError, match="not a spot"):
        Spot(
            index=0,
            region="lumbar",
            side="left",
            aspect=None,
            number=number,
            of=of,
            hold_ns=hold_ns,
            move_ns=move_ns,
        )
