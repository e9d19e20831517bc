"""The regions of the dog, loaded once from ``regions.toml`` and checked whole.

Adding a region is a change of that file only.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Literal

Side = Literal["left", "middle", "right"]
Kind = Literal["axial", "limb"]

SIDES: tuple[Side, ...] = ("left", "middle", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """One region of the dog, in the trade's words and in the owner's.

    Attributes:
        key: name used in plan files.
        term: trade term.
        owner_words: what an owner calls it.
        spoken: short form for the voice, at most 4 words.
        block: capitals for block letters on a small screen, at most 10 characters.
        uberon: ids of the UBERON ontology (open, CC BY 3.0), digits only; empty if none found.
        feel: the landmark sentence.
        hold: how to hold the head or the dog here.
        kind: ``axial`` (neck to tail) or ``limb``.
        point: a small fixed place (junction, atlas, tail base) rather than a length.
        sides: sides it can be worked on; always the dog's.
        aspects: faces of a joint; empty for axial regions.
        cautions: what to keep away from.
    """

    key: str
    term: str
    owner_words: str
    spoken: str
    block: str
    uberon: tuple[str, ...]
    feel: str
    hold: str
    kind: Kind
    point: bool
    sides: tuple[Side, ...]
    aspects: tuple[str, ...]
    cautions: tuple[str, ...]


def _read(key: str, raw: dict[str, Any]) -> Region:
    names = {k: tuple(v) if isinstance(v, list) else v for k, v in raw.items()}
    return Region(key=key, **names)


@cache
def regions() -> Mapping[str, Region]:
    """All regions by key, head to tail, then limbs."""
    text = (files("coach.body") / "regions.toml").read_text(encoding="utf-8")
    return MappingProxyType({key: _read(key, raw) for key, raw in tomllib.loads(text).items()})


def region(key: str) -> Region:
    """The region called ``key``; KeyError when there is none."""
    return regions()[key]
