"""Published recommendations to compare a plan with. Nothing here proposes a dose.

Rows are found by region and wavelength, never by a condition. A row says for whom it was made
and how far we have seen it in print; a remark quotes the row and defers to the prescriber. The
response to light is biphasic (Huang et al., Dose-Response 2009;7:358), but no source gives one
threshold, so there is no biological cut-off of our own.
"""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any

from coach.dose.limits import Status
from coach.dose.quantity import plain

DEFER = "the prescriber decides"

_EVERY_REGION = "*"
_STATUS_WORDS: dict[Status, str] = {
    "read": "read in the source",
    "second-hand": "second-hand",
    "memory": "from memory, to be checked",
}

Range = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where rows come from. Ranges say what the recommendation was made for; None: not said."""

    key: str
    name: str
    made_for: str
    wavelength_nm: Range | None = None
    mean_power_mw: Range | None = None
    duration_s: Range | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One published row.

    Attributes:
        source: where it comes from and for whom it was made.
        site: the place in the words of the source.
        regions: our keys; ``*`` stands for every region.
        points: spots (or square centimetres), fewest and most.
        total_j: energy of all spots, the least that is recommended.
        least_j_each: energy of each spot, the least.
        fluence_j_cm2: lowest and highest.
        status: read, second-hand, or from memory.
    """

    source: Source
    site: str
    regions: tuple[str, ...]
    status: Status
    points: tuple[int, int] | None = None
    total_j: Fraction | None = None
    least_j_each: Fraction | None = None
    fluence_j_cm2: Range | None = None

    def quote(self) -> str:
        """The row in words, with source, for whom and status."""
        parts = []
        if self.points is not None:
            low, high = self.points
            parts.append(f"{low} points" if low == high else f"{low} to {high} points")
        if self.total_j is not None:
            parts.append(f"{plain(self.total_j)} J in total")
        if self.least_j_each is not None:
            parts.append(f"at least {plain(self.least_j_each)} J a point")
        if self.fluence_j_cm2 is not None:
            parts.append(f"{_range(self.fluence_j_cm2)} J/cm2")
        return (
            f"{self.site}: {', '.join(parts)} ({self.source.name}; made for "
            f"{self.source.made_for}; {_STATUS_WORDS[self.status]})"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What a plan orders for one site: a part of the spine with all its sides, or one joint.

    Attributes:
        spots: how many.
        energy_j: on each spot.
        duration_s: on each spot.
        mean_power_mw: of the head.
        fluence_j_cm2: on each spot; None without a beam area.
    """

    spots: int
    energy_j: Fraction
    duration_s: Fraction
    mean_power_mw: Fraction
    fluence_j_cm2: Fraction | None = None


@cache
def bands() -> tuple[Band, ...]:
    """All rows, in the order of ``bands.toml``."""
    raw = tomllib.loads((files("coach.dose") / "bands.toml").read_text(encoding="utf-8"))
    sources = {entry["key"]: _source(entry) for entry in raw["sources"]}
    return tuple(_band(row, sources) for row in raw["rows"])


def bands_for(region: str, *, wavelength_nm: Fraction) -> tuple[Band, ...]:
    """Rows that speak of ``region`` and of this wavelength (or of no wavelength at all)."""
    return tuple(
        band
        for band in bands()
        if (region in band.regions or _EVERY_REGION in band.regions)
        and (band.source.wavelength_nm is None or _inside(wavelength_nm, band.source.wavelength_nm))
    )


def remarks(band: Band, planned: Planned) -> list[str]:
    """How ``planned`` lies outside ``band``, one remark a difference; empty when it is inside."""
    return [f"{text}; published for {band.quote()}; {DEFER}" for text in _outside(band, planned)]


def _outside(band: Band, planned: Planned) -> Iterator[str]:
    if band.points is not None and not band.points[0] <= planned.spots <= band.points[1]:
        yield f"{planned.spots} spots"
    total_j = planned.spots * planned.energy_j
    if band.total_j is not None and total_j < band.total_j:
        yield f"{plain(total_j)} J in all"
    if band.least_j_each is not None and planned.energy_j < band.least_j_each:
        yield f"{plain(planned.energy_j)} J a spot"
    if (
        band.fluence_j_cm2 is not None
        and planned.fluence_j_cm2 is not None
        and not _inside(planned.fluence_j_cm2, band.fluence_j_cm2)
    ):
        yield f"{plain(planned.fluence_j_cm2)} J/cm2 a spot"
    source = band.source
    if source.mean_power_mw is not None and not _inside(
        planned.mean_power_mw, source.mean_power_mw
    ):
        yield (
            f"{plain(planned.mean_power_mw)} mW mean power, outside the "
            f"{_range(source.mean_power_mw)} mW of the recommendation"
        )
    if source.duration_s is not None and not _inside(planned.duration_s, source.duration_s):
        yield (
            f"{plain(planned.duration_s)} s a spot, outside the "
            f"{_range(source.duration_s)} s of the recommendation"
        )


def _source(raw: dict[str, Any]) -> Source:
    return Source(
        key=raw["key"],
        name=raw["name"],
        made_for=raw["made_for"],
        wavelength_nm=_pair(raw.get("wavelength_nm")),
        mean_power_mw=_pair(raw.get("mean_power_mw")),
        duration_s=_pair(raw.get("duration_s")),
    )


def _band(raw: dict[str, Any], sources: dict[str, Source]) -> Band:
    points = raw.get("points")
    return Band(
        source=sources[raw["source"]],
        site=raw["site"],
        regions=tuple(raw["regions"]),
        status=raw["status"],
        points=None if points is None else (points[0], points[1]),
        total_j=_amount(raw.get("total_j")),
        least_j_each=_amount(raw.get("least_j_each")),
        fluence_j_cm2=_pair(raw.get("fluence_j_cm2")),
    )


def _amount(value: int | None) -> Fraction | None:
    return None if value is None else Fraction(value)


def _pair(value: list[int] | None) -> Range | None:
    return None if value is None else (Fraction(value[0]), Fraction(value[1]))


def _inside(value: Fraction, limits: Range) -> bool:
    return limits[0] <= value <= limits[1]


def _range(limits: Range) -> str:
    return f"{plain(limits[0])} to {plain(limits[1])}"
