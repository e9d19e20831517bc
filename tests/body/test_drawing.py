"""The dog on the screen: the right place, told by shape, the same in both looks.

The pictures under ``pictures/`` were looked at by a person as rendered images before they were
kept. To accept a change, print the drawing, look at it, and only then replace the file.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.body import regions
from coach.body.drawing import SIGNS, Drawing, Mark, draw_dog, facing_side, view_of
from coach.body.outline import View
from coach.body.raster import Look
from coach.body.regions import Side

PICTURES = Path(__file__).parent / "pictures"
LOOKS: tuple[Look, ...] = get_args(Look)
SIZES = [(40, 12), (60, 20), (110, 30)]


def session(
    width: int,
    height: int,
    look: Look,
    key: str,
    side: Side,
    aspect: str | None = None,
    *,
    number: int = 2,
    of: int = 3,
    view: View | None = None,
) -> Drawing:
    """A session that stands at spot ``number`` of ``of``."""
    marks = [Mark(region=key, side=side, aspect=aspect, number=n, of=of) for n in range(1, of + 1)]
    return draw_dog(
        width=width,
        height=height,
        look=look,
        view=view or view_of(key),
        side=side,
        region=key,
        aspect=aspect,
        done=marks[: number - 1],
        current=marks[number - 1],
        coming=marks[number:],
    )


def cells(drawing: Drawing) -> Iterator[tuple[int, int, str, str]]:
    """(column, row, sign, role) of every cell."""
    for row, runs in enumerate(drawing.rows):
        column = 0
        for run in runs:
            for sign in run.text:
                yield column, row, sign, run.role
                column += 1


def centre(drawing: Drawing) -> tuple[float, float]:
    """Middle of the block of the current spot."""
    block = [(x, y) for x, y, _, role in cells(drawing) if role in ("current", "number")]
    return sum(x for x, _ in block) / len(block), sum(y for _, y in block) / len(block)


PLACES = [
    (key, side, aspect)
    for key, place in regions().items()
    for side in place.sides
    for aspect in (place.aspects or (None,))
]
ANY_PLACE = st.sampled_from(PLACES)
ANY_LOOK = st.sampled_from(LOOKS)


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize(
    ("key", "side", "aspect"), [("lumbar", "left", None), ("stifle", "right", "lateral")]
)
def test_pictures(
    key: str, side: Side, aspect: str | None, width: int, height: int, look: Look
) -> None:
    drawn = session(width, height, look, key, side, aspect).text()
    kept = PICTURES / f"{key}-{side}-{width}x{height}-{look}.txt"
    assert drawn == kept.read_text(encoding="utf-8").removesuffix("\n")


@given(st.integers(1, 130), st.integers(1, 40), ANY_LOOK, ANY_PLACE)
@settings(max_examples=60, deadline=None)
def test_every_row_fills_the_width(
    width: int, height: int, look: Look, place: tuple[str, Side, str | None]
) -> None:
    drawn = session(width, height, look, *place)
    assert len(drawn.rows) == height
    assert all(sum(len(run.text) for run in row) == width for row in drawn.rows)


# The Linux console without a font of ours: ASCII is what every console font has.
@pytest.mark.parametrize("place", PLACES)
def test_the_console_look_is_plain_ascii(place: tuple[str, Side, str | None]) -> None:
    assert session(60, 20, "console", *place).text().isascii()


# Unicode blocks: Braille Patterns U+2800-28FF, Block Elements U+2580-259F.
@pytest.mark.parametrize("place", PLACES)
def test_the_colour_look_keeps_to_braille_blocks_and_its_signs(
    place: tuple[str, Side, str | None],
) -> None:
    for _, _, sign, _ in cells(session(60, 20, "colour", *place)):
        allowed = sign.isascii() or 0x2800 <= ord(sign) <= 0x28FF or 0x2580 <= ord(sign) <= 0x259F
        assert allowed or sign in "✓○◀▶"


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("place", PLACES)
def test_the_current_spot_is_one_block_with_its_number(
    place: tuple[str, Side, str | None], look: Look
) -> None:
    drawn = session(60, 20, look, *place)
    block = {(x, y) for x, y, _, role in cells(drawn) if role in ("current", "number")}
    columns, rows = {x for x, _ in block}, {y for _, y in block}
    assert max(rows) - min(rows) <= 2
    assert max(columns) - min(columns) <= 4
    assert len(block) >= 9
    assert [sign for _, _, sign, role in cells(drawn) if role == "number"] == ["2"]


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("place", PLACES)
def test_states_differ_by_shape_and_neighbours_stay_visible(
    place: tuple[str, Side, str | None], look: Look
) -> None:
    """Without any colour: one sign a state, and as many of them as there are spots."""
    drawn = session(60, 20, look, *place)
    for state, count in (("done", 1), ("coming", 1)):
        assert [s for _, _, s, role in cells(drawn) if role == state] == [
            SIGNS[look][state]
        ] * count
    assert len({SIGNS[look]["done"], SIGNS[look]["coming"], "#", "█"}) == 4


@given(ANY_PLACE, ANY_LOOK, st.integers(1, 7), st.integers(1, 7))
@settings(max_examples=60, deadline=None)
def test_spots_of_a_region_stand_in_their_order(
    place: tuple[str, Side, str | None], look: Look, number: int, of: int
) -> None:
    """Done ones on one side of the block, coming ones on the other, none on top of another."""
    drawn = session(110, 30, look, *place, number=min(number, of), of=of)
    x0, y0 = centre(drawn)
    done = [(x, y) for x, y, _, role in cells(drawn) if role == "done"]
    coming = [(x, y) for x, y, _, role in cells(drawn) if role == "coming"]
    assert len(done) == min(number, of) - 1
    assert len(coming) == of - min(number, of)
    for first in done:
        for last in coming:
            # Seen from the block they lie in opposite directions.
            assert (first[0] - x0) * (last[0] - x0) + 4 * (first[1] - y0) * (last[1] - y0) < 0


@pytest.mark.parametrize("look", LOOKS)
def test_from_above_the_dogs_left_is_below_with_the_head_to_the_left(look: Look) -> None:
    left, middle, right = (
        centre(session(60, 20, look, "lumbar", side))[1] for side in ("left", "middle", "right")
    )
    assert right < middle < left
    text = session(60, 20, look, "lumbar", "left").text().splitlines()
    assert "dog's right" in text[0]
    assert "dog's left" in text[-1]
    assert text[-1].index("head") < text[-1].index("tail")


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize(
    ("key", "aspect"), [("neck_lower", None), ("hip", "lateral"), ("carpus", "dorsal")]
)
def test_the_right_side_is_the_left_side_in_a_mirror(
    key: str, aspect: str | None, width: int, height: int, look: Look
) -> None:
    left = centre(session(width, height, look, key, "left", aspect, of=3))
    right = centre(session(width, height, look, key, "right", aspect, of=3))
    assert left[1] == right[1]
    assert abs(left[0] - (width - 1 - right[0])) <= 1
    words = session(width, height, look, key, "right", aspect).text().splitlines()[-1]
    assert words.index("tail") < words.index("head")


def test_an_inner_face_is_seen_on_the_leg_below() -> None:
    """Common practice, no source: the inside is worked on the leg the dog lies on."""
    assert facing_side("left", "medial") == "right"
    assert facing_side("right", "medial") == "left"
    assert facing_side("left", "lateral") == facing_side("middle", None) == "left"
    assert facing_side("right", "caudal") == "right"
    words = session(60, 20, "console", "stifle", "left", "medial").text().splitlines()[-1]
    assert words.index("tail") < words.index("head")


def test_spots_on_the_side_turned_away_are_left_out() -> None:
    hidden = Mark(region="hip", side="right", aspect="lateral")
    drawn = draw_dog(
        width=60, height=20, look="console", side="left", region="hip", aspect="lateral",
        done=[hidden], coming=[hidden],
    )  # fmt: skip
    assert not {role for *_, role in cells(drawn)} & {"done", "coming"}


def test_small_sizes_zoom_to_the_region_and_large_ones_show_the_dog() -> None:
    """The block of a hind foot and of the neck lie far apart only where the whole dog shows."""
    for width, height in ((69, 20), (70, 19)):
        neck = centre(session(width, height, "colour", "atlas", "left"))
        assert neck[0] > width / 4
    neck = centre(session(70, 20, "colour", "atlas", "left"))
    foot = centre(session(70, 20, "colour", "hindpaw", "left", "dorsal"))
    assert neck[0] < 70 / 4
    assert foot[0] > 70 * 0.7
    assert foot[1] > 15 > 8 > neck[1]


def test_a_region_without_spots_shows_its_line() -> None:
    drawn = draw_dog(width=60, height=20, look="colour", view="top", region="lumbar")
    roles = {role for *_, role in cells(drawn)}
    assert "region" in roles
    assert not roles & {"done", "coming", "current", "number"}


def test_a_plain_dog_needs_no_region() -> None:
    assert "head" in draw_dog(width=60, height=20, look="console").text()


def test_what_has_no_line_is_refused() -> None:
    with pytest.raises(ValueError, match="no line for hip, left, no aspect"):
        draw_dog(width=60, height=20, look="colour", region="hip")
    with pytest.raises(ValueError, match="0 x 20 found"):
        draw_dog(width=0, height=20, look="colour")


def test_the_spine_is_seen_from_above_and_the_rest_from_the_side() -> None:
    for key, place in regions().items():
        spine = place.kind == "axial" and not key.startswith(("neck", "atlas"))
        assert view_of(key) == ("top" if spine else "side")
