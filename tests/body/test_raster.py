"""The canvas: which dots a line takes, what erasing leaves, what a cell becomes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.body.raster import Canvas, Look


def canvas(width: int = 4, height: int = 2, look: Look = "colour") -> Canvas:
    return Canvas(width=width, height=height, look=look, roles=("low", "high"))


def text(drawn: Canvas) -> list[str]:
    return ["".join(sign for sign, _ in row) for row in drawn.cells()]


def dots(drawn: Canvas) -> set[tuple[int, int]]:
    """Dots that are set, read back from the braille characters.

    Unicode block U+2800 (Unicode standard): dots 1, 2, 3, 7 go down the left column and 4, 5,
    6, 8 down the right; bit n - 1 is dot n.
    """
    order = {0: (0, 0), 1: (0, 1), 2: (0, 2), 6: (0, 3), 3: (1, 0), 4: (1, 1), 5: (1, 2), 7: (1, 3)}
    return {
        (2 * column + x, 4 * row + y)
        for row, line in enumerate(text(drawn))
        for column, sign in enumerate(line)
        if sign != " "
        for bit, (x, y) in order.items()
        if (ord(sign) - 0x2800) >> bit & 1
    }


def test_nothing_drawn_is_blank() -> None:
    assert canvas().cells() == [[(" ", "")] * 4] * 2


# Unicode names: U+2809 BRAILLE PATTERN DOTS-14, U+28C0 DOTS-78, U+2847 DOTS-1237.
@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        ((0, 0), (7, 0), ["⠉⠉⠉⠉", "    "]),
        ((0, 7), (7, 7), ["    ", "⣀⣀⣀⣀"]),
        ((0, 0), (0, 7), ["⡇   ", "⡇   "]),
    ],
)
def test_braille_cells(
    start: tuple[float, float], end: tuple[float, float], expected: list[str]
) -> None:
    drawn = canvas()
    drawn.line(start, end, "low")
    assert text(drawn) == expected


COORDINATE = st.integers(-40, 60)


@given(COORDINATE, COORDINATE, COORDINATE, COORDINATE)
def test_a_line_is_connected_and_stays_on_the_canvas(x0: int, y0: int, x1: int, y1: int) -> None:
    drawn = canvas(10, 5)
    drawn.line((x0 + 0.5, y0 + 0.5), (x1 + 0.5, y1 + 0.5), "low")
    found = sorted(dots(drawn))
    assert all(0 <= x < 20 and 0 <= y < 20 for x, y in found)
    for end in ((x0, y0), (x1, y1)):
        if 0 <= end[0] < 20 and 0 <= end[1] < 20:
            assert end in found
    reached, waiting = set(found[:1]), found[:1]
    while waiting:
        x, y = waiting.pop()
        near = {(x + dx, y + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)} & set(found) - reached
        reached |= near
        waiting += near
    assert reached == set(found)


def test_erase_takes_the_inside_and_leaves_the_rest() -> None:
    drawn = canvas(10, 5)
    for row in range(20):
        drawn.line((0.5, row + 0.5), (19.5, row + 0.5), "low")
    drawn.erase(((5, 5), (15, 5), (15, 15), (5, 15)))
    inside = {(x, y) for x in range(5, 15) for y in range(5, 15)}
    assert dots(drawn) == {(x, y) for x in range(20) for y in range(20)} - inside


def test_erase_leaves_what_a_hollow_holds() -> None:
    """A U lying open at the top: the notch is outside of it (even-odd rule)."""
    drawn = canvas(10, 5)
    drawn.line((0.5, 4.5), (19.5, 4.5), "low")
    drawn.erase(((2, 0), (6, 0), (6, 10), (14, 10), (14, 0), (18, 0), (18, 16), (2, 16)))
    assert {x for x, _ in dots(drawn)} == {0, 1, *range(6, 14), 18, 19}


def test_erase_beyond_the_edges_is_cut_off() -> None:
    drawn = canvas(10, 5)
    drawn.line((0.5, 4.5), (19.5, 4.5), "low")
    drawn.erase(((-50, -50), (50, -50), (50, 50), (-50, 50)))
    assert dots(drawn) == set()


def test_a_cell_takes_the_highest_role_in_it() -> None:
    drawn = canvas()
    drawn.line((0.5, 0.5), (7.5, 0.5), "low")
    drawn.line((2.5, 3.5), (3.5, 3.5), "high")
    assert [role for _, role in drawn.cells()[0]] == ["low", "high", "low", "low"]


# What a person would type for such a stroke.
@pytest.mark.parametrize(
    ("start", "end", "sign"),
    [
        ((0, 3), (3, 3), "-"),
        ((0, 7), (3, 7), "_"),
        ((1, 0), (1, 7), "|"),
        ((3, 0), (3, 7), "|"),
        ((3, 0), (0, 7), "/"),
        ((0, 0), (3, 7), "\\"),
        ((1, 7), (1, 7), "."),
        ((1, 0), (1, 1), "'"),
    ],
)
def test_console_signs(start: tuple[float, float], end: tuple[float, float], sign: str) -> None:
    drawn = canvas(1, 1, "console")
    drawn.line(start, end, "low")
    assert text(drawn) == [sign]


def test_a_closed_line_comes_back() -> None:
    drawn = canvas(4, 2)
    drawn.lines(((0.5, 0.5), (7.5, 0.5), (7.5, 7.5), (0.5, 7.5)), "low", closed=True)
    assert text(drawn) == ["⡏⠉⠉⢹", "⣇⣀⣀⣸"]
