"""Quantities as integers, so that sums are exact and the order of adding never matters.

Base units, one for each kind of quantity, always in the name:

    duration_ns   nanoseconds
    power_uw      microwatts
    energy_fj     femtojoules = microwatts x nanoseconds, so power x time needs no rounding
    area_um2      square micrometres

What a person types (``0.5``, ``"100"``) comes in as Decimal, int or str, never as float, and is
rounded half-to-even to the base unit once, here. What a person reads goes out as Decimal with
a fixed number of places, once, at display.
"""

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

NS_PER_S = 1_000_000_000
FJ_PER_J = 10**15
UW_PER_MW = 1_000
UM2_PER_CM2 = 10**8


def to_int(value: Decimal | int | Fraction, scale: int) -> int:
    """``value x scale`` as the nearest integer, ties to even."""
    return round(Fraction(value) * scale)


def ns_from_s(seconds: Decimal | int | Fraction) -> int:
    """Seconds to nanoseconds."""
    return to_int(seconds, NS_PER_S)


def uw_from_mw(milliwatts: Decimal | int | Fraction) -> int:
    """Milliwatts to microwatts."""
    return to_int(milliwatts, UW_PER_MW)


def um2_from_cm2(square_cm: Decimal | int | Fraction) -> int:
    """Square centimetres to square micrometres."""
    return to_int(square_cm, UM2_PER_CM2)


def fj_from_j(joules: Decimal | int | Fraction) -> int:
    """Joules to femtojoules."""
    return to_int(joules, FJ_PER_J)


def s_from_ns(duration_ns: int) -> Fraction:
    """Nanoseconds to seconds, exactly."""
    return Fraction(duration_ns, NS_PER_S)


def j_from_fj(energy_fj: int) -> Fraction:
    """Femtojoules to joules, exactly."""
    return Fraction(energy_fj, FJ_PER_J)


def mw_from_uw(power_uw: int) -> Fraction:
    """Microwatts to milliwatts, exactly."""
    return Fraction(power_uw, UW_PER_MW)


def cm2_from_um2(area_um2: int) -> Fraction:
    """Square micrometres to square centimetres, exactly."""
    return Fraction(area_um2, UM2_PER_CM2)


def rounded(value: Fraction | Decimal | int, places: int) -> Decimal:
    """The one rounding rule at display: half to even at ``places`` decimals."""
    exact = Fraction(value)
    scaled = round(exact * 10**places)
    return (
        Decimal(scaled)
        .scaleb(-places)
        .quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)
    )


def ceil_s(duration_ns: int) -> int:
    """Whole seconds left, rounded up: a countdown shows 1 until the very end, then 0."""
    return -(-duration_ns // NS_PER_S)


def floor_s(duration_ns: int) -> int:
    """Whole seconds given, rounded down; with what is left (:func:`ceil_s`) they make the whole."""
    return duration_ns // NS_PER_S


def clock_text(seconds: int) -> str:
    """Seconds as people read them on a clock: ``45``, ``1:05``, ``1:02:03``."""
    if seconds < 60:
        return str(seconds)
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours}:{minutes:02d}:{rest:02d}"
    return f"{minutes}:{rest:02d}"
