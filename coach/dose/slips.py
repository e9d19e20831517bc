"""The usual slips: what a number would be if it had been meant otherwise.

Common slips, from the reporting papers (Jenkins & Carroll 2011, doi 10.1089/pho.2011.9895) and
common practice: mW for W, peak for mean power, minutes with a point for minutes and seconds, the
aperture or the swept area for the beam area, mm2 for cm2, a radius for a diameter.
"""

from collections.abc import Callable, Iterator
from fractions import Fraction

from coach.dose.quantity import Quantity, minutes_point_seconds, plain
from coach.dose.relations import Values

Slip = tuple[str, dict[Quantity, Fraction]]


def slips(values: Values) -> Iterator[Slip]:
    """Each slip that is possible with ``values``: what to ask, and the values as then meant."""
    for quantity, finder in _FINDERS.items():
        if quantity in values:
            for words, meant in finder(values):
                yield words, {**values, quantity: meant}
    beam, swept = values.get("beam_area_cm2"), values.get("swept_area_cm2")
    if beam is not None and swept is not None:
        yield (
            "beam area at the skin and swept area mixed up?",
            {**values, "beam_area_cm2": swept, "swept_area_cm2": beam},
        )


def slips_of(quantity: Quantity, values: Values) -> Iterator[tuple[str, Fraction]]:
    """Each slip that is possible in ``quantity`` alone: what to ask, and the value then meant."""
    finder = _FINDERS.get(quantity)
    if finder is not None and quantity in values:
        yield from finder(values)


def _power(values: Values) -> Iterator[tuple[str, Fraction]]:
    power = values["mean_power_mw"]
    yield f"mW written as W? {plain(power / 1000)} mW for {plain(power / 1000)} W", power / 1000
    yield f"W written as mW? {plain(power)} W for {plain(power)} mW", power * 1000
    share = values.get("duty_cycle_percent")
    if share is not None:
        yield "peak power taken for the mean power?", power * share / 100
        yield "mean power taken for the peak power?", power * 100 / share


def _duration(values: Values) -> Iterator[tuple[str, Fraction]]:
    seconds = values["duration_s"]
    as_typed = minutes_point_seconds(seconds / 60)
    if as_typed is not None and as_typed != seconds:
        minutes = plain(seconds / 60)
        yield (
            f"minutes with a point? {minutes} min is {plain(seconds)} s, "
            + (f"{_clock(as_typed)} is {plain(as_typed)} s"),
            as_typed,
        )
    if seconds.denominator == 1 and seconds >= 60:
        whole, rest = divmod(int(seconds), 60)
        pointed = (whole + Fraction(rest, 100)) * 60
        if rest:
            yield (
                f"minutes with a point? {_clock(seconds)} is {plain(seconds)} s, "
                + (f"{whole}.{rest:02d} min is {plain(pointed)} s"),
                pointed,
            )
    yield f"minutes written as seconds? {plain(seconds)} min", seconds * 60
    yield f"seconds written as minutes? {plain(seconds / 60)} s", seconds / 60


def _beam_area(values: Values) -> Iterator[tuple[str, Fraction]]:
    area = values["beam_area_cm2"]
    aperture = values.get("aperture_area_cm2")
    if aperture is not None:
        yield "aperture area taken for the beam area at the skin?", aperture
    yield "mm2 written as cm2?", area / 100
    yield "cm2 written as mm2?", area * 100
    yield "radius taken for the diameter?", area * 4
    yield "diameter taken for the radius?", area / 4


def _energy(values: Values) -> Iterator[tuple[str, Fraction]]:
    energy = values["energy_j"]
    yield "mJ written as J?", energy / 1000
    yield "J written as mJ?", energy * 1000


def _fluence(values: Values) -> Iterator[tuple[str, Fraction]]:
    fluence = values["fluence_j_cm2"]
    yield "mJ/cm2 written as J/cm2?", fluence / 1000
    yield "J/cm2 written as mJ/cm2?", fluence * 1000
    yield "J/m2 written as J/cm2?", fluence / 10_000


def _irradiance(values: Values) -> Iterator[tuple[str, Fraction]]:
    irradiance = values["irradiance_mw_cm2"]
    yield "mW/cm2 written as W/cm2?", irradiance / 1000
    yield "W/cm2 written as mW/cm2?", irradiance * 1000
    yield "W/m2 written as W/cm2?", irradiance / 10_000


_FINDERS: dict[Quantity, Callable[[Values], Iterator[tuple[str, Fraction]]]] = {
    "mean_power_mw": _power,
    "duration_s": _duration,
    "beam_area_cm2": _beam_area,
    "energy_j": _energy,
    "fluence_j_cm2": _fluence,
    "irradiance_mw_cm2": _irradiance,
}


def _clock(seconds: Fraction) -> str:
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes} min {rest} s"
