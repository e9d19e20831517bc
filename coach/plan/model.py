"""A plan as the prescriber wrote it: frozen models, one for each table of the file.

Numbers are Decimal as typed; integer base units are computed from them on demand, once, by
:mod:`coach.units`. Bounds catch typing slips and wrong units; they are no advice about dose.
"""

import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from coach.body.measures import BOUNDS_MM, Tape, expected_length_mm, lengths
from coach.body.regions import Side, region
from coach.body.spread import spot_count
from coach.dose import energy
from coach.plan.care import Care as Care

# Together with the rest of a plan for those who read one.
from coach.plan.course import CalendarRules as CalendarRules
from coach.plan.course import CoursePhase as CoursePhase
from coach.plan.fields import (
    FORMAT_2,
    Across,
    Line,
    Note,
    Seconds,
    between,
    refuse,
    tape_cm,
    usual,
    whole,
    words,
)
from coach.plan.fields import Table as Table
from coach.plan.laser import Laser as Laser
from coach.plan.patient import Patient as Patient
from coach.plan.patient import Photo as Photo
from coach.plan.patient import Reason as Reason
from coach.plan.patient import Recheck as Recheck
from coach.plan.places import OwnPlace as OwnPlace
from coach.units import NS_PER_S, ns_from_s

FORMAT = 1
FORMATS = (1, 2)

PlanId = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")]
# Ways of stating a dose over a treated area, with their units.
AREA_TARGETS = {"joules_each_area": "J", "joules_per_cm2_over_area": "J/cm2 over the area"}
Technique = Literal["still", "swept"]
Feels = Literal["feels tight", "feels sore", "feels warm"]

# What it takes until the dog lies another way. House rule: common practice, no source.
TURN_SECONDS = Decimal(30)


def _mm(centimetres: Decimal) -> int:
    return int(centimetres * 10)


