"""A plan as the prescriber wrote it: frozen models, one for each table of the file.

Numbers are Decimal as typed; integer base units are computed from them on demand, once, by
:mod:`coach.units`. Bounds catch typing slips and wrong units; they are no advice about dose.
"""

import datetime
import unicodedata
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from coach.body.measures import BOUNDS_MM, Tape, lengths
from coach.body.regions import Side, region
from coach.body.spread import spot_count
from coach.dose import energy
from coach.units import NS_PER_S, ns_from_s, um2_from_cm2, uw_from_mw

FORMAT = 1

# What it takes until the dog lies another way. House rule: common practice, no source.
TURN_SECONDS = Decimal(30)

# Invisible characters that may stand in text: joiners and marks of some scripts.
INVISIBLE_ALLOWED = frozenset("\u200c\u200d\u200e\u200f")


def _refuse(allowed: str, hint: str = "") -> PydanticCustomError:
    return PydanticCustomError("refused", "{allowed}", {"allowed": allowed, "hint": hint})


def _number(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise _refuse("a number without quotes or unit")
    number = Decimal(value)
    if not number.is_finite():
        raise _refuse("an ordinary number")
    return number


def _between(low: str, high: str, unit: str, *, below: str = "", above: str = "") -> Any:
    """A Decimal from ``low`` to ``high``; ``below`` and ``above`` say what was probably meant."""

    def check(value: Any) -> Decimal:
        number = _number(value)
        if Decimal(low) <= number <= Decimal(high):
            return number
        hint = below if number < Decimal(low) else above
        # A negative or zero number is no unit slip.
        raise _refuse(f"{low} to {high} {unit}", hint if number > 0 else "")

    return BeforeValidator(check)


def _count(low: int, high: int, unit: str = "") -> Any:
    """A whole number from ``low`` to ``high``."""
    allowed = f"a whole number, {low} to {high} {unit}".rstrip()

    def check(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise _refuse(allowed)
        return value

    return BeforeValidator(check)


def _text(low: int, high: int, *, lines: bool = False) -> Any:
    """Text of ``low`` to ``high`` characters that shows whole on a screen; ``lines``: several."""

    def shows(character: str) -> bool:
        if character == "\n":
            return lines
        category = unicodedata.category(character)
        return category not in ("Cc", "Cf", "Cs", "Zl", "Zp") or character in INVISIBLE_ALLOWED

    def check(value: Any) -> str:
        if not isinstance(value, str):
            raise _refuse("text in quotes")
        text = value.strip()
        if not all(map(shows, text)):
            raise _refuse(f"text without control characters{'' if lines else ', on one line'}")
        if not low <= len(text) <= high:
            raise _refuse(f"{low} to {high} characters" if low else f"at most {high} characters")
        return text

    return BeforeValidator(check)


Line = Annotated[str, _text(1, 80)]
Note = Annotated[str, _text(0, 2000, lines=True)]
PowerMw = Annotated[
    Decimal,
    _between("1", "30000", "mW", below="this looks like watts", above="this looks like uW"),
]
PeakMw = Annotated[Decimal, _between("1", "200000", "mW", below="this looks like watts")]
Seconds = Annotated[Decimal, _between("1", "1800", "s", below="this looks like minutes")]


def _cm(low_mm: int, high_mm: int) -> Any:
    """Centimetres in whole millimetres, as a tape reads them."""
    low, high = Decimal(low_mm) / 10, Decimal(high_mm) / 10

    def check(value: Any) -> Decimal:
        number = _number(value)
        if low <= number <= high and number * 10 == (number * 10).to_integral_value():
            return number
        hint = "this looks like mm" if low <= number / 10 <= high < number else ""
        raise _refuse(f"{low} to {high} cm, in steps of 0.1", hint)

    return BeforeValidator(check)


def _mm(centimetres: Decimal) -> int:
    return int(centimetres * 10)


# The footprint of a head and the way from spot to spot.
Across = Annotated[Decimal, _cm(2, 300)]


class Table(BaseModel):
    """Base of all tables: nothing unknown, nothing converted, nothing changed later.

    Every field that must be there has an example, which is shown when it is missing.
    """

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True
    )


class About(Table):
    """``[plan]``: who ordered what, and for how long it holds."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$", examples=["juniper-spine"])]
    revision: Annotated[int, _count(1, 9999)] = Field(examples=[1])
    prescriber: Line = Field(examples=["Dr. Ada Muster"])
    clinic: Annotated[str, _text(0, 80)] = ""
    prescribed_on: datetime.date = Field(examples=[datetime.date(2026, 11, 25)])
    valid_until: datetime.date = Field(examples=[datetime.date(2026, 12, 31)])
    note: Note = ""


class Dog(Table):
    """``[dog]``: the measures are those of :class:`coach.body.measures.Tape`."""

    name: Line = Field(examples=["Juniper"])
    weight_kg: Annotated[Decimal, _between("0.5", "120", "kg", above="this looks like grams")] = (
        Field(examples=[Decimal("9.5")])
    )
    neck_cm: Annotated[Decimal | None, _cm(*BOUNDS_MM["neck"])] = None
    back_cm: Annotated[Decimal | None, _cm(*BOUNDS_MM["back"])] = None
    rib_cm: Annotated[Decimal | None, _cm(*BOUNDS_MM["rib"])] = None
    loin_cm: Annotated[Decimal | None, _cm(*BOUNDS_MM["loin"])] = None
    measured_on: datetime.date | None = Field(default=None, examples=[datetime.date(2026, 11, 25)])
    weight_when_measured_kg: Annotated[Decimal | None, _between("0.5", "120", "kg")] = None
    growing: bool = False

    @property
    def tape(self) -> Tape | None:
        """The measures along the back, or None when neck or back was not taken."""
        if self.neck_cm is None or self.back_cm is None:
            return None
        return Tape(
            neck_mm=_mm(self.neck_cm),
            back_mm=_mm(self.back_cm),
            rib_mm=None if self.rib_cm is None else _mm(self.rib_cm),
            loin_mm=None if self.loin_cm is None else _mm(self.loin_cm),
            weight_g=int(self.weight_kg * 1000),
        )


class Pulsed(Table):
    """``[laser.pulsed]``: peak power with the duty cycle, or with pulse width and frequency."""

    peak_power_mw: PeakMw = Field(examples=[400])
    duty_cycle: Annotated[
        Decimal | None, _between("0.000001", "1", "(0.5 means 50 %)", above="this looks like %")
    ] = None
    pulse_width_us: Annotated[Decimal | None, _between("0.001", "10000000", "us")] = None
    frequency_hz: Annotated[Decimal | None, _between("0.1", "1000000", "Hz")] = None

    @property
    def share(self) -> Fraction | None:
        """The duty cycle, stated or computed; None when neither is possible."""
        if self.duty_cycle is not None:
            return Fraction(self.duty_cycle)
        if self.pulse_width_us is None or self.frequency_hz is None:
            return None
        return energy.duty_cycle(
            frequency_hz=Fraction(self.frequency_hz),
            pulse_width_ns=Fraction(self.pulse_width_us) * 1000,
        )


class Laser(Table):
    """``[laser]``: as the prescriber states it. Peak or mean is said, never guessed."""

    label: Line = Field(examples=["contact laser"])
    laser_class: Literal["1", "1C", "1M", "2", "2M", "3R", "3B", "4"] = Field(examples=["3B"])
    wavelength_nm: Annotated[Decimal, _between("400", "1400", "nm", below="this looks like um")] = (
        Field(examples=[808])
    )
    mean_power_mw: PowerMw | None = None
    pulsed: Pulsed | None = None
    beam_area_cm2: Annotated[
        Decimal | None, _between("0.001", "100", "cm2 at the skin", above="this looks like mm2")
    ] = None
    head_footprint_cm: Across | None = None
    starts: Literal["stays on", "button at each spot"] = "stays on"

    @property
    def power_uw(self) -> int:
        """Mean power in microwatts."""
        if self.mean_power_mw is not None:
            return uw_from_mw(self.mean_power_mw)
        if self.pulsed is None or self.pulsed.share is None:
            raise ValueError("the laser has neither a mean power nor what gives one")
        return energy.mean_power_uw(
            peak_power_uw=uw_from_mw(self.pulsed.peak_power_mw), duty_cycle=self.pulsed.share
        )

    @property
    def beam_area_um2(self) -> int | None:
        """Beam area at the skin in square micrometres, or None if it is not stated."""
        return None if self.beam_area_cm2 is None else um2_from_cm2(self.beam_area_cm2)


class CoursePhase(Table):
    """``[[course]]``: so many times a week for so many weeks."""

    name: Line = Field(examples=["induction"])
    times_a_week: Annotated[int, _count(1, 14)] = Field(examples=[3])
    weeks: Annotated[int, _count(1, 104)] = Field(examples=[2])


class Settle(Table):
    """``[settle]``: the calm opening at the top of the neck, on each side."""

    seconds_each_side: Seconds = Decimal(30)
    leave_out: bool = False


class Rules(Table):
    """``[session]``: how the session is run."""

    order: Literal["one side at a time", "across, level by level"] = "one side at a time"
    advance: Literal["auto", "wait"] = "auto"
    pinned: bool = False
    move_seconds: Annotated[Decimal, _between("3", "120", "s")] = Decimal(8)
    turn_seconds: Annotated[Decimal, _between("5", "300", "s")] = TURN_SECONDS
    spacing_cm: Across | None = None
    may_be_shortened: bool = True
    repeats_allowed: Annotated[int, _count(0, 3)] = 1


class Limits(Table):
    """``[limits]``: when a session may be started; what is not stated is not held against it."""

    least_hours_between: Annotated[
        Decimal | None, _between("0.5", "672", "hours", above="this looks like minutes")
    ] = None
    most_a_day: Annotated[int | None, _count(1, 4)] = None
    most_a_week: Annotated[int | None, _count(1, 14)] = None
    # After half an hour it is another session, not the rest of this one. Common practice, no
    # source; the prescriber says otherwise here.
    carry_on_minutes: Annotated[int, _count(1, 720, "minutes")] = 30
    owner_may_overrule: bool = False


class RegionOrder(Table):
    """``[[regions]]``: what is ordered for one region."""

    region: Annotated[str, Field(examples=["lumbar"])]
    sides: Annotated[list[Side], Field(min_length=1, max_length=3, examples=[["left", "right"]])]
    aspects: Annotated[list[str], Field(min_length=1, max_length=8)] | None = Field(
        default=None, examples=[["lateral"]]
    )
    spots: Annotated[int | None, _count(1, 60)] = Field(default=None, examples=[4])
    spacing_cm: Across | None = None
    most_spots: Annotated[int | None, _count(1, 60)] = Field(default=None, examples=[6])
    priority: Annotated[int, _count(1, 9)] = 1
    seconds_each_spot: Seconds | None = None
    joules_each_spot: Annotated[Decimal | None, _between("0.01", "300", "J")] = None
    joules_per_cm2_each_spot: Annotated[Decimal | None, _between("0.01", "2000", "J/cm2")] = None
    note: Note = ""


class Plan(Table):
    """A whole plan that has passed every check of :mod:`coach.plan.read`."""

    about: About
    dog: Dog
    laser: Laser
    course: tuple[CoursePhase, ...]
    settle: Settle
    rules: Rules
    limits: Limits = Limits()
    regions: tuple[RegionOrder, ...]

    def spots_each(self, order: RegionOrder) -> int:
        """Spots on each side and aspect of ``order``: the plan's number, else by the tape.

        A place that is no length has one. ``most_spots`` holds, whatever the tape says.
        """
        if order.spots is not None:
            return order.spots
        if region(order.region).point:
            return 1
        found = spots_by_tape(order, self.dog, self.laser, self.rules)
        if found is None:
            raise ValueError(f"{order.region}: neither spots nor what gives them")
        return found if order.most_spots is None else min(found, order.most_spots)

    def hold_ns(self, order: RegionOrder) -> int:
        """Planned time on each spot of ``order``: the seconds, else what the target takes.

        Seconds rule where both are stated (they agree within 5 %, or the plan is refused).
        """
        if order.seconds_each_spot is not None:
            return ns_from_s(order.seconds_each_spot)
        return target_ns(order, self.laser)


def spacing_cm(order: RegionOrder, laser: Laser, rules: Rules) -> Decimal | None:
    """From spot to spot: as ordered for the region, else the session, else the head's width."""
    return order.spacing_cm or rules.spacing_cm or laser.head_footprint_cm


def spots_by_tape(order: RegionOrder, dog: Dog, laser: Laser, rules: Rules) -> int | None:
    """Spots that the length of a region takes, uncapped; None without tape or spacing."""
    spacing, tape = spacing_cm(order, laser, rules), dog.tape
    if spacing is None or tape is None or order.region not in lengths(tape):
        return None
    length_mm = lengths(tape)[order.region].length_mm
    return spot_count(length_mm=length_mm, spacing_mm=_mm(spacing))


def target_ns(order: RegionOrder, laser: Laser) -> int:
    """Time that the stated J or J/cm2 of ``order`` takes. ValueError when it cannot be known."""
    if order.joules_each_spot is not None:
        target_fj = round(Fraction(order.joules_each_spot) * 10**15)
    elif order.joules_per_cm2_each_spot is not None and laser.beam_area_um2 is not None:
        target_fj = energy.energy_for_fluence_fj(
            fluence_j_cm2=Fraction(order.joules_per_cm2_each_spot),
            beam_area_um2=laser.beam_area_um2,
        )
    else:
        raise ValueError("neither J nor J/cm2 with a beam area")
    # Whole tenths of a second: what an owner can be asked to hold, and what is then counted.
    tenth_ns = NS_PER_S // 10
    exact = Fraction(target_fj, laser.power_uw)
    return max(tenth_ns, round(exact / tenth_ns) * tenth_ns)
