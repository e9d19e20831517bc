"""How the dog lies or stands, and from which of these positions a spot is reached.

Left lateral recumbency means that the LEFT side is down, so the right side is on top. Common
practice, no source: neck and spine with the dog on its chest or standing; joints with the dog on
its side and the leg on top; the inner face of a joint most easily on the leg that lies below.
"""

from dataclasses import dataclass
from typing import Literal

from coach.body.regions import Side, region

Position = Literal["sternal", "left lateral", "right lateral", "standing"]

POSITIONS: tuple[Position, ...] = ("sternal", "left lateral", "right lateral", "standing")

POSITION_WORDS: dict[Position, str] = {
    "sternal": "on its chest",
    "left lateral": "on its left side, right side on top",
    "right lateral": "on its right side, left side on top",
    "standing": "standing",
}

_LIES_ON: dict[Side, Position] = {"left": "left lateral", "right": "right lateral"}
_OTHER: dict[Side, Side] = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """Positions from which a spot is reached, best first; in ``awkward`` ones with some trouble."""

    positions: tuple[Position, ...]
    awkward: tuple[Position, ...] = ()


def access(key: str, side: Side, aspect: str | None = None) -> Access:
    """Positions for a region, side and aspect. KeyError when there is no such region."""
    found: list[Position] = []
    awkward: tuple[Position, ...] = ()
    for way in region(key).reach:
        if way != "this side up":
            found.append(way)
        elif side != "middle":
            up = _LIES_ON[_OTHER[side]]
            if aspect == "medial":
                found.append(_LIES_ON[side])
                awkward = (up,)
            found.append(up)
    return Access(positions=tuple(found), awkward=awkward)