class About(Table):
    """``[plan]``: who ordered what, and for how long it holds."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$", examples=["juniper-spine"])]
    revision: Annotated[int, whole(1, 9999)] = Field(examples=[1])
    prescriber: Line = Field(examples=["Dr. Ada Muster"])
    clinic: Annotated[str, words(0, 80)] = ""
    prescribed_on: datetime.date = Field(examples=[datetime.date(2026, 11, 25)])
    valid_until: datetime.date = Field(examples=[datetime.date(2026, 12, 31)])
    phone: Annotated[str, words(0, 40)] = Field(
        default="", examples=["+49 30 000000"], json_schema_extra=FORMAT_2
    )
    beside: Annotated[list[PlanId], Field(max_length=5)] = Field(
        default=[], examples=[["juniper-wound"]], json_schema_extra=FORMAT_2
    )
    needs_second_check: bool = Field(default=False, json_schema_extra=FORMAT_2)
    checked_by: Annotated[str, words(0, 80)] = Field(
        default="", examples=["Dr. Bo Muster"], json_schema_extra=FORMAT_2
    )
    checked_on: datetime.date | None = Field(
        default=None, examples=[datetime.date(2026, 11, 25)], json_schema_extra=FORMAT_2
    )
    note: Note = ""


class Dog(Table):
    """``[dog]``: the measures are those of :class:`coach.body.measures.Tape`."""

    name: Line = Field(examples=["Juniper"])
    weight_kg: Annotated[Decimal, between("0.5", "120", "kg", above="this looks like grams")] = (
        Field(examples=[Decimal("9.5")])
    )
    neck_cm: Annotated[Decimal | None, tape_cm(*BOUNDS_MM["neck"])] = None
    back_cm: Annotated[Decimal | None, tape_cm(*BOUNDS_MM["back"])] = None
    rib_cm: Annotated[Decimal | None, tape_cm(*BOUNDS_MM["rib"])] = None
    loin_cm: Annotated[Decimal | None, tape_cm(*BOUNDS_MM["loin"])] = None
    measured_on: datetime.date | None = Field(default=None, examples=[datetime.date(2026, 11, 25)])
    weight_when_measured_kg: Annotated[Decimal | None, between("0.5", "120", "kg")] = None
    growing: bool = False

    @property
    def length_mm(self) -> int:
        """From skull bump to tail base: by the tape, else what goes with the weight."""
        tape = self.tape
        if tape is not None:
            return tape.neck_mm + tape.back_mm
        return expected_length_mm(int(self.weight_kg * 1000))

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


class Settle(Table):
    """``[settle]``: the opening at the top of the neck, on each side; none unless it is ordered."""

    seconds_each_side: Seconds | None = None
    leave_out: bool = False

    @property
    def each_side_ns(self) -> int:
        """Planned time on each side; 0 where there is no opening."""
        if self.leave_out or self.seconds_each_side is None:
            return 0
        return ns_from_s(self.seconds_each_side)


class Rules(Table):
    """``[session]``: how the session is run."""

    order: Literal["one side at a time", "across, level by level"] = "one side at a time"
    advance: Literal["auto", "wait"] = "auto"
    # Longer than any dog takes to be turned, shorter than an evening. Common practice, no source.
    patience_minutes: Annotated[int, whole(1, 60, "minutes")] = 10
    pinned: bool = False
    move_seconds: Annotated[Decimal, between("3", "120", "s")] = Decimal(8)
    turn_seconds: Annotated[Decimal, between("5", "300", "s")] = TURN_SECONDS
    spacing_cm: Across | None = None
    may_be_shortened: bool = True
    repeats_allowed: Annotated[int, whole(0, 3)] = 0


class Limits(Table):
    """``[limits]``: when a session may be started; what is not stated is not held against it."""

    least_hours_between: Annotated[
        Decimal | None, between("0.5", "672", "hours", above="this looks like minutes")
    ] = None
    most_a_day: Annotated[int | None, whole(1, 4)] = None
    most_a_week: Annotated[int | None, whole(1, 14)] = None
    # After half an hour it is another session, not the rest of this one. Common practice, no
    # source; the prescriber says otherwise here.
    carry_on_minutes: Annotated[int, whole(1, 720, "minutes")] = 30
    owner_may_overrule: bool = False


def _differ(names: list[str]) -> list[str]:
    if len({name.casefold() for name in names}) < len(names):
        raise refuse("activities that differ from each other")
    return names


class Scores(Table):
    """``[scores]``: how often the owner says how the dog is doing; nothing stated asks nothing.

    ``instrument`` is a questionnaire of which the prescriber wants the total; its questions are
    not part of this program. ``activities`` are otherwise named by the owner.
    """

    every_days: Annotated[int | None, whole(1, 365, "days")] = None
    instrument: Annotated[str, words(0, 80)] = ""
    activities: (
        Annotated[
            list[Annotated[str, words(1, 40)]],
            Field(min_length=3, max_length=5),
            AfterValidator(_differ),
        ]
        | None
    ) = Field(default=None, examples=[["stairs", "getting up", "a long walk"]])


class RegionOrder(Table):
    """``[[regions]]``: what is ordered for one region."""

    region: Annotated[str, Field(examples=["lumbar"])]
    sides: Annotated[list[Side], Field(min_length=1, max_length=3, examples=[["left", "right"]])]
    aspects: Annotated[list[str], Field(min_length=1, max_length=8)] | None = Field(
        default=None, examples=[["lateral"]]
    )
    spots: Annotated[int | None, whole(1, 60)] = Field(default=None, examples=[4])
    spacing_cm: Across | None = None
    most_spots: Annotated[int | None, whole(1, 60)] = Field(default=None, examples=[6])
    priority: Annotated[int, whole(1, 9)] = 1
    seconds_each_spot: Seconds | None = None
    joules_each_spot: Annotated[Decimal | None, between("0.01", "300", "J")] = None
    joules_per_cm2_each_spot: Annotated[Decimal | None, between("0.01", "2000", "J/cm2")] = None
    first: bool = Field(default=False, json_schema_extra=FORMAT_2)
    laser: str | None = Field(default=None, examples=["small head"], json_schema_extra=FORMAT_2)
    technique: Technique = Field(default="still", json_schema_extra=FORMAT_2)
    treated_area_cm2: Annotated[Decimal | None, usual("swept_area_cm2")] = Field(
        default=None, examples=[Decimal(100)], json_schema_extra=FORMAT_2
    )
    seconds_each_area: Seconds | None = Field(default=None, json_schema_extra=FORMAT_2)
    joules_each_area: Annotated[Decimal | None, usual("energy_j")] = Field(
        default=None, json_schema_extra=FORMAT_2
    )
    joules_per_cm2_over_area: Annotated[Decimal | None, usual("swept_fluence_j_cm2")] = Field(
        default=None, json_schema_extra=FORMAT_2
    )
    passes: Annotated[int | None, whole(1, 200)] = Field(default=None, json_schema_extra=FORMAT_2)
    speed_cm_s: Annotated[Decimal | None, between("0.1", "20", "cm/s")] = Field(
        default=None, json_schema_extra=FORMAT_2
    )
    contact: bool | None = Field(default=None, json_schema_extra=FORMAT_2)
    distance_cm: Annotated[Decimal | None, between("0.1", "30", "cm")] = Field(
        default=None, json_schema_extra=FORMAT_2
    )
    pressure: Literal["light", "none"] | None = Field(default=None, json_schema_extra=FORMAT_2)
    only_if: Feels | None = Field(default=None, json_schema_extra=FORMAT_2)
    note: Note = ""
    spot_notes: Annotated[list[Annotated[str, words(0, 200)]], Field(max_length=60)] = Field(
        default=[], examples=[["on the scar", ""]], json_schema_extra=FORMAT_2
    )


class Plan(Table):
    """A whole plan that has passed every check of :mod:`coach.plan.read`."""

    format: Literal[1, 2] = 1
    about: About
    dog: Dog
    patient: Patient = Patient()
    reason: Reason = Reason()
    recheck: Recheck = Recheck()
    laser: Laser
    course: tuple[CoursePhase, ...]
    settle: Settle
    rules: Rules
    limits: Limits = Limits()
    calendar: CalendarRules = CalendarRules()
    scores: Scores = Scores()
    care: Care = Care()
    places: tuple[OwnPlace, ...] = ()
    photos: tuple[Photo, ...] = ()
    regions: tuple[RegionOrder, ...]
    # The phase of the course whose regions these are, from 0; see coach.plan.phases.
    phase: int | None = None

    def spots_each(self, order: RegionOrder) -> int:
        """Spots on each side and aspect of ``order``: the plan's number, else by the tape.

        A place that is no length has one. ``most_spots`` holds, whatever the tape says.
        """
        if order.spots is not None:
            return order.spots
        if order.technique == "swept" or region(order.region).point:
            return 1
        found = spots_by_tape(order, self.dog, self.laser, self.rules)
        if found is None:
            raise ValueError(f"{order.region}: neither spots nor what gives them")
        return found if order.most_spots is None else min(found, order.most_spots)

    def hold_ns(self, order: RegionOrder) -> int:
        """Planned time on each spot or area of ``order``: the seconds, else what the target takes.

        Seconds rule where both are stated (they agree within 5 %, or the plan is refused).
        """
        if order.technique == "swept":
            return area_hold_ns(order, self.laser.power_uw)
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


def target_ns(order: RegionOrder, laser: Laser, *, power_uw: int | None = None) -> int:
    """Time that the stated J or J/cm2 of ``order`` takes, at ``power_uw`` or as the laser has it.

    ValueError when it cannot be known.
    """
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
    exact = Fraction(target_fj, power_uw or laser.power_uw)
    return max(tenth_ns, round(exact / tenth_ns) * tenth_ns)


def area_target_ns(order: RegionOrder, name: str, power_uw: int) -> int:
    """Time that a target over the area takes, in whole tenths of a second."""
    value = Fraction(getattr(order, name))
    if name == "joules_per_cm2_over_area":
        value *= Fraction(order.treated_area_cm2 or 0)
    tenth_ns = NS_PER_S // 10
    exact = Fraction(round(value * 10**15), power_uw)
    return max(tenth_ns, round(exact / tenth_ns) * tenth_ns)


def area_hold_ns(order: RegionOrder, power_uw: int) -> int:
    """Planned time of one sweep: the seconds, else what the target takes. ValueError for none."""
    if order.seconds_each_area is not None:
        return ns_from_s(order.seconds_each_area)
    for name in AREA_TARGETS:
        if getattr(order, name) is not None:
            return area_target_ns(order, name, power_uw)
    raise ValueError(f"{order.region}: no seconds, J or J/cm2 over the area")
