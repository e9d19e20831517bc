"""From which position a spot is reached.

Common practice, no source: spine with the dog on its chest or standing; joints on the leg that
lies on top, inner faces on the leg that lies below; the lower neck also from the side.
"""

import pytest

from coach.body import regions
from coach.body.position import POSITION_WORDS, POSITIONS, Position, access
from coach.body.regions import Side


# Left lateral recumbency is lying on the left side (standard radiographic term): right on top.
@pytest.mark.parametrize(
    ("key", "side", "aspect", "positions", "awkward"),
    [
        ("atlas", "left", None, ("sternal", "standing"), ()),
        ("lumbar", "middle", None, ("sternal", "standing"), ()),
        ("neck_lower", "left", None, ("sternal", "standing", "right lateral"), ()),
        ("hip", "left", "lateral", ("right lateral",), ()),
        ("hip", "right", "caudal", ("left lateral",), ()),
        ("stifle", "left", "medial", ("left lateral", "right lateral"), ("right lateral",)),
        ("stifle", "right", "medial", ("right lateral", "left lateral"), ("left lateral",)),
    ],
)
def test_access(
    key: str,
    side: Side,
    aspect: str | None,
    positions: tuple[Position, ...],
    awkward: tuple[Position, ...],
) -> None:
    found = access(key, side, aspect)
    assert found.positions == positions
    assert found.awkward == awkward


def test_everything_can_be_reached() -> None:
    for key, place in regions().items():
        for side in place.sides:
            for aspect in place.aspects or (None,):
                found = access(key, side, aspect)
                assert found.positions
                assert set(found.awkward) < set(found.positions)


def test_every_position_has_words_that_say_which_side_is_up() -> None:
    assert set(POSITION_WORDS) == set(POSITIONS)
    assert POSITION_WORDS["left lateral"] == "on its left side, right side on top"
    assert POSITION_WORDS["right lateral"] == "on its right side, left side on top"
