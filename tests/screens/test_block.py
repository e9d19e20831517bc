"""Letters and digits from full blocks: they fit, they scale, and each can be told from the rest."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.body.regions import regions
from coach.screens import block_letters

NARROWEST = 60


def test_every_letter_of_a_font_is_different_and_five_rows_high() -> None:
    for font in (block_letters.WIDE, block_letters.NARROW):
        drawn = [font[letter] for letter in string.ascii_uppercase]
        assert len(set(drawn)) == 26
        for rows in drawn:
            assert len(rows) == block_letters.LETTER_ROWS
            assert len({len(row) for row in rows}) == 1


@given(
    text=st.text(alphabet=string.ascii_uppercase + " ", min_size=1, max_size=10),
    width=st.integers(1, 240),
    height=st.integers(0, 40),
)
def test_letters_keep_within_their_room(text: str, width: int, height: int) -> None:
    rows = block_letters.letters(text, width=width, height=height)
    if rows is None:
        narrow = block_letters.beside([block_letters.NARROW[letter] for letter in text], 1)
        assert not text.strip() or height < block_letters.LETTER_ROWS or len(narrow[0]) > width
        return
    assert len(rows) <= height
    assert {len(row) for row in rows} == {len(rows[0])}
    assert len(rows[0]) <= width
    assert set("".join(rows)) <= {block_letters.FULL, " "}


@pytest.mark.parametrize("key", regions())
def test_every_region_fits_the_smallest_screen_in_wide_letters(key: str) -> None:
    name = regions()[key].block
    rows = block_letters.letters(name, width=NARROWEST, height=block_letters.LETTER_ROWS)
    assert rows == block_letters.beside([block_letters.WIDE[letter] for letter in name], 1)


def test_letters_refuse_what_they_cannot_draw() -> None:
    assert block_letters.letters("Zoë 2", width=200, height=20) is None
    assert block_letters.letters(" ", width=200, height=20) is None


@given(
    seconds=st.integers(0, 35_999),
    width=st.integers(1, 240),
    height=st.integers(0, 40),
)
def test_digits_have_exactly_the_height_asked_for(seconds: int, width: int, height: int) -> None:
    text = f"{seconds // 60}:{seconds % 60:02d}" if seconds >= 60 else str(seconds)
    rows = block_letters.digits(text, width=width, height=height)
    if rows is None:
        # Three columns a digit and one for each colon and each gap always do.
        least = 3 * sum(sign.isdigit() for sign in text) + text.count(":") + len(text) - 1
        assert height < block_letters.LETTER_ROWS or width < least
        return
    assert len(rows) == height
    assert {len(row) for row in rows} == {len(rows[0])}
    assert len(rows[0]) <= width


@pytest.mark.parametrize("height", range(5, 41))
def test_digits_can_be_told_apart_at_every_size(height: int) -> None:
    for width in (3, 4, height, 400):
        drawn = {block_letters.digits(digit, width=width, height=height) for digit in string.digits}
        assert len(drawn - {None}) == 10


def test_a_countdown_keeps_the_size_of_its_longest_text() -> None:
    long = block_letters.digits("10", width=40, height=7)
    short = block_letters.digits("9", width=40, height=7, like="10")
    assert long is not None
    assert short is not None
    # "10" is two digits and a gap of a quarter of one.
    assert len(long[0]) == 2 * len(short[0]) + len(short[0]) // 4


# A seven-stroke digit as everybody knows it from clocks and ovens: common practice, no source.
SEVEN = ("███", "  █", "  █", "  █", "  █")
THREE = ("███", "  █", "███", "  █", "███")
SIX = ("███", "█  ", "███", "█ █", "███")


@pytest.mark.parametrize(("digit", "rows"), [("7", SEVEN), ("3", THREE), ("6", SIX)])
def test_small_digits_look_like_those_of_a_clock(digit: str, rows: block_letters.Rows) -> None:
    assert block_letters.digits(digit, width=3, height=5) == rows


@pytest.mark.parametrize("height", [5, 10, 15, 20])
def test_the_shapes_of_move_and_pause_differ(height: int) -> None:
    bars, stairs = block_letters.two_bars(height), block_letters.stairs(height)
    assert bars != stairs
    assert all(row == row[::-1] for row in bars)
    assert len(bars) == len(stairs) == height
