"""Published recommendations to compare a plan with. Nothing here proposes a dose.

Rows are found by region, wavelength, power and weight, never by a condition. A row says for whom
it was made, what its numbers are numbers of, and how far we have seen it in print; a remark quotes
the row and defers to the prescriber. Like is held against like only: J/cm2 over a treated area
never against the J/cm2 under a small spot, which are often fifty times as many. The response to
light is biphasic (Huang et al., Dose-Response 2009;7:358), but no source gives one threshold, so
there is no biological cut-off of our own.
"""

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any, Literal, get_args

from coach.dose.limits import Status
from coach.dose.quantity import plain

DEFER = "the prescriber decides"

Basis = Literal[
    "joules in all",
    "joules a point",
    "J/cm2 under the beam",
    "J/cm2 over a treated area",
    "unknown",
]

_EVERY_REGION = "*"
STATUS_WORDS: dict[Status, str] = {
    "read": "read in the source",
    "excerpt": "seen as an excerpt",
    "second-hand": "second-hand",
    "memory": "from memory, to be checked",
}
_UNIT: dict[Basis, str] = {
    "joules in all": "J in all",
    "joules a point": "J a point",
    "J/cm2 under the beam": "J/cm2 under the beam",
    "J/cm2 over a treated area": "J/cm2 over the area",
}

Range = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where rows come from. Ranges say what the recommendation was made for; None: not said.

    Attributes:
        key, name, short: the source, as in ``bands.toml`` and in one line.
        made_for: people, dogs and cats, dogs.
        laser: the kind of laser.
        seen: where and when we saw it.
    """

    key: str
    name: str
    short: str
    made_for: str
    laser: str
    seen: str
    wavelength_nm: Range | None = None
    mean_power_mw: Range | None = None
    duration_s: Range | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A published number and what it is a number of; None where an end is not said."""

    basis: Basis
    least: Fraction | None = None
    most: Fraction | None = None

    def words(self) -> str:
        """``at least 6 J a point``, ``10 to 20 J/cm2 over the area``."""
        unit = _UNIT.get(self.basis, "of a unit that cannot be read")
        if self.least is None:
            return f"at most {plain(self.most or 0)} {unit}"
        if self.most is None:
            return f"at least {plain(self.least)} {unit}"
        return f"{_range((self.least, self.most))} {unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One published row.

    Attributes:
        source: where it comes from and for whom it was made.
        site: the place in the words of the source.
        regions: our keys; ``*`` stands for every region.
        points: spots (or square centimetres), fewest and most.
        figures: what was published.
        weight_kg: dogs that it was made for; None where it is not said.
        n: animals that were treated; None where it is not said.
        status: how far we have seen it in print.
    """

    source: Source
    site: str
    regions: tuple[str, ...]
    status: Status
    figures: tuple[Figure, ...]
    points: tuple[int, int] | None = None
    weight_kg: Range | None = None
    n: int | None = None

    def numbers(self) -> str:
        """The numbers alone: ``2 to 4 points, at least 12 J in all``."""
        parts = []
        if self.points is not None:
            low, high = self.points
            parts.append(f"{low} points" if low == high else f"{low} to {high} points")
        return ", ".join([*parts, *(figure.words() for figure in self.figures)])

    def quote(self) -> str:
        """The row in words, with source, for whom and status."""
        treated = "" if self.n is None else f"; {self.n} treated"
        return (
            f"{self.site}: {self.numbers()} ({self.source.name}; made for "
            f"{self.source.made_for}{treated}; {STATUS_WORDS[self.status]})"
        )

    def short_quote(self) -> str:
        """The numbers and the source in one line."""
        return f"{self.numbers()} ({self.source.short}, made for {self.source.made_for})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What a plan orders for one site: a part of the spine with all its sides, or one joint.

    Attributes:
        spots: how many.
        energies_j: on each spot.
        durations_s: on each spot.
        mean_power_mw: of the head.
        weight_kg: of the dog.
        fluences_j_cm2: under the beam, on each spot; empty without a beam area.
        treated_area_cm2: as the plan states it; None where it does not.
    """

    spots: int
    energies_j: tuple[Fraction, ...]
    durations_s: tuple[Fraction, ...]
    mean_power_mw: Fraction
    weight_kg: Fraction
    fluences_j_cm2: tuple[Fraction, ...] = ()
    treated_area_cm2: Fraction | None = None

    def amounts(self, basis: Basis) -> Sequence[Fraction]:
        """What is to be held against a figure of ``basis``; empty where nothing is."""
        if basis == "joules in all":
            return (sum(self.energies_j, start=Fraction(0)),)
        if basis == "joules a point":
            # A head that is moved over an area rests on no point.
            return self.energies_j if self.treated_area_cm2 is None else ()
        if basis == "J/cm2 under the beam":
            return self.fluences_j_cm2
        if basis == "J/cm2 over a treated area" and self.treated_area_cm2 is not None:
            return (sum(self.energies_j, start=Fraction(0)) / self.treated_area_cm2,)
        return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """How a plan lies outside a row.

    Attributes:
        text: what is planned: ``12 J in all and 3 J a point``.
        times: how many times too much or too little, at least 1, the largest of them.
    """

    band: Band
    text: str
    times: Fraction


