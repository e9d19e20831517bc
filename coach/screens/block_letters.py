"""Letters, digits and shapes drawn from the full block, the one large glyph of every console.

Everything here returns rows of text, all equally long, made of ``FULL`` and spaces.
"""

from collections.abc import Mapping, Sequence

Rows = tuple[str, ...]

FULL = "█"
LETTER_ROWS = 5

# One line a letter, its five rows side by side.
_WIDE = """
' # # . . .
A .###. #...# ##### #...# #...#
B ####. #...# ####. #...# ####.
C .#### #.... #.... #.... .####
D ####. #...# #...# #...# ####.
E ##### #.... ####. #.... #####
F ##### #.... ####. #.... #....
G .#### #.... #..## #...# .####
H #...# #...# ##### #...# #...#
I ### .#. .#. .#. ###
J ..### ...#. ...#. #..#. .##..
K #...# #..#. ###.. #..#. #...#
L #.... #.... #.... #.... #####
M #...# ##.## #.#.# #...# #...#
N #...# ##..# #.#.# #..## #...#
O .###. #...# #...# #...# .###.
P ####. #...# ####. #.... #....
Q .###. #...# #.#.# #..#. .##.#
R ####. #...# ####. #..#. #...#
S .#### #.... .###. ....# ####.
T ##### ..#.. ..#.. ..#.. ..#..
U #...# #...# #...# #...# .###.
V #...# #...# #...# .#.#. ..#..
W #...# #...# #.#.# ##.## #...#
X #...# .#.#. ..#.. .#.#. #...#
Y #...# .#.#. ..#.. ..#.. ..#..
Z ##### ...#. ..#.. .#... #####
"""
_NARROW = """
' # # . . .
A .#. #.# ### #.# #.#
B ##. #.# ##. #.# ##.
C .## #.. #.. #.. .##
D ##. #.# #.# #.# ##.
E ### #.. ##. #.. ###
F ### #.. ##. #.. #..
G .## #.. #.# #.# .##
H #.# #.# ### #.# #.#
I # # # # #
J ..# ..# ..# #.# .#.
K #.# #.# ##. #.# #.#
L #.. #.. #.. #.. ###
M #...# ##.## #.#.# #...# #...#
N #..# ##.# #.## #..# #..#
O ### #.# #.# #.# ###
P ### #.# ### #.. #..
Q ### #.# #.# ### ..#
R ##. #.# ##. #.# #.#
S ### #.. ### ..# ###
T ### .#. .#. .#. .#.
U #.# #.# #.# #.# ###
V #.# #.# #.# #.# .#.
W #...# #...# #.#.# ##.## #...#
X #.# #.# .#. #.# #.#
Y #.# #.# .#. .#. .#.
Z ### ..# .#. #.. ###
"""


def _font(drawn: str, space: int) -> Mapping[str, Rows]:
    font: dict[str, Rows] = {" ": (" " * space,) * LETTER_ROWS}
    for line in drawn.strip().splitlines():
        letter, *rows = line.split()
        font[letter] = tuple(row.replace("#", FULL).replace(".", " ") for row in rows)
    return font


WIDE = _font(_WIDE, 3)
NARROW = _font(_NARROW, 2)


def beside(pictures: Sequence[Rows], gap: int) -> Rows:
    """Pictures of one height, left to right, ``gap`` columns between them."""
    return tuple((" " * gap).join(parts) for parts in zip(*pictures, strict=True))


def scaled(rows: Rows, factor: int) -> Rows:
    """Each cell drawn ``factor`` times as wide and as high."""
    wide = ["".join(cell * factor for cell in row) for row in rows]
    return tuple(row for row in wide for _ in range(factor))


