"""A small canvas of dots that becomes a grid of characters.

Lines and fill-erase on bitmaps (one whole number a row of dots, one bitmap a role), then one
character and one role a cell: the role with the highest priority that has a dot there. Glyphs
go on top. Two looks: ``colour`` packs 2 x 4 dots into a braille character; ``console`` has only
ASCII, and takes for 4 x 8 dots the sign that is most like them.
"""

import math
from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from typing import Literal

from coach.body.outline import Path, Point

Look = Literal["colour", "console"]
Cell = tuple[str, str]

BLANK: Cell = (" ", "")

DOTS: dict[Look, tuple[int, int]] = {"colour": (2, 4), "console": (4, 8)}

# Dots of a braille character by (column, row): Unicode block U+2800, dots 1-8.
_BRAILLE = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))

# ASCII signs as they look in a cell of 4 x 8 dots, several pictures where a sign may stand for
# a line that runs a little beside it.
_SIGNS = (
    (".", ".... .... .... .... .... .... .##. .##."),
    ("'", ".#.. .#.. .#.. .... .... .... .... ...."),
    ("'", "..#. ..#. ..#. .... .... .... .... ...."),
    ("-", ".... #### .... .... .... .... .... ...."),
    ("-", ".... .... #### .... .... .... .... ...."),
    ("-", ".... .... .... #### .... .... .... ...."),
    ("-", ".... .... .... .... #### .... .... ...."),
    ("-", ".... .... .... .... .... #### .... ...."),
    ("_", ".... .... .... .... .... .... #### ...."),
    ("_", ".... .... .... .... .... .... .... ####"),
    ('"', "#### .... .... .... .... .... .... ...."),
    ("|", "#... #... #... #... #... #... #... #..."),
    ("|", ".#.. .#.. .#.. .#.. .#.. .#.. .#.. .#.."),
    ("|", "..#. ..#. ..#. ..#. ..#. ..#. ..#. ..#."),
    ("|", "...# ...# ...# ...# ...# ...# ...# ...#"),
    ("/", "...# ...# ..#. ..#. .#.. .#.. #... #..."),
    ("\\", "#... #... .#.. .#.. ..#. ..#. ...# ...#"),
    (",", ".... .... .... .... .... .##. .#.. #..."),
    ("`", "##.. .##. .... .... .... .... .... ...."),
    ("~", ".... .... .... ##.. ..## .... .... ...."),
)