@cache
def bands() -> tuple[Band, ...]:
    """All rows, in the order of ``bands.toml``."""
    text = (files("coach.dose") / "bands.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text, parse_float=Fraction)
    sources = {entry["key"]: _source(entry) for entry in raw["sources"]}
    return tuple(_band(row, sources) for row in raw["rows"])


def bands_for(
    region: str, *, wavelength_nm: Fraction, mean_power_mw: Fraction, weight_kg: Fraction
) -> tuple[Band, ...]:
    """Rows that speak of ``region`` and were made for such a laser and such a dog.

    What a source does not say is not held against it.
    """
    return tuple(
        band
        for band in bands()
        if (region in band.regions or _EVERY_REGION in band.regions)
        and _within(wavelength_nm, band.source.wavelength_nm)
        and _within(mean_power_mw, band.source.mean_power_mw)
        and _within(weight_kg, band.weight_kg)
    )


def difference(band: Band, planned: Planned) -> Difference | None:
    """How ``planned`` lies outside ``band``; None when it is inside, or when they are unlike."""
    found = list(_outside(band, planned))
    if not found:
        return None
    return Difference(
        band=band,
        text=" and ".join(text for text, _ in found),
        times=max(times for _, times in found),
    )


def _outside(band: Band, planned: Planned) -> Iterator[tuple[str, Fraction]]:
    compared = False
    for figure in band.figures:
        amounts = planned.amounts(figure.basis)
        compared = compared or bool(amounts)
        if not amounts:
            continue
        low, high = min(amounts), max(amounts)
        if figure.least is not None and low < figure.least:
            yield f"{plain(low)} {_UNIT[figure.basis]}", figure.least / low
        elif figure.most is not None and high > figure.most:
            yield f"{plain(high)} {_UNIT[figure.basis]}", high / figure.most
    if not compared:
        return
    points = band.points if planned.treated_area_cm2 is None else None
    if points is not None and not points[0] <= planned.spots <= points[1]:
        low_points, high_points = points
        spots = Fraction(planned.spots)
        words = "1 point" if planned.spots == 1 else f"{planned.spots} points"
        yield words, max(low_points / spots, spots / high_points)
    seconds = band.source.duration_s
    if seconds is not None:
        for each in (min(planned.durations_s), max(planned.durations_s)):
            if not seconds[0] <= each <= seconds[1]:
                yield (
                    f"{plain(each)} s a point (published: {_range(seconds)} s)",
                    max(seconds[0] / each, each / seconds[1]),
                )
                break


def _source(raw: dict[str, Any]) -> Source:
    return Source(
        key=raw["key"],
        name=raw["name"],
        short=raw["short"],
        made_for=raw["made_for"],
        laser=raw["laser"],
        seen=raw["seen"],
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
        figures=tuple(map(_figure, raw["figures"])),
        points=None if points is None else (points[0], points[1]),
        weight_kg=_pair(raw.get("weight_kg")),
        n=raw.get("n"),
    )


def _figure(raw: dict[str, Any]) -> Figure:
    if raw["basis"] not in get_args(Basis):
        raise ValueError(f"bands.toml: no such basis: {raw['basis']}")
    return Figure(
        basis=raw["basis"], least=_amount(raw.get("least")), most=_amount(raw.get("most"))
    )


def _amount(value: int | Fraction | None) -> Fraction | None:
    return None if value is None else Fraction(value)


def _pair(value: list[int | Fraction] | None) -> Range | None:
    return None if value is None else (Fraction(value[0]), Fraction(value[1]))


def _within(value: Fraction, limits: Range | None) -> bool:
    return limits is None or limits[0] <= value <= limits[1]


def _range(limits: Range) -> str:
    low, high = plain(limits[0]), plain(limits[1])
    return low if low == high else f"{low} to {high}"
