"""Which part of the session screen gets how many rows and columns: pure arithmetic.

The countdown has at least a third of the height, whatever else must go; then the bar that names
the state, then the rest by what an owner by the dog bed needs first.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from coach.screens.block_letters import LETTER_ROWS, digits, letters

SIGN_SHARE = 4
TAP_ROWS = 3
ROOMY_ROWS = 30
SIDE_SHARE = 0.45

# Beside the letters, the dog needs so many columns, and the letters as many as on a small screen.
BESIDE_TEXT = 60
BESIDE_SHARE = 0.56
BESIDE_PICTURE = 36
# Instead of the letters: the smallest screen for it, and what side and countdown need there.
STACKED_CELLS = (60, 20)
STACKED_TEXT = 28
STACKED_SHARE = 0.4
STACKED_GAP = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Rows of each part; 0 leaves it out. ``key_rows`` is how high one row of keys is drawn."""

    bar: int
    message: int
    region: int
    place: int
    guidance: int
    panel: int
    next_up: int
    progress: int
    dose: int
    keys: int
    key_rows: int
    air: int

    @property
    def total(self) -> int:
        """All of them together."""
        return (
            self.bar
            + self.message
            + self.region
            + self.place
            + self.guidance
            + self.panel
            + self.next_up
            + self.progress
            + self.dose
            + self.keys
            + self.air
        )


def rows_for(height: int, *, message: int, place: int, keys: int, guidance: Sequence[int]) -> Rows:
    """Share out ``height`` rows.

    Args:
        height: of the screen, at least 1.
        message: rows that what must be told wants (0 when there is nothing to tell).
        place: rows that the region in words wants.
        keys: rows of keys, one row high each, that show them all.
        guidance: rows of each landmark sentence; whole ones only, the first ones first.
    """
    left = height

    def take(wanted: int, *, at_least: int = 1) -> int:
        nonlocal left
        given = min(wanted, left)
        if given < at_least:
            return 0
        left -= given
        return given

    panel = take(max(-(-height // 3), LETTER_ROWS))
    bar = take(1)
    told = take(min(message, 1))
    shown_keys = take(1)
    region = take(LETTER_ROWS, at_least=LETTER_ROWS) or take(1)
    told += take(min(message - told, 2)) if told else 0
    shown_keys += take(keys - 1) if shown_keys else 0
    named = take(1)
    progress = take(1)
    next_up = take(1)
    dose = take(1)
    named += take(place - named, at_least=place - named) if named else 0
    if told == 0 and left > 0:
        # An empty row for what may have to be told, so that nothing jumps when it is.
        told = take(1)
    key_rows = 1
    if height >= ROOMY_ROWS and shown_keys == keys and left >= (TAP_ROWS - 1) * keys:
        key_rows = TAP_ROWS
        shown_keys += take((TAP_ROWS - 1) * keys)
    if region == LETTER_ROWS:
        wish = height // SIGN_SHARE // LETTER_ROWS * LETTER_ROWS
        region += take(max(0, min(wish - region, left // LETTER_ROWS * LETTER_ROWS)))
    found = 0
    for sentence in guidance:
        taken = take(sentence, at_least=sentence)
        found += taken
        if not taken:
            break
    return Rows(
        bar=bar,
        message=told,
        region=region,
        place=named,
        guidance=found,
        panel=panel,
        next_up=next_up,
        progress=progress,
        dose=dose,
        keys=shown_keys,
        key_rows=key_rows,
        air=left,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """How the middle of the screen is shared out.

    Attributes:
        text: columns of region, side and countdown.
        picture: columns of the dog, 0 for none.
        stacked: side above countdown and no large region, to make room for the dog.
    """

    text: int
    picture: int = 0
    stacked: bool = False


def columns_for(width: int, height: int, *, wanted: bool) -> Columns:
    """Letters and picture where both fit; below that, one of them: the picture if ``wanted``."""
    text = max(BESIDE_TEXT, round(width * BESIDE_SHARE))
    picture = width - text - gap_columns(width)
    if height >= STACKED_CELLS[1] and picture >= BESIDE_PICTURE:
        return Columns(text=text, picture=picture)
    if wanted and width >= STACKED_CELLS[0] and height >= STACKED_CELLS[1]:
        text = max(STACKED_TEXT, round(width * STACKED_SHARE))
        return Columns(text=text, picture=width - text - gap_columns(width), stacked=True)
    return Columns(text=width)


def stacked_rows(height: int, *, message: int, keys: int) -> Rows:
    """Share out ``height`` rows where the side stands above the countdown, beside the dog.

    The arguments are those of :func:`rows_for`; ``height`` is at least that of ``STACKED_CELLS``.
    """
    bar, place, progress = 1, 1, 1
    told, shown_keys = min(message, 2), min(keys, 2)
    left = height - bar - place - progress - told - shown_keys
    least = LETTER_ROWS + STACKED_GAP + -(-height // 3)
    next_up = 1 if left > least else 0
    dose = 1 if left - next_up > least else 0
    if told == 0 and left - next_up - dose > least:
        # An empty row for what may have to be told, so that nothing jumps when it is.
        told = 1
    spare = left - next_up - dose - (told if message == 0 else 0)
    return Rows(
        bar=bar,
        message=told,
        region=0,
        place=place,
        guidance=0,
        panel=spare,
        next_up=next_up,
        progress=progress,
        dose=dose,
        keys=shown_keys,
        key_rows=1,
        air=0,
    )


def gap_columns(width: int) -> int:
    """Columns between the side and the countdown."""
    return max(2, width // 24)


def side_columns(side: str, *, longest: str, width: int, height: int) -> int:
    """Columns for the dog's side in block letters beside the countdown; 0 if there is no room.

    Args:
        side: the word.
        longest: the longest countdown of this spot, for instance ``1:30``; it always fits.
        width: of the screen.
        height: rows of both.
    """
    for share in (SIDE_SHARE, 1.0):
        drawn = letters(side, width=int(width * share), height=max(LETTER_ROWS, height - 2))
        if drawn is None:
            continue
        columns = len(drawn[0])
        if digits(longest, width=width - columns - gap_columns(width), height=height) is not None:
            return columns
    return 0
