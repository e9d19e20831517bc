"""Quantities as people write them: ``800mW``, ``0.5 W``, ``1:30``, ``4 J/cm²``.

One table says for each quantity which units it may be written in, the bounds outside which a
number is refused, and the narrower usual range outside which the unit was probably wrong. The
bounds catch typing slips; they are house rules without a source and no advice about dose.

Values come out as exact fractions in the unit that the quantity's name ends in.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Literal, NoReturn

from coach.units import rounded

Quantity = Literal[
    "mean_power_mw",
    "peak_power_mw",
    "duty_cycle_percent",
    "frequency_hz",
    "pulse_width_us",
    "pulse_energy_uj",
    "duration_s",
    "energy_j",
    "beam_area_cm2",
    "irradiance_mw_cm2",
    "fluence_j_cm2",
    "swept_area_cm2",
    "swept_fluence_j_cm2",
    "aperture_area_cm2",
    "diameter_mm",
    "wavelength_nm",
    "divergence_mrad",
]


class BadQuantity(ValueError):  # noqa: N818  (it names what is bad)
    """A quantity that cannot be used: what was found, what is allowed, what was probably meant."""

    def __init__(self, quantity: Quantity, found: str, allowed: str, hint: str = "") -> None:
        self.quantity = quantity
        self.found = found
        self.allowed = allowed
        self.hint = hint
        meant = f" ({hint})" if hint else ""
        super().__init__(f"{label(quantity)}: found {found}; allowed: {allowed}{meant}")


class WrongUnit(BadQuantity):
    """A number so far from anything usual that the unit must be wrong."""


class Ambiguous(BadQuantity):
    """A text that can be read in two ways; the hint shows both."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """What is allowed and what is usual for one quantity, in the unit of its name.

    Attributes:
        unit: that unit, as people read it.
        units: every unit it may be written in, with its size in ``unit``.
        lowest, highest: outside, the number is refused.
        usual_low, usual_high: outside, ``below`` or ``above`` says what was probably meant.
    """

    unit: str
    units: Mapping[str, Fraction]
    lowest: Fraction
    usual_low: Fraction
    usual_high: Fraction
    highest: Fraction
    below: str
    above: str


_POWER = {"mW": "1", "W": "1000", "uW": "0.001"}
_AREA = {"cm2": "1", "mm2": "0.01"}
_FLUENCE = {"J/cm2": "1", "mJ/cm2": "0.001", "J/m2": "0.0001"}
_IRRADIANCE = {"mW/cm2": "1", "W/cm2": "1000", "uW/cm2": "0.001", "W/m2": "0.1"}
_TIME = {
    "s": "1", "ms": "0.001", "us": "0.000001", "ns": "0.000000001", "min": "60", "h": "3600"
}  # fmt: skip
_ENERGY = {"J": "1", "mJ": "0.001", "kJ": "1000"}


def _bounds(
    unit: str,
    units: dict[str, str],
    lowest: str,
    usual_low: str,
    usual_high: str,
    highest: str,
    below: str,
    above: str,
) -> Bounds:
    return Bounds(
        unit=unit,
        units=MappingProxyType({name: Fraction(size) for name, size in units.items()}),
        lowest=Fraction(lowest),
        usual_low=Fraction(usual_low),
        usual_high=Fraction(usual_high),
        highest=Fraction(highest),
        below=below,
        above=above,
    )


# lowest, usual low, usual high, highest
BOUNDS: Mapping[Quantity, Bounds] = MappingProxyType(
    {
        "mean_power_mw": _bounds(
            "mW", _POWER, "0.001", "1", "30000", "200000",
            "this looks like watts", "this looks like mW written as W, or uW as mW",
        ),
        "peak_power_mw": _bounds(
            "mW", _POWER, "0.001", "1", "200000", "1000000",
            "this looks like watts", "this looks like mW written as W",
        ),
        "duty_cycle_percent": _bounds(
            "%", {"%": "1"}, "0.000001", "0.0001", "100", "100",
            "this looks like a share; 50 % is a half", "a head cannot be on for over 100 %",
        ),
        "frequency_hz": _bounds(
            "Hz", {"Hz": "1", "kHz": "1000"}, "0.001", "0.1", "1000000", "100000000",
            "this looks like kHz written as Hz", "this looks like Hz written as kHz",
        ),
        "pulse_width_us": _bounds(
            "us", {"us": "1", "ns": "0.001", "ms": "1000", "s": "1000000"},
            "0.00001", "0.001", "10000000", "100000000",
            "this looks like us written as ns", "this looks like us written as ms",
        ),
        "pulse_energy_uj": _bounds(
            "uJ", {"uJ": "1", "nJ": "0.001", "mJ": "1000", "J": "1000000"},
            "0.000001", "0.0001", "100000000", "1000000000",
            "this looks like mJ written as uJ", "this looks like uJ written as mJ",
        ),
        "duration_s": _bounds(
            "s", _TIME,
            "0.000000001", "1", "1800", "86400",
            "this looks like minutes", "this looks like ms, or seconds written as minutes",
        ),
        "energy_j": _bounds(
            "J", _ENERGY, "0.000001", "0.01", "5000", "100000",
            "this looks like kJ written as J", "this looks like mJ written as J",
        ),
        "beam_area_cm2": _bounds(
            "cm2", _AREA, "0.00001", "0.001", "100", "1000",
            "the beam area at the skin is seldom so small: is it in cm2?",
            "this looks like mm2",
        ),
        "irradiance_mw_cm2": _bounds(
            "mW/cm2", _IRRADIANCE, "0.0001", "0.1", "50000", "10000000",
            "this looks like W/cm2", "this looks like mW/cm2 written as W/cm2",
        ),
        "fluence_j_cm2": _bounds(
            "J/cm2", _FLUENCE, "0.000001", "0.01", "2000", "100000",
            "this looks like kJ/cm2 or J/mm2", "this looks like mJ/cm2 or J/m2",
        ),
        "swept_area_cm2": _bounds(
            "cm2", _AREA, "0.01", "1", "2000", "10000",
            "the swept area is the whole area that is covered", "this looks like mm2",
        ),
        "swept_fluence_j_cm2": _bounds(
            "J/cm2", _FLUENCE, "0.000001", "0.01", "200", "100000",
            "this looks like kJ/cm2 or J/mm2", "this looks like mJ/cm2 or J/m2",
        ),
        "aperture_area_cm2": _bounds(
            "cm2", _AREA, "0.00000001", "0.00001", "100", "1000",
            "is it in cm2?", "this looks like mm2",
        ),
        "diameter_mm": _bounds(
            "mm", {"mm": "1", "cm": "10", "um": "0.001"}, "0.001", "0.1", "150", "1000",
            "this looks like cm or m", "this looks like um",
        ),
        "wavelength_nm": _bounds(
            "nm", {"nm": "1", "um": "1000"}, "400", "400", "1400", "1400",
            "this looks like um; 0.8 um is 800 nm",
            "this looks like nm written as um, or a source of another kind",
        ),
        "divergence_mrad": _bounds(
            "mrad", {"mrad": "1", "rad": "1000"}, "0.001", "0.1", "3200", "6284",
            "this looks like rad", "this looks like mrad written as rad",
        ),
    }
)  # fmt: skip

# Decimal exponents beyond this are no quantity of ours, and a fraction of 10^999999999 would
# fill the memory.
_MOST_DIGITS = 40
_FARTHEST_SLIP = 10**9
_NUMBER = r"[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,4})?"
_WRITTEN = re.compile(rf"(?P<sign>[+\-]?)\s*(?P<number>{_NUMBER})\s*(?P<unit>\D.*)?")
_COMMA = re.compile(r"[+\-]?\s*[0-9]*,[0-9]+")
_CLOCK = re.compile(r"(?:([0-9]{1,2}):)?([0-9]{1,3}):([0-9]+)")
_SECONDS_WORD = r"(?:s|secs?|seconds?)"
_MINUTES_WORD = r"(?:m|mins?|minutes?)"
_MINUTES_SECONDS = re.compile(
    rf"([0-9]{{1,4}})\s*{_MINUTES_WORD}\s*([0-9]{{1,2}})\s*{_SECONDS_WORD}"
)
_HOURS_MINUTES = re.compile(rf"([0-9]{{1,2}})\s*h\s*([0-9]{{1,2}})\s*(?:{_MINUTES_WORD})?")
_SPELLINGS = str.maketrans({"µ": "u", "μ": "u", "−": "-", "\u00a0": " "})
# Only behind the m of a unit: "10^3 mW" is not 103 mW.
_SQUARE = re.compile(r"m(?:²|\^2)")
# Words and signs with one meaning only; without blanks and in small letters.
_UNIT_WORDS = {
    "sec": "s", "secs": "s", "second": "s", "seconds": "s",
    "minute": "min", "minutes": "min", "mins": "min",
    "hour": "h", "hours": "h", "hr": "h", "hrs": "h",
    "hertz": "Hz", "kilohertz": "kHz", "percent": "%",
    "watt": "W", "watts": "W", "milliwatt": "mW", "milliwatts": "mW",
    "joule": "J", "joules": "J", "millijoule": "mJ", "millijoules": "mJ",
    "sqcm": "cm2", "squarecm": "cm2", "sqmm": "mm2", "squaremm": "mm2",
    "nanometre": "nm", "nanometres": "nm", "nanometer": "nm", "nanometers": "nm",
}  # fmt: skip
_RAISED = str.maketrans("⁻¹²³", "-123")
_PER_AREA = re.compile(r"[·⋅*]?(?:per)?/?(c?m)\^?-?2$")
# 1.000, 12.500.000: thousands where the language writes them so.
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+")


def label(quantity: Quantity) -> str:
    """``mean_power_mw`` as people read it: ``mean power``."""
    words, _, _ = quantity.rpartition("_")
    return words.removesuffix("_mw").removesuffix("_j").replace("_", " ")


def parse(quantity: Quantity, text: str, *, thousands: str = "") -> Fraction:
    """The number that ``text`` states, in the unit that the name of ``quantity`` ends in.

    ``thousands`` is the sign by which the language of whoever types sets off thousands.

    Raises:
        Ambiguous: ``1.34 min``, ``1:5``; ``1.000 mW`` with ``thousands="."``: two readings, both
            shown.
        WrongUnit: outside the bounds of the quantity, with what was probably meant.
        BadQuantity: no number, no unit, another unit, a decimal comma, zero or less.
    """
    shown = f'"{text}"' if len(text) <= 40 else f'"{text[:37]}..."'
    bounds = BOUNDS[quantity]
    written = _SQUARE.sub("m2", " ".join(text.translate(_SPELLINGS).split()))
    if quantity == "duration_s":
        clock = _clock_time(written, shown)
        if clock is not None:
            return _within(quantity, clock, shown)
    if _COMMA.match(written):
        _refuse(quantity, shown, "write the decimal point as a point: 0.5, not 0,5")
    match = _WRITTEN.fullmatch(written)
    if match is None:
        _refuse(quantity, shown)
    number = Decimal(match["number"])
    if abs(number.adjusted()) > _MOST_DIGITS or len(match["number"]) > _MOST_DIGITS:
        _refuse(quantity, shown)
    unit = _unit(match["unit"] or "", bounds)
    if quantity == "duty_cycle_percent" and not unit and 0 < number <= 1:
        # A share has no unit, and above 1 there is none.
        return _within(quantity, Fraction(number) * 100, shown)
    if thousands == "." and _THOUSANDS.fullmatch(match["number"]):
        whole = match["number"].replace(".", "")
        readings = f"{plain(Fraction(number))} {unit}, or {whole} {unit}?"
        raise Ambiguous(quantity, shown, "a number without signs between thousands", readings)
    if unit not in bounds.units:
        _refuse(quantity, shown, _unit_hint(quantity, match["number"], unit))
    if match["sign"] == "-" or number == 0:
        _refuse(quantity, shown, "it must be more than zero")
    if unit == "min":
        _whole_minutes(match["number"], shown)
    if unit == "h" and re.fullmatch(r"[0-9]+\.[0-5][0-9]", match["number"]):
        hours, minutes = match["number"].split(".")
        readings = f"{plain(Fraction(number) * 3600)} s, or {hours} h {minutes} min?"
        raise Ambiguous(quantity, shown, "seconds, mm:ss or whole minutes", readings)
    return _within(quantity, Fraction(number) * bounds.units[unit], shown)


def bound_problem(quantity: Quantity, value: Fraction | Decimal | int) -> str | None:
    """What is unusual about ``value`` (in the unit of the name), or None if nothing is.

    ``0.5 mW is outside the usual 1 to 30000 mW (this looks like watts)``.
    """
    bounds = BOUNDS[quantity]
    if bounds.usual_low <= Fraction(value) <= bounds.usual_high:
        return None
    hint = unit_hint(quantity, value)
    return f"{plain(Fraction(value))} {bounds.unit} is outside the usual {usual(quantity)}" + (
        f" ({hint})" if hint else ""
    )


def unit_hint(quantity: Quantity, value: Fraction | Decimal | int) -> str:
    """What was probably meant by an unusual ``value``; "" for a usual one, and for zero or less."""
    bounds = BOUNDS[quantity]
    if value <= 0:
        return ""
    if Fraction(value) < bounds.usual_low:
        return bounds.below
    return bounds.above if Fraction(value) > bounds.usual_high else ""


def usual(quantity: Quantity) -> str:
    """The usual range with its unit: ``1 to 30000 mW``."""
    bounds = BOUNDS[quantity]
    return f"{plain(bounds.usual_low)} to {plain(bounds.usual_high)} {bounds.unit}"


def plain(value: Fraction | Decimal | int, digits: int = 6) -> str:
    """A number for people: ``digits`` significant digits, no exponent, no trailing zeros."""
    exact = Fraction(value)
    if exact == 0:
        return "0"
    magnitude = 0
    while abs(exact) >= 10 ** (magnitude + 1):
        magnitude += 1
    while abs(exact) * 10**-magnitude < 1:
        magnitude -= 1
    text = f"{rounded(exact, max(0, digits - 1 - magnitude)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _within(quantity: Quantity, value: Fraction, shown: str) -> Fraction:
    bounds = BOUNDS[quantity]
    if bounds.lowest <= value <= bounds.highest:
        return value
    allowed = f"{plain(bounds.lowest)} to {plain(bounds.highest)} {bounds.unit}"
    hint = bounds.below if value < bounds.lowest else bounds.above
    # No unit is wrong by so much: 10^30 J are not meant as mJ.
    if value * _FARTHEST_SLIP < bounds.lowest or value > bounds.highest * _FARTHEST_SLIP:
        hint = ""
    raise WrongUnit(quantity, shown, allowed, hint)


def _refuse(quantity: Quantity, shown: str, hint: str = "") -> NoReturn:
    units = ", ".join(BOUNDS[quantity].units)
    also = " or mm:ss" if quantity == "duration_s" else ""
    raise BadQuantity(quantity, shown, f"a number above zero with its unit ({units}){also}", hint)


def _unit(written: str, bounds: Bounds) -> str:
    """A unit as the table has it, from any spelling with one meaning; else as it was typed."""
    typed = written.translate(_RAISED).replace(" ", "")
    if typed in bounds.units:
        return typed
    small = typed.lower()
    if small in _UNIT_WORDS:
        return _UNIT_WORDS[small]
    over = _PER_AREA.search(small)
    if over is not None and over.start() > 0:
        small = f"{small[: over.start()]}/{over[1]}2"
    same = [name for name in bounds.units if name.lower() == small]
    # A capital M is mega, and a small one milli: 500 MW are not 500 mW.
    if len(same) == 1 and not (typed[:1] == "M" and same[0][:1] == "m"):
        return same[0]
    return typed


def _unit_hint(quantity: Quantity, number: str, unit: str) -> str:
    names = BOUNDS[quantity].units
    if not unit:
        return "the unit is missing: " + " or ".join(f"{number} {name}" for name in names) + "?"
    same = [name for name in names if name.lower() == unit.lower()]
    return f"did you mean {number} {same[0]}?" if same else f'the unit "{unit}" does not fit'


def _clock_time(written: str, shown: str) -> Fraction | None:
    """Seconds of ``1:30``, ``1:02:03`` or ``1 min 30 s``; None for another way of writing."""
    words = _MINUTES_SECONDS.fullmatch(written)
    hours_minutes = _HOURS_MINUTES.fullmatch(written)
    if hours_minutes is not None:
        if int(hours_minutes[2]) > 59:
            _refuse("duration_s", shown, "minutes go from 00 to 59")
        return Fraction(int(hours_minutes[1]) * 3600 + int(hours_minutes[2]) * 60)
    match = _CLOCK.fullmatch(written)
    if words is not None:
        hours, minutes, seconds = None, words[1], f"{int(words[2]):02d}"
    elif match is not None:
        hours, minutes, seconds = match[1], match[2], match[3]
    else:
        return None
    if len(seconds) == 1:
        raise Ambiguous(
            "duration_s", shown, "mm:ss", f"{minutes}:0{seconds} or {minutes}:{seconds}0?"
        )
    if len(seconds) > 2 or int(seconds) > 59 or (hours is not None and int(minutes) > 59):
        _refuse("duration_s", shown, "seconds go from 00 to 59")
    total = int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds)
    if total == 0:
        _refuse("duration_s", shown, "it must be more than zero")
    return Fraction(total)


def _whole_minutes(number: str, shown: str) -> None:
    """Refuse ``1.34 min``: printed papers mean 80.4 s by it, and others 1 min 34 s."""
    exact = Fraction(number)
    if exact.denominator == 1:
        return
    readings = f"{plain(exact * 60)} s"
    other = minutes_point_seconds(exact)
    if other is not None:
        minutes, rest = divmod(int(other), 60)
        readings += f", or {minutes} min {rest} s = {int(other)} s"
    raise Ambiguous("duration_s", shown, "seconds, mm:ss or whole minutes", f"{readings}?")


def minutes_point_seconds(minutes: Fraction) -> Fraction | None:
    """Seconds if ``1.34`` was meant as 1 min 34 s; None where it cannot be read so."""
    whole, rest = divmod(minutes, 1)
    seconds = rest * 100
    if seconds.denominator != 1 or seconds > 59:
        return None
    return whole * 60 + seconds