class Canvas:
    """``width`` x ``height`` cells. Dot (0, 0) is the top left; roles are given lowest first."""

    def __init__(self, *, width: int, height: int, look: Look, roles: Sequence[str]) -> None:
        self.width = width
        self.height = height
        self.look: Look = look
        self.dots_x, self.dots_y = DOTS[look]
        self.columns = width * self.dots_x
        self.rows = height * self.dots_y
        self._bits = {role: [0] * self.rows for role in roles}

    def line(self, start: Point, end: Point, role: str) -> None:
        """A straight line of dots; what lies outside is cut off."""
        cut = self._cut(start, end)
        if cut is None:
            return
        (x0, y0), (x1, y1) = cut
        bits = self._bits[role]
        steps = max(1, math.ceil(max(abs(x1 - x0), abs(y1 - y0))))
        for step in range(steps + 1):
            x = int(x0 + (x1 - x0) * step / steps)
            y = int(y0 + (y1 - y0) * step / steps)
            if 0 <= x < self.columns and 0 <= y < self.rows:
                bits[y] |= 1 << x

    def lines(self, path: Path, role: str, *, closed: bool = False) -> None:
        """A line through all points of ``path``, and back to the first when ``closed``."""
        for start, end in pairwise(path):
            self.line(start, end, role)
        if closed:
            self.line(path[-1], path[0], role)

    def erase(self, polygon: Path) -> None:
        """Take away every dot inside ``polygon`` (even-odd rule), whatever its role."""
        crossings: dict[int, list[float]] = {}
        for (x0, y0), (x1, y1) in pairwise((*polygon, polygon[0])):
            if y0 > y1:
                (x0, y0), (x1, y1) = (x1, y1), (x0, y0)
            # Rows whose middle lies in y0 < middle <= y1.
            first, last = math.floor(y0 + 0.5), math.floor(y1 + 0.5)
            for row in range(max(0, first), min(self.rows, last)):
                crossings.setdefault(row, []).append(x0 + (row + 0.5 - y0) * (x1 - x0) / (y1 - y0))
        for row, found in crossings.items():
            found.sort()
            inside = 0
            for left, right in zip(found[::2], found[1::2], strict=True):
                start = max(0, round(left))
                end = min(self.columns, round(right))
                if end > start:
                    inside |= ((1 << (end - start)) - 1) << start
            if inside:
                for bits in self._bits.values():
                    bits[row] &= ~inside

    def cells(self) -> list[list[Cell]]:
        """Rows of (character, role)."""
        return [self._cell_row(top) for top in range(0, self.rows, self.dots_y)]

    def _cell_row(self, top: int) -> list[Cell]:
        strips = [
            (role, bits[top : top + self.dots_y]) for role, bits in reversed(self._bits.items())
        ]
        strips = [(role, rows) for role, rows in strips if any(rows)]
        merged = [0] * self.dots_y
        for _, rows in strips:
            merged = [a | b for a, b in zip(merged, rows, strict=True)]
        mask = (1 << self.dots_x) - 1
        sign = _braille if self.look == "colour" else _ascii
        found: list[Cell] = []
        for shift in range(0, self.columns, self.dots_x):
            dots = tuple((row >> shift) & mask for row in merged)
            if not any(dots):
                found.append(BLANK)
                continue
            role = next(r for r, rows in strips if any((row >> shift) & mask for row in rows))
            found.append((sign(dots), role))
        return found

    def _cut(self, start: Point, end: Point) -> tuple[Point, Point] | None:
        """The part of a line that lies on the canvas (Liang-Barsky), or None."""
        (x0, y0), (x1, y1) = start, end
        first, last = 0.0, 1.0
        for delta, room_before, room_after in (
            (x1 - x0, x0, self.columns - x0),
            (y1 - y0, y0, self.rows - y0),
        ):
            if delta == 0:
                if room_before < 0 or room_after < 0:
                    return None
                continue
            enter, leave = sorted((-room_before / delta, room_after / delta))
            first, last = max(first, enter), min(last, leave)
        if first > last:
            return None
        return (
            (x0 + (x1 - x0) * first, y0 + (y1 - y0) * first),
            (x0 + (x1 - x0) * last, y0 + (y1 - y0) * last),
        )


@cache
def _braille(dots: tuple[int, ...]) -> str:
    code = 0
    for row, weights in zip(dots, _BRAILLE, strict=True):
        for column, weight in enumerate(weights):
            if row >> column & 1:
                code |= weight
    return chr(0x2800 + code)


def _spread(rows: Sequence[int]) -> int:
    """Dots of a cell as one number, each blurred into its neighbours."""
    blurred = 0
    for number, row in enumerate(rows):
        wide = row | row << 1 | row >> 1
        for near in (number - 1, number, number + 1):
            if 0 <= near < len(rows):
                blurred |= (wide & 0xF) << (4 * near)
    return blurred


def _packed(rows: Sequence[int]) -> int:
    return sum(row << (4 * number) for number, row in enumerate(rows))


def _sign_rows(picture: str) -> tuple[int, ...]:
    return tuple(
        sum(1 << column for column, dot in enumerate(row) if dot == "#") for row in picture.split()
    )


@cache
def _sign_table() -> tuple[tuple[str, int, int], ...]:
    """(sign, its dots, its dots blurred)."""
    rows = [(sign, _sign_rows(picture)) for sign, picture in _SIGNS]
    return tuple((sign, _packed(dots), _spread(dots)) for sign, dots in rows)


@cache
def _ascii(dots: tuple[int, ...]) -> str:
    """The sign that misses the fewest dots and adds the fewest, near misses forgiven."""
    exact, blurred = _packed(dots), _spread(dots)

    def unlike(entry: tuple[str, int, int]) -> tuple[int, int]:
        _, sign, sign_blurred = entry
        far = (exact & ~sign_blurred).bit_count() + (sign & ~blurred).bit_count()
        return far, (exact ^ sign).bit_count()

    return min(_sign_table(), key=unlike)[0]
