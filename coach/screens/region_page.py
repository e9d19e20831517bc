"""The page of a region: its words and its picture. Pure text; screens and command line show it."""

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from coach.body.drawing import Drawing, Mark, draw_dog, view_of
from coach.body.raster import Look
from coach.body.regions import Region, Side, region, regions, told
from coach.body.words import plain_word, region_for, region_words
from coach.language import N_, _, language
from coach.session.cues import face_word, side_word

POSITION_WORDS = {
    "sternal": N_("on its chest"),
    "standing": N_("standing"),
    "this side up": N_("on its side, the side you work on upwards"),
}

ALWAYS = (
    N_("Eyewear on everyone, the dog's eyes covered or turned away."),
    N_("Your prescriber's plan and the laser-safety rules where you live come before this page."),
)

# Likeness of names in percent: below FAR it is a guess; AS_CLOSE to the best is worth offering.
FAR = 70
AS_CLOSE = 8

LEGENDS: Mapping[Look, str] = {
    "colour": N_("Block: this side. ○: its other sides or faces. Line: where its spots lie."),
    "console": N_("Block: this side. o: its other sides or faces. Line: where its spots lie."),
}


@dataclass(frozen=True, slots=True)
class Place:
    """One side, and for a joint one face, of a region."""

    side: Side
    aspect: str | None


def places(place: Region) -> tuple[Place, ...]:
    """Every side and face on which ``place`` can be worked on."""
    return tuple(
        Place(side, aspect) for side in place.sides for aspect in (place.aspects or (None,))
    )


def place_words(place: Place) -> str:
    """``left``, ``right, outside (lateral)``."""
    side = side_word(place.side)
    return side if place.aspect is None else f"{side}, {aspect_words(place.aspect)}"


def aspect_words(aspect: str) -> str:
    """``outside (lateral)``: the owner's word and the trade's."""
    return f"{face_word(aspect)} ({aspect})"


def picture(key: str, shown: Place, *, width: int, height: int, look: Look) -> Drawing:
    """The dog with ``shown`` as the current spot and the region's other places as coming ones."""

    def mark(place: Place) -> Mark:
        return Mark(region=key, side=place.side, aspect=place.aspect)

    return draw_dog(
        width=width,
        height=height,
        look=look,
        view=view_of(key),
        side=shown.side,
        region=key,
        aspect=shown.aspect,
        current=mark(shown),
        coming=[mark(place) for place in places(region(key)) if place != shown],
    )


def page_lines(place: Region) -> tuple[str, ...]:
    """What an owner reads about ``place``: one fact a line, not yet broken."""
    words = told(place.key)
    sides = ", ".join(side_word(side) for side in place.sides)
    faces = ", ".join(aspect_words(aspect) for aspect in place.aspects)
    ways = _(" or ").join(_(POSITION_WORDS[way]) for way in place.reach)
    ids = ", ".join(f"UBERON:{number}" for number in place.uberon)
    return (
        f"{words.owner_words} · {words.term}",
        _("Sides:  {sides} (always the dog's)").format(sides=sides),
        *([_("Faces:  {faces}").format(faces=faces)] if faces else []),
        _("Dog:    {ways}").format(ways=ways),
        _("Where:  {words}").format(words=words.feel),
        _("How:    {words}").format(words=words.hold),
        *(_("Care:   {words}").format(words=caution) for caution in words.cautions),
        *(_("Always: {words}").format(words=_(caution)) for caution in ALWAYS),
        _('Spoken: "{words}"').format(words=words.spoken),
        _("Plans:  {key}").format(key=place.key) + (f" ({ids})" if ids else ""),
    )


def broken(lines: Sequence[str], *, width: int) -> tuple[str, ...]:
    """``lines`` in rows of ``width``, what goes on set in under the words after the label."""
    return tuple(row for line in lines for row in _rows(line, width))


def _rows(line: str, width: int) -> list[str]:
    label, colon, words = line.partition(":")
    indent = " " * (len(line) - len(words.lstrip())) if colon and " " not in label else ""
    return textwrap.wrap(line, max(1, width), subsequent_indent=indent) or [""]


def list_lines(*, width: int) -> tuple[str, ...]:
    """Every region in the owner's words, the trade's, and with its sides or faces."""
    return tuple(row for place in regions().values() for row in _entry(place, width))


def _entry(place: Region, width: int) -> Iterator[str]:
    words = told(place.key)
    sides = ", ".join(side_word(side) for side in place.sides)
    faces = f"; {', '.join(place.aspects)}" if place.aspects else ""
    yield from textwrap.wrap(f"{place.key:<15} {words.owner_words}", width)
    yield from textwrap.wrap(
        f"{words.term}: {sides}{faces}",
        width,
        initial_indent=" " * 16,
        subsequent_indent=" " * 16,
    )


@dataclass(frozen=True, slots=True)
class Unknown:
    """No region is called that: ``found``, and the keys that may have been meant."""

    found: str
    close: tuple[str, ...]

    def __str__(self) -> str:
        """What was found, what was probably meant, what is allowed."""
        close = " or ".join(f'"{key}"' for key in self.close)
        did_you = f" Did you mean {close}?" if close else ""
        return f'"{self.found}" found.{did_you} Allowed: {", ".join(regions())}'


def find(words: str) -> Region | Unknown:
    """The region called ``words``, by any of its names; see :func:`coach.body.words.region_for`."""
    key = region_for(words)
    if key is not None:
        return region(key)
    from rapidfuzz import fuzz, process

    names = region_words(language())
    best = process.extract(
        plain_word(words), list(names), scorer=fuzz.WRatio, score_cutoff=FAR, limit=5
    )
    near = [names[name] for name, score, _ in best if score >= best[0][1] - AS_CLOSE]
    return Unknown(words, tuple(dict.fromkeys(near)))
