"""A place of the prescriber's own, as a key that says where it is: pure.

The key stands wherever the key of a region stands, in a session, a log and a report, and needs
nothing else to be named and drawn::

    wound@lumbar                 at the middle of a region
    scar@hip~stifle              halfway between two regions
    scar@stifle:40,-20           40 thousandths of the dog's length further down, 20 to the rear

The length is that from the bump at the back of the skull to the tail base. *Along* is towards the
tail, on a leg towards the foot; *across* is upwards, on a leg towards the front.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

_KEY = re.compile(
    r"(?P<name>[^@]+)@(?P<anchor>[a-z_]+)(?:~(?P<towards>[a-z_]+))?"
    r"(?::(?P<along>-?\d{1,4}),(?P<across>-?\d{1,4}))?"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceKey:
    """The parts of a key; ``along`` and ``across`` in thousandths of the dog's length."""

    name: str
    anchor: str
    towards: str | None = None
    along: int = 0
    across: int = 0

    def __str__(self) -> str:
        between = f"~{self.towards}" if self.towards else ""
        offset = f":{self.along},{self.across}" if self.along or self.across else ""
        return f"{self.name}@{self.anchor}{between}{offset}"


def is_own(key: str) -> bool:
    """Whether ``key`` is that of a place of the prescriber's own."""
    return "@" in key


def read_key(key: str, known: Mapping[str, object]) -> PlaceKey:
    """The parts of ``key``; KeyError when it is none, or no such region is ``known``."""
    found = _KEY.fullmatch(key)
    if found is None or any(
        region not in known for region in (found["anchor"], found["towards"]) if region
    ):
        raise KeyError(key)
    return PlaceKey(
        name=found["name"],
        anchor=found["anchor"],
        towards=found["towards"],
        along=int(found["along"] or 0),
        across=int(found["across"] or 0),
    )


def thousandths(offset_mm: int, *, dog_length_mm: int) -> int:
    """An offset on a dog of a length from skull bump to tail base, for a key."""
    return round(offset_mm * 1000 / dog_length_mm)