def letters(text: str, *, width: int, height: int) -> Rows | None:
    """``text`` as large as fits in ``width`` x ``height`` cells.

    Taller wins, then wider. None when it does not fit at all or has other characters than
    A to Z, the apostrophe and the space.
    """
    text = text.upper()
    if not text.strip() or any(letter not in WIDE for letter in text):
        return None
    for factor in range(height // LETTER_ROWS, 0, -1):
        for font in (WIDE, NARROW):
            rows = scaled(beside([font[letter] for letter in text], 1), factor)
            if len(rows[0]) <= width:
                return rows
    return None


# Seven strokes a digit: top, upper left, upper right, middle, lower left, lower right, bottom.
_STROKES = {
    "0": "1110111",
    "2": "1011101",
    "3": "1011011",
    "4": "0111010",
    "5": "1101011",
    "6": "1101111",
    "7": "1010010",
    "8": "1111111",
    "9": "1111011",
}


def digits(text: str, *, width: int, height: int, like: str = "") -> Rows | None:
    """Digits and colons exactly ``height`` rows high, as wide as looks right or ``width`` allows.

    A cell is about twice as high as wide, so a digit gets as many columns as rows. ``like`` is a
    longer text that must fit as well at that size, so that a countdown keeps its size. None when
    there is no room: below 5 rows, or below 3 columns a digit.
    """
    if height < LETTER_ROWS:
        return None
    for digit_width in range(height, 2, -1):
        drawn = _row_of(text, digit_width, height)
        if max(len(drawn[0]), len(_row_of(like or text, digit_width, height)[0])) <= width:
            return drawn
    return None


def _row_of(text: str, width: int, height: int) -> Rows:
    heavy = max(1, round(width / 4))
    pictures = [
        _colon(heavy, height, _thickness(height)) if sign == ":" else _digit(sign, width, height)
        for sign in text
    ]
    return beside(pictures, max(1, width // 4))


def _thickness(height: int) -> int:
    """Rows of a horizontal stroke."""
    return max(1, (height + 2) // 7)


def _digit(sign: str, width: int, height: int) -> Rows:
    thick = _thickness(height)
    heavy = max(1, round(width / 4))
    if sign == "1":
        return _one(width, height, heavy, thick)
    top, upper_left, upper_right, middle, lower_left, lower_right, bottom = (
        stroke == "1" for stroke in _STROKES[sign]
    )
    waist = (height - thick) // 2
    rows = []
    for y in range(height):
        bar = (
            (top and y < thick)
            or (middle and waist <= y < waist + thick)
            or (bottom and y >= height - thick)
        )
        left = (upper_left and y < waist + thick) or (lower_left and y >= waist)
        right = (upper_right and y < waist + thick) or (lower_right and y >= waist)
        rows.append(
            "".join(
                FULL if bar or (left and x < heavy) or (right and x >= width - heavy) else " "
                for x in range(width)
            )
        )
    return tuple(rows)


def _one(width: int, height: int, heavy: int, thick: int) -> Rows:
    """A one with flag and foot: two bare strokes would look like a bar."""
    start = (width - heavy) // 2
    foot = FULL * width
    stem = (" " * start + FULL * heavy).ljust(width)
    flag = (" " * max(0, start - heavy) + FULL * (heavy + min(heavy, start))).ljust(width)
    rows = [stem] * height
    for y in range(thick, 2 * thick):
        rows[y] = flag
    rows[height - thick :] = [foot] * thick
    return tuple(rows)


def _colon(width: int, height: int, thick: int) -> Rows:
    centres = (height // 3, height - 1 - height // 3)
    return tuple(
        (FULL if any(abs(y - centre) <= thick // 2 for centre in centres) else " ") * width
        for y in range(height)
    )


def two_bars(height: int) -> Rows:
    """The shape of a pause."""
    bar = max(1, height // 3)
    return (FULL * bar + " " * bar + FULL * bar,) * height


def stairs(height: int) -> Rows:
    """The shape of a move: three separate steps.

    Not an arrow: beside LEFT or RIGHT an arrow would be taken for a side.
    """
    step = max(1, height // 3)
    wide = 2 * step
    return tuple(
        " ".join((FULL if (height - 1 - y) // step == n else " ") * wide for n in range(3))
        for y in range(height)
    )


def centred(rows: Rows, *, width: int, height: int) -> Rows:
    """``rows`` in the middle of ``width`` x ``height`` cells; what is too much is cut off."""
    above = max(0, (height - len(rows)) // 2)
    drawn = [row.center(width)[:width] for row in rows[:height]]
    blank = " " * width
    return tuple([blank] * above + drawn + [blank] * (height - above - len(drawn)))
