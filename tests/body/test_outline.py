"""The outline: every region has its line, where a dog has it.

Facts of anatomy are textbook knowledge (common practice, no source) unless a source stands
beside them. x runs from the nose (0) to the tip of the tail (1), y up from the ground.
"""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.body import regions
from coach.body.outline import Point, View, along, outline

VIEWS: tuple[View, ...] = ("side", "top")
SPINE = [key for key, place in regions().items() if "middle" in place.sides]


def middle(key: str, view: View, side: str, aspect: str | None = None) -> Point:
    (found,) = [
        place.path for name, place in outline().paths.items() if name == (key, view, side, aspect)
    ]
    return along(found, Fraction(1, 2))


def test_every_region_side_and_aspect_has_a_line_in_both_views() -> None:
    wanted = {
        (key, view, side, aspect)
        for key, place in regions().items()
        for view in VIEWS
        for side in place.sides
        for aspect in (place.aspects or [None])
    }
    assert set(outline().paths) == wanted


def test_the_spine_runs_from_head_to_tail() -> None:
    for view in VIEWS:
        centres = [middle(key, view, "left")[0] for key in list(regions())[:10]]
        assert centres == sorted(centres)
        for side in ("left", "middle", "right"):
            centres = [middle(key, view, side)[0] for key in SPINE]
            assert centres == sorted(centres)


def test_seen_from_above_left_is_left() -> None:
    """The head is to the left of the picture, so the dog's left is below (y < 0)."""
    for key in SPINE:
        assert middle(key, "top", "left")[1] < 0 < middle(key, "top", "right")[1]
        assert middle(key, "top", "middle")[1] == 0


# Measured on the mesh itself: in the neck the bone lies 98 mm below the top line at C5, so the
# side of the neck is what is worked; 1 unit is 1248.5 mm.
def test_neck_lines_lie_on_the_side_of_the_neck_not_on_its_top() -> None:
    neck = outline().paths["neck_lower", "side", "left", None].path
    c5_top_y = 0.4806
    assert all(c5_top_y - y > 30 / 1248.5 for _, y in neck)


# The tip of the last rib lies about 55 mm behind the junction (measured on the mesh).
def test_the_thoracolumbar_line_lies_forward_of_the_tip_of_the_last_rib() -> None:
    tip_x = 0.5163
    assert all(x < tip_x for x, _ in outline().paths["thoracolumbar", "side", "left", None].path)


def test_joints_lie_in_order_down_the_limbs() -> None:
    for limb in (("shoulder", "elbow", "carpus", "forepaw"), ("hip", "stifle", "hock", "hindpaw")):
        aspects = ["lateral", "lateral", "lateral", "dorsal"]
        heights = [middle(key, "side", "left", a)[1] for key, a in zip(limb, aspects, strict=True)]
        assert all(upper > lower + 0.03 for upper, lower in pairwise(heights))
    assert middle("shoulder", "side", "left", "lateral")[0] < 0.4
    assert middle("hip", "side", "left", "lateral")[0] > 0.6


def test_front_and_back_faces_of_joints() -> None:
    for key in ("shoulder", "elbow", "hip", "stifle"):
        front = middle(key, "side", "left", "cranial")[0]
        assert front < middle(key, "side", "left", "caudal")[0]
    for key, behind in (("carpus", "palmar"), ("hock", "plantar")):
        assert middle(key, "side", "left", "dorsal")[0] < middle(key, "side", "left", behind)[0]


def test_the_body_hides_inner_faces_of_the_near_leg_and_outer_faces_of_the_far_one() -> None:
    for key in ("elbow", "carpus", "stifle", "hock"):
        paths = outline().paths
        assert paths[key, "side", "left", "lateral"].visible
        assert not paths[key, "side", "left", "medial"].visible
        assert paths[key, "side", "right", "medial"].visible
        assert not paths[key, "side", "right", "lateral"].visible


def test_zooms_hold_their_regions() -> None:
    for (key, view, _, _), place in outline().paths.items():
        left, bottom, right, top = outline().zoom(view, key)
        assert all(left <= x <= right and bottom <= y <= top for x, y in place.path), key
    assert outline().zoom("side", None) == outline().views["side"].zooms["all"]


# By hand: an L of 3 and 4, 7 long; its middle lies 0.5 along the second leg.
def test_along_measures_the_way_and_not_the_corners() -> None:
    path = ((0.0, 0.0), (3.0, 0.0), (3.0, 4.0))
    assert along(path, Fraction(1, 2)) == (3.0, 0.5)
    assert along(path, 0) == (0.0, 0.0)
    assert along(path, 1) == (3.0, 4.0)


@given(st.floats(0, 1), st.floats(0, 1))
def test_along_goes_forward_only(first: float, second: float) -> None:
    path = ((0.0, 0.0), (3.0, 0.0), (3.0, 0.0), (3.0, 4.0))
    first, second = sorted((first, second))
    assert sum(along(path, first)) <= sum(along(path, second)) + 1e-12


@pytest.mark.parametrize("share", [-0.01, 1.01])
def test_along_refuses_what_is_off_the_line(share: float) -> None:
    with pytest.raises(ValueError, match="allowed: 0 to 1"):
        along(((0.0, 0.0), (1.0, 0.0)), share)
