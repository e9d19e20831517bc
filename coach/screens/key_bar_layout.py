"""Keys on the screen, where a finger or a mouse can reach them too: pure placing."""

from collections.abc import Sequence
from dataclasses import dataclass

TALL = 3
PLAIN_GAP = 2
TALL_GAP = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """One key with its word. ``vital`` ones stay when there is no room for all."""

    id: str
    key: str
    label: str
    vital: bool = False

    def columns(self, *, tall: bool) -> int:
        """How wide it is drawn."""
        return len(self.key) + 1 + len(self.label) + (4 if tall else 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A tap and its place: column, row of taps, columns."""

    tap: Tap
    x: int
    row: int
    columns: int


def flow(taps: Sequence[Tap], *, width: int, tall: bool) -> tuple[Placed, ...]:
    """All of ``taps``, left to right, then on the next row."""
    gap = TALL_GAP if tall else PLAIN_GAP
    placed: list[Placed] = []
    x = row = 0
    for tap in taps:
        columns = tap.columns(tall=tall)
        if x > 0 and x + columns > width:
            x, row = 0, row + 1
        placed.append(Placed(tap=tap, x=x, row=row, columns=columns))
        x += columns + gap
    return tuple(placed)


def rows_of(placed: Sequence[Placed]) -> int:
    """How many rows of taps there are."""
    return placed[-1].row + 1 if placed else 0


def fitting(taps: Sequence[Tap], *, width: int, rows: int, tall: bool) -> tuple[Placed, ...]:
    """As many of ``taps`` as ``rows`` hold; those that are not vital go first, from the end."""
    kept = list(taps)
    placed = flow(kept, width=width, tall=tall)
    while kept and rows_of(placed) > rows:
        spare = [tap for tap in kept if not tap.vital] or kept
        kept.remove(spare[-1])
        placed = flow(kept, width=width, tall=tall)
    return placed
