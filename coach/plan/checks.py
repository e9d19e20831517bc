"""Checks that need more than one field of a plan: dates, and the places of a region."""

import datetime
from collections.abc import Collection, Mapping, Sequence

from coach.body import Region, region, regions
from coach.body.places import is_own
from coach.body.regions import is_region
from coach.plan.model import (
    About,
    CoursePhase,
    Dog,
    Laser,
    Limits,
    RegionOrder,
    Rules,
    spacing_cm,
    spots_by_tape,
)
from coach.plan.problems import Path, Report, meant, show

TAPED = ("neck_cm", "back_cm", "rib_cm", "loin_cm")


def check_dates(report: Report, about: About, today: datetime.date) -> None:
    if about.valid_until < about.prescribed_on:
        report.add(
            ("plan", "valid_until"),
            show(about.valid_until),
            f"{about.prescribed_on} (prescribed_on) or later",
        )
    elif about.valid_until < today:
        report.add(
            ("plan", "valid_until"),
            f"{about.valid_until}: this plan has run out",
            f"today ({today}) or later",
            "ask the prescriber for a new revision",
        )


def check_limits(report: Report, limits: Limits, course: Sequence[CoursePhase]) -> None:
    """Limits that contradict each other, or the course that the same plan orders."""
    if limits.most_a_week is None:
        return
    if limits.most_a_day is not None and limits.most_a_day > limits.most_a_week:
        report.add(
            ("limits", "most_a_day"),
            show(limits.most_a_day),
            f"at most {limits.most_a_week} (most_a_week)",
        )
    for number, phase in enumerate(course):
        if (phase.times_a_week or 0) > limits.most_a_week:
            report.add(
                ("course", number, "times_a_week"),
                show(phase.times_a_week),
                f"at most {limits.most_a_week} (most_a_week under [limits])",
            )


def check_place(
    report: Report, number: int, order: RegionOrder, reported: Collection[str] = ()
) -> None:
    """Is there such a region, and has it these sides and aspects? Skips the fields ``reported``."""
    here: Path = ("regions", number)
    known = regions()
    place = region(order.region) if is_region(order.region) else None
    if "region" not in reported:
        if place is None:
            report.add(
                (*here, "region"),
                show(order.region),
                ", ".join(known),
                meant(order.region, _names(known)),
            )
        else:
            _check_faces(report, here, order, place, reported)
    for field, values in (("sides", order.sides), ("aspects", order.aspects or [])):
        if field not in reported and len(set(values)) < len(values):
            report.add((*here, field), show(values), "each only once")


def _check_faces(
    report: Report, here: Path, order: RegionOrder, place: Region, reported: Collection[str]
) -> None:
    for n, side in enumerate(order.sides):
        if side not in place.sides and "sides" not in reported:
            allowed = f"{', '.join(place.sides)}: {place.term} has no {side}"
            report.add((*here, "sides", n), show(side), allowed)
    if "aspects" in reported:
        return
    if place.aspects and order.aspects is None and not is_own(place.key):
        report.add((*here, "aspects"), "nothing", f"some of {', '.join(place.aspects)}")
    for n, aspect in enumerate(order.aspects or ()):
        if aspect not in place.aspects:
            allowed = ", ".join(place.aspects) or f"no aspects: {place.term} has none"
            report.add((*here, "aspects", n), show(aspect), allowed, meant(aspect, place.aspects))


def check_measures(report: Report, dog: Dog, today: datetime.date) -> None:
    taken = [name for name in TAPED if getattr(dog, name) is not None]
    for name in ("neck_cm", "back_cm"):
        if taken and getattr(dog, name) is None:
            report.add(("dog", name), "nothing", f"neck_cm and back_cm beside {', '.join(taken)}")
    if dog.measured_on is not None and dog.measured_on > today:
        report.add(("dog", "measured_on"), show(dog.measured_on), f"today ({today}) or earlier")


def check_spots(
    report: Report, number: int, order: RegionOrder, dog: Dog, laser: Laser, rules: Rules
) -> None:
    """Is it known how many spots a region gets, and does the prescriber's cap hold?"""
    here: Path = ("regions", number)
    place = region(order.region)
    if order.spots is not None:
        if order.most_spots is not None and order.spots > order.most_spots:
            report.add(
                (*here, "spots"), f"{order.spots}", f"at most {order.most_spots}, most_spots"
            )
        return
    if place.point:
        return
    by_tape = spots_by_tape(order, dog, laser, rules)
    if by_tape is None:
        missing = []
        if dog.tape is None:
            missing.append("neck_cm and back_cm in [dog]")
        if spacing_cm(order, laser, rules) is None:
            missing.append("spacing_cm here or in [session], or head_footprint_cm in [laser]")
        instead = f"; or, to count by the tape: {'; '.join(missing)}" if missing else ""
        report.add(
            (*here, "spots"), "nothing", f"this field must be there, such as spots = 4{instead}"
        )
    elif order.most_spots is None:
        # A slip of the tape must not add dose: only the prescriber says how many at most.
        report.add(
            (*here, "most_spots"),
            f"nothing, and the tape gives {by_tape} spots",
            "the most spots that the prescriber allows, such as most_spots = 6; or spots",
        )


def _names(known: Mapping[str, Region]) -> dict[str, str]:
    """Whatever a region may be called, with its key."""
    return {
        name: key
        for key, place in known.items()
        for name in (place.owner_words, place.spoken, place.term, key)
    }
