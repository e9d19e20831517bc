"""Tape measures of one dog to the lengths of its regions. Integers: millimetres and grams.

Taken along the back, dog standing, head level:

    neck   bump at the back of the skull to the withers
    back   withers to the tail base
    rib    withers to where the last rib meets the spine (optional)
    loin   from there to the dip between the hip points (optional)

The shares were measured on one open mesh of a dog (see ``outline.py``); between dogs we assume
a spread of 15 % either way. They place spots and count them; they never make a dose.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

NECK_SHARE = Fraction(50, 100)
THORACIC_SHARE = Fraction(46, 100)
LUMBAR_SHARE = Fraction(42, 100)
SACRUM_SHARE = Fraction(12, 100)
SPREAD = Fraction(15, 100)

# The parts of the back must add up to it (house rule).
CLOSES_WITHIN = Fraction(10, 100)

# Skull bump to tail base of a dog of 1 kg; grows with the cube root of the weight. From beagles
# of 7.5 to 10.2 kg that measured 46 to 56 cm (ACVS 2022, abstract). Used to catch slips of
# typing only, so the band of what passes without a question is wide (house rule).
LENGTH_AT_1_KG_MM = 245
FITS_FROM, FITS_TO = Fraction(65, 100), Fraction(150, 100)

REMEASURE_ABOVE = Fraction(10, 100)

# From the smallest toy breed to the largest giant, with room to spare (from memory).
BOUNDS_MM = {"neck": (30, 800), "back": (60, 1500), "rib": (20, 900), "loin": (20, 800)}
BOUNDS_G = (500, 120_000)


class MeasureError(ValueError):
    """Measures that cannot be a dog's; the message names each, what was found and allowed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """One taking of the tape. MeasureError when a value is out of all bounds."""

    neck_mm: int
    back_mm: int
    rib_mm: int | None = None
    loin_mm: int | None = None
    weight_g: int | None = None

    def __post_init__(self) -> None:
        wrong = []
        for name, (low, high) in BOUNDS_MM.items():
            value = getattr(self, f"{name}_mm")
            if value is not None and not low <= value <= high:
                wrong.append(
                    f"{name}: {_cm(value)} cm found; allowed: {_cm(low)} to {_cm(high)} cm"
                )
        low, high = BOUNDS_G
        if self.weight_g is not None and not low <= self.weight_g <= high:
            wrong.append(
                f"weight: {_kg(self.weight_g)} kg found; allowed: {_kg(low)} to {_kg(high)} kg"
            )
        if wrong:
            raise MeasureError("\n".join(wrong))


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionLength:
    """How long one region is, and how sure that is.

    Attributes:
        length_mm: best value.
        low_mm, high_mm: what it may be in another dog of these measures; equal when taped.
        taped: taken with the tape, not worked out from a share.
    """

    length_mm: int
    low_mm: int
    high_mm: int
    taped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something to ask before the measures are used. ``field`` is the measure it speaks of."""

    field: str
    text: str


def lengths(tape: Tape) -> Mapping[str, RegionLength]:
    """Length of every region that is a length, by region key, head to tail."""
    half_neck = _share(NECK_SHARE, tape.neck_mm)
    return {
        "neck_upper": half_neck,
        "neck_lower": half_neck,
        "thoracic": _taped(tape.rib_mm) or _share(THORACIC_SHARE, tape.back_mm),
        "lumbar": _taped(tape.loin_mm) or _share(LUMBAR_SHARE, tape.back_mm),
        "sacrum": _share(SACRUM_SHARE, tape.back_mm),
    }


def expected_length_mm(weight_g: int) -> int:
    """Skull bump to tail base that goes with a weight: 24.5 cm x cube root of the kilograms."""
    if weight_g <= 0:
        raise MeasureError(f"weight: {_kg(weight_g)} kg found; allowed: more than 0 kg")
    return _cube_root(Fraction(LENGTH_AT_1_KG_MM**3 * weight_g, 1000))


def questions(tape: Tape) -> list[Question]:
    """What looks like a slip of the tape or of typing; empty when nothing does."""
    found = []
    if tape.weight_g is not None:
        found += _fits_weight(tape, tape.weight_g)
    if tape.rib_mm is not None or tape.loin_mm is not None:
        found += _closes(tape)
    return found


def _fits_weight(tape: Tape, weight_g: int) -> list[Question]:
    taped_mm = tape.neck_mm + tape.back_mm
    expected_mm = expected_length_mm(weight_g)
    ratio = Fraction(taped_mm, expected_mm)
    if FITS_FROM <= ratio <= FITS_TO:
        return []
    hint = "tape once more, and check the weight"
    for factor, unit in ((Fraction(254, 100), "inches"), (Fraction(1, 10), "mm")):
        if FITS_FROM <= ratio * factor <= FITS_TO:
            meant = round(taped_mm * factor)
            hint = f"were these {unit}? Then it is {_cm(meant)} cm"
            break
    return [
        Question(
            field="neck, back",
            text=f"{_cm(taped_mm)} cm from the skull to the tail does not fit {_kg(weight_g)} kg "
            f"(about {_cm(expected_mm)} cm): {hint}",
        )
    ]


def _closes(tape: Tape) -> list[Question]:
    parts = lengths(tape)
    sum_mm = sum(parts[key].length_mm for key in ("thoracic", "lumbar", "sacrum"))
    if abs(sum_mm - tape.back_mm) <= CLOSES_WITHIN * tape.back_mm:
        return []
    names = [name for name in ("rib", "loin") if getattr(tape, f"{name}_mm") is not None]
    return [
        Question(
            field=", ".join([*names, "back"]),
            text=f"ribs, loin and sacrum add up to {_cm(sum_mm)} cm, but the back is "
            f"{_cm(tape.back_mm)} cm (more than 10 % apart): tape all of them once more",
        )
    ]


def remeasure_reasons(
    *, weight_then_g: int, weight_now_g: int, growing: bool, new_plan: bool
) -> list[str]:
    """Why the tape should be taken again; empty when it need not be (common practice)."""
    reasons = []
    if abs(weight_now_g - weight_then_g) > REMEASURE_ABOVE * weight_then_g:
        reasons.append(
            f"the weight went from {_kg(weight_then_g)} to {_kg(weight_now_g)} kg, over 10 %"
        )
    if growing:
        reasons.append("the dog is still growing")
    if new_plan:
        reasons.append("there is a new plan")
    return reasons


def _share(share: Fraction, whole_mm: int) -> RegionLength:
    exact = share * whole_mm
    return RegionLength(
        length_mm=round(exact),
        low_mm=round(exact * (1 - SPREAD)),
        high_mm=round(exact * (1 + SPREAD)),
        taped=False,
    )


def _taped(length_mm: int | None) -> RegionLength | None:
    if length_mm is None:
        return None
    return RegionLength(length_mm=length_mm, low_mm=length_mm, high_mm=length_mm, taped=True)


def _cube_root(value: Fraction) -> int:
    """Nearest integer to the cube root of a positive value, exactly."""
    low, high = 0, 1
    while Fraction(high) ** 3 <= value:
        high *= 2
    while high - low > 1:
        middle = (low + high) // 2
        if Fraction(middle) ** 3 <= value:
            low = middle
        else:
            high = middle
    return low if Fraction(2 * low + 1, 2) ** 3 > value else high


def _cm(length_mm: int) -> str:
    """Millimetres as people read them: ``17.5``."""
    return f"{length_mm // 10}.{length_mm % 10}"


def _kg(weight_g: int) -> str:
    text = f"{weight_g // 1000}.{abs(weight_g) % 1000:03d}".rstrip("0")
    return text.removesuffix(".")
