"""The regions of the dog, loaded once from ``regions.toml`` and checked whole.

Adding a region is a change of that file only.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Literal, get_args

from coach.body.places import PlaceKey, is_own, read_key
from coach.language import ENGLISH, N_, _, language

Side = Literal["left", "middle", "right"]
Kind = Literal["axial", "limb"]
Reach = Literal["sternal", "standing", "this side up"]

SIDES: tuple[Side, ...] = ("left", "middle", "right")

# Above the carpus and the tarsus the trade says cranial and caudal; from there down dorsal, with
# palmar on the fore and plantar on the hind limb.
ASPECTS = ("lateral", "medial", "cranial", "caudal", "dorsal", "palmar", "plantar")

SPOKEN_WORDS = 4
BLOCK_LETTERS = 10


class RegionFileError(ValueError):
    """The region file is wrong; the message names every line and field that is."""


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
        point: a small fixed place (junction, atlas, tail base, joint) rather than a length.
        sides: sides it can be worked on; always the dog's.
        aspects: faces of a joint; empty for axial regions.
        reach: how the dog may lie or stand for it.
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
    reach: tuple[Reach, ...]
    cautions: tuple[str, ...]


_TEXTS = ("term", "owner_words", "spoken", "block", "feel", "hold", "kind")
_LISTS = ("uberon", "sides", "aspects", "reach", "cautions")
_FIELDS = tuple(field.name for field in fields(Region) if field.name != "key")


def _problems(raw: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What is wrong with one region, as (field, sentence)."""
    found = [(name, "is missing") for name in _FIELDS if name not in raw]
    found += [
        (name, f"is not a field; allowed: {', '.join(_FIELDS)}")
        for name in raw
        if name not in _FIELDS
    ]
    for name in _TEXTS:
        value = raw.get(name, "-")
        if not isinstance(value, str) or not value.strip():
            found.append((name, f"is {value!r}; allowed: words"))
    for name in _LISTS:
        value = raw.get(name, [])
        if not isinstance(value, list) or not all(isinstance(v, str) and v for v in value):
            found.append((name, f"is {value!r}; allowed: a list of words"))
    if not isinstance(raw.get("point", False), bool):
        found.append(("point", f"is {raw['point']!r}; allowed: true or false"))
    return found or _odd_values(raw)


def _odd_values(raw: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Values of the right type that make no sense."""
    found: list[tuple[str, str]] = []
    if len(raw["spoken"].split()) > SPOKEN_WORDS:
        found.append(("spoken", f"is {raw['spoken']!r}; allowed: at most {SPOKEN_WORDS} words"))
    if len(raw["block"]) > BLOCK_LETTERS or not re.fullmatch(r"[A-Z][A-Z ]*", raw["block"]):
        found.append(("block", f"is {raw['block']!r}; allowed: {BLOCK_LETTERS} capitals"))
    if raw["kind"] not in get_args(Kind):
        found.append(("kind", f"is {raw['kind']!r}; allowed: {', '.join(get_args(Kind))}"))
    for name, allowed in (("sides", SIDES), ("aspects", ASPECTS), ("reach", get_args(Reach))):
        odd = [value for value in raw[name] if value not in allowed]
        if odd or len(set(raw[name])) < len(raw[name]):
            found.append((name, f"is {raw[name]!r}; allowed: {', '.join(allowed)}, each once"))
    found += [
        (name, "is empty; allowed: at least one entry")
        for name in ("sides", "reach", "cautions")
        if not raw[name]
    ]
    if (raw["kind"] == "limb") != bool(raw["aspects"]):
        found.append(("aspects", "allowed: some for a limb, none for an axial region"))
    if raw["kind"] == "limb" and "middle" in raw["sides"]:
        found.append(("sides", "allowed: a limb has no middle"))
    if "middle" in raw["sides"] and set(raw["reach"]) == {"this side up"}:
        found.append(("reach", "allowed: the middle needs sternal or standing"))
    odd = [value for value in raw["uberon"] if not re.fullmatch(r"\d{7}", value)]
    if odd:
        found.append(("uberon", f"is {odd!r}; allowed: 7 digits"))
    return found


def _line(text: str, key: str, name: str) -> int:
    """Line of a field in its table, or of the table's head when the field is not there."""
    head = re.search(rf"^\[{re.escape(key)}\]", text, re.MULTILINE)
    start = head.start() if head else 0
    end = text.find("\n[", start)
    there = re.compile(rf"^{re.escape(name)}\s*=", re.MULTILINE).search(
        text, start, len(text) if end < 0 else end
    )
    return text.count("\n", 0, there.start() if there else start) + 1


def read_regions(text: str, *, name: str = "regions.toml") -> Mapping[str, Region]:
    """Regions by key from the words of a region file called ``name``.

    Raises:
        RegionFileError: naming every line and field that is wrong.
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RegionFileError(f"{name}: {error}") from error
    wrong = [
        f"{name}, line {_line(text, key, field)}: {key}.{field} {what}"
        for key, raw in tables.items()
        for field, what in (
            _problems(raw) if isinstance(raw, dict) else [("", f"is {raw!r}; allowed: a table")]
        )
    ]
    if wrong:
        raise RegionFileError("\n".join(wrong))
    return MappingProxyType({key: _build(key, raw) for key, raw in tables.items()})


def _build(key: str, raw: Mapping[str, Any]) -> Region:
    values: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in raw.items()}
    return Region(key=key, **values)


@cache
def regions() -> Mapping[str, Region]:
    """All regions by key, head to tail, then limbs."""
    return read_regions((files("coach.body") / "regions.toml").read_text(encoding="utf-8"))


NEAR = N_("Look near here: {place}.")


def region(key: str) -> Region:
    """The region, or the place of the prescriber's own, called ``key``; KeyError for none."""
    return _own(read_key(key, regions()), told=False) if is_own(key) else regions()[key]


def is_region(key: str) -> bool:
    """Whether :func:`region` knows ``key``."""
    try:
        region(key)
    except KeyError:
        return False
    return True


def told(key: str) -> Region:
    """:func:`region` with its words in the language in use; key, sides and faces stay as they are.

    KeyError when there is no such region.
    """
    if is_own(key):
        return _own(read_key(key, regions()), told=True)
    place = region(key)
    if language() == ENGLISH:
        return place
    return replace(
        place,
        term=_(place.term),
        owner_words=_(place.owner_words),
        spoken=_(place.spoken),
        block=_(place.block),
        feel=_(place.feel),
        hold=_(place.hold),
        cautions=tuple(_(caution) for caution in place.cautions),
    )


def _own(place: PlaceKey, *, told: bool) -> Region:
    """A place as a region: reached and held like the region it lies at, named by itself."""
    words = _told_words if told else region
    anchors = [words(key) for key in (place.anchor, place.towards) if key]
    anchor = anchors[0]
    capitals = re.sub(r"[^A-Z ]", "", place.name.upper())[:BLOCK_LETTERS].strip()
    return replace(
        anchor,
        key=str(place),
        term=f"{place.name} ({', '.join(one.term for one in anchors)})",
        owner_words=place.name,
        spoken=place.name,
        block=capitals or anchor.block,
        uberon=(),
        feel=(_(NEAR) if told else NEAR).format(
            place=", ".join(one.owner_words for one in anchors)
        ),
        point=True,
    )


def _told_words(key: str) -> Region:
    return told(key)
