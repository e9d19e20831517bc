"""Spots along a region: how many, where, and what of the skin they cover. Exact arithmetic."""

from dataclasses import dataclass
from fractions import Fraction

# Less overlap than this share of the footprint comes from rounding the count up and is not worth
# a remark (house rule).
OVERLAP_WORTH_TELLING = Fraction(10, 100)


def spot_count(*, length_mm: int, spacing_mm: int, cap: int | None = None) -> int:
    """Spots that a length takes: ``max(1, ceil(length / spacing))``, never over the cap.

    Args:
        length_mm: length of the region, >= 0.
        spacing_mm: from spot to spot, > 0; the prescriber's, else the footprint of the head.
        cap: most spots that the prescriber allows, >= 1, or None.

    Raises:
        ValueError: naming the argument, what was found and what is allowed.
    """
    if length_mm < 0:
        raise ValueError(f"length_mm: {length_mm} found; allowed: 0 or more")
    if spacing_mm <= 0:
        raise ValueError(f"spacing_mm: {spacing_mm} found; allowed: more than 0")
    if cap is not None and cap < 1:
        raise ValueError(f"cap: {cap} found; allowed: 1 or more")
    count = max(1, -(-length_mm // spacing_mm))
    return count if cap is None else min(count, cap)


def places(count: int) -> tuple[Fraction, ...]:
    """Where ``count`` spots go along a region, as shares of its length, head to tail.

    Each spot sits in the middle of its own equal part: ``(2k - 1) / 2n``.
    """
    if count < 1:
        raise ValueError(f"count: {count} found; allowed: 1 or more")
    return tuple(Fraction(2 * k - 1, 2 * count) for k in range(1, count + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """How spots lie on a length of skin.

    Attributes:
        covered: share of the length under the head at some time, 0 to 1.
        overlap_mm: what two neighbours share; 0 when they do not touch or there is one only.
        gap_mm: bare skin between two neighbours; 0 when they touch or there is one only.
        remark: what is worth telling the prescriber, or "".
    """

    covered: Fraction
    overlap_mm: Fraction
    gap_mm: Fraction
    remark: str


def coverage(*, length_mm: int, count: int, footprint_mm: int) -> Coverage:
    """Coverage of ``length_mm`` by ``count`` spots, each ``footprint_mm`` wide along it.

    Raises:
        ValueError: naming the argument, what was found and what is allowed.
    """
    for name, value in (("length_mm", length_mm), ("count", count), ("footprint_mm", footprint_mm)):
        if value < 1:
            raise ValueError(f"{name}: {value} found; allowed: 1 or more")
    pitch = Fraction(length_mm, count)
    alone = count == 1
    overlap = Fraction(0) if alone else max(Fraction(0), footprint_mm - pitch)
    gap = Fraction(0) if alone else max(Fraction(0), pitch - footprint_mm)
    remark = ""
    if overlap > OVERLAP_WORTH_TELLING * footprint_mm:
        remark = (
            f"{count} spots of {footprint_mm} mm on {length_mm} mm overlap by "
            f"{round(overlap)} mm: that skin is given twice"
        )
    elif gap > footprint_mm:
        remark = (
            f"{count} spots of {footprint_mm} mm on {length_mm} mm leave gaps of {round(gap)} mm, "
            "wider than the head"
        )
    return Coverage(
        covered=min(Fraction(1), Fraction(footprint_mm * count, length_mm)),
        overlap_mm=overlap,
        gap_mm=gap,
        remark=remark,
    )
