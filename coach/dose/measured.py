"""Light that was measured behind tissue of dogs: to be read, and never to be computed with.

Reaching depth is not worked out for a plan: what was published of dogs alone differs by 40 to
150 %, a modelled range at 3 cm spans three orders of magnitude, and whoever saw a number would
multiply by it. So the values here are texts, as printed, and no other module may import this one
but for showing them (``tests/dose/test_measured.py`` holds it to that).
"""

import textwrap
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from coach.dose.bands import STATUS_WORDS
from coach.dose.limits import Status

CAVEAT = "A range seen, not a dose; nothing in this program is computed from it."


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One published measurement, as printed; "" and None where the source does not say.

    Attributes:
        site: depth or place, in the words of the source.
        regions: our keys for which it is shown; empty for every region.
        what: what was measured, with its unit.
        value, spread: texts, as printed; the spread is a standard deviation.
        n: dogs; ``alive``: whether they lived.
        light: wavelength and pulses; ``contact``: whether the head was on the skin.
        source, status, seen: where it stands and how we saw it.
    """

    source: str
    site: str
    regions: tuple[str, ...]
    what: str
    value: str
    status: Status
    seen: str
    spread: str = ""
    n: int | None = None
    alive: bool | None = None
    light: str = ""
    contact: bool | None = None


@cache
def rows() -> tuple[Measured, ...]:
    """All rows, in the order of ``measured.toml``."""
    raw = tomllib.loads((files("coach.dose") / "measured.toml").read_text(encoding="utf-8"))
    return tuple(Measured(**{**row, "regions": tuple(row["regions"])}) for row in raw["rows"])


def measured_in(region: str) -> tuple[Measured, ...]:
    """Rows of ``region``, and those of places that are no region of ours."""
    return tuple(row for row in rows() if not row.regions or region in row.regions)


def measured_lines(region: str, *, width: int) -> list[str]:
    """What was measured for ``region``, line by line, with the caveat first."""
    lines = [CAVEAT]
    for row in measured_in(region):
        lines += ["", *textwrap.wrap(row.site, width)]
        for text in _of(row):
            lines += textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ")
    return lines


def _of(row: Measured) -> Iterator[str]:
    spread = f" ± {row.spread}" if row.spread else ""
    yield f"{row.what}: {row.value}{spread}"
    dogs = "number of dogs not said" if row.n is None else f"{row.n} dogs"
    living = {True: "alive", False: "cadavers", None: "alive or not: not said"}[row.alive]
    light = row.light or "wavelength not said"
    touch = {True: "in contact", False: "not in contact", None: "contact not said"}[row.contact]
    yield f"{dogs}, {living}; {light}; {touch}"
    yield f"{row.source}; {STATUS_WORDS[row.status]} ({row.seen})"
