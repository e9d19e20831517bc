"""Checks of what only plans of format 2 can say. Each reports where, what and what is allowed."""

import datetime
from collections.abc import Collection, Mapping, Sequence
from typing import Any, Generic, TypeVar

from coach.body import region, regions
from coach.body.outline import outline
from coach.body.regions import Side
from coach.body.words import region_for
from coach.plan.course import PhaseRegion
from coach.plan.fields import Table
from coach.plan.laser_checks import check_dose
from coach.plan.model import (
    About,
    CoursePhase,
    Dog,
    Laser,
    OwnPlace,
    Patient,
    Reason,
    Recheck,
    RegionOrder,
)
from coach.plan.phases import DOSE_FIELDS, dose_stated, order_in_phase
from coach.plan.problems import Path, Report, meant, show
from coach.plan.sweep import AREA_DOSES, SPOT_FIELDS, check_area_dose

T = TypeVar("T", bound=Table)
Named = TypeVar("Named", RegionOrder, PhaseRegion)


class Part(Generic[T]):
    """A table as far as it can be used. ``bad`` names the fields that have been reported: there
    ``table`` has a stand-in, so that the other fields can still be checked against each other."""

    def __init__(self, table: T, bad: frozenset[str] = frozenset()) -> None:
        self.table = table
        self.bad = bad


def check_starts(report: Report, laser: Any) -> None:
    """How the laser starts must be said: whether it shines from spot to spot depends on it."""
    if isinstance(laser, Mapping) and "starts" not in laser:
        report.add(
            ("laser", "starts"),
            "nothing",
            'this field must be there: "stays on" or "button at each spot"',
        )


def check_second_check(report: Report, about: About, today: datetime.date) -> None:
    """Who has read the plan besides the prescriber, and when."""
    if bool(about.checked_by) != (about.checked_on is not None):
        missing = "checked_on" if about.checked_by else "checked_by"
        report.add(
            ("plan", missing), "nothing", "both checked_by and checked_on, or neither of them"
        )
    if about.checked_by and about.checked_by.casefold() == about.prescriber.casefold():
        report.add(
            ("plan", "checked_by"), show(about.checked_by), "another person than the prescriber"
        )
    if about.checked_on is not None and not about.prescribed_on <= about.checked_on <= today:
        report.add(
            ("plan", "checked_on"),
            show(about.checked_on),
            f"a day from {about.prescribed_on} (prescribed_on) to today ({today})",
        )
    if about.id in about.beside:
        report.add(("plan", "beside"), show(about.beside), "ids of other plans than this one")
    elif len(set(about.beside)) < len(about.beside):
        report.add(("plan", "beside"), show(about.beside), "each only once")


def check_people(
    report: Report,
    patient: Patient,
    reason: Reason,
    reported: Collection[str],
    today: datetime.date,
) -> None:
    """Dates that lie ahead, and who was there when something was agreed."""
    dates = (
        ("patient", "born", patient.born),
        ("reason", "consent_on", reason.consent_on),
        ("reason", "instructions_on", reason.instructions_on),
    )
    for table, field, date in dates:
        if field not in reported and date is not None and date > today:
            report.add((table, field), show(date), f"today ({today}) or earlier")
    for what in ("consent", "instructions"):
        if f"{what}_by" in reported or f"{what}_on" in reported:
            continue
        if getattr(reason, f"{what}_by") and getattr(reason, f"{what}_on") is None:
            report.add(("reason", f"{what}_on"), "nothing", f"the day, beside {what}_by")


def check_recheck(report: Report, recheck: Recheck, about: About) -> None:
    """A visit within the plan, and each sign once."""
    if recheck.on is not None and recheck.on < about.prescribed_on:
        report.add(
            ("recheck", "on"),
            show(recheck.on),
            f"{about.prescribed_on} (prescribed_on) or later",
        )
    for number, rule in enumerate(recheck.stop):
        if any((r.sign, r.then) == (rule.sign, rule.then) for r in recheck.stop[:number]):
            report.add(("recheck", "stop", number, "sign"), show(rule.sign), "each sign only once")


def check_spot_notes(
    report: Report, number: int, order: RegionOrder, reported: Collection[str]
) -> None:
    """No more notes than there are spots, as far as the plan counts them."""
    if "spot_notes" in reported or "spots" in reported:
        return
    most = order.spots or order.most_spots
    if most is None and order.region in regions() and region(order.region).point:
        most = 1
    if most is not None and len(order.spot_notes) > most:
        report.add(
            ("regions", number, "spot_notes"),
            f"{len(order.spot_notes)} notes",
            f"one for each spot, at most {most}",
        )


def check_phase_regions(
    report: Report,
    course: Sequence[Part[CoursePhase] | None],
    orders: Sequence[Part[RegionOrder] | None],
    laser: Laser | None,
) -> None:
    """What phases order otherwise: of a region of the plan, once, and so that something is left.

    Without a usable ``laser`` doses cannot be held against each other.
    """
    sound = [order.table for order in orders if order is not None and not order.bad]
    if len(sound) < len(orders):
        return
    known = list(dict.fromkeys(order.region for order in sound))
    for number, phase in enumerate(course):
        if phase is None or "regions" in phase.bad:
            continue
        before = len(report.found)
        for place, change in enumerate(phase.table.regions):
            here: Path = ("course", number, "regions", place)
            if change.region not in known:
                report.add(
                    (*here, "region"),
                    show(change.region),
                    f"a region that [[regions]] orders: {', '.join(known)}",
                    meant(change.region, known),
                )
                continue
            if any(one.region == change.region for one in phase.table.regions[:place]):
                report.add((*here, "region"), show(change.region), "each only once in a phase")
            stated = [*dose_stated(change), *(["spots"] if change.spots is not None else [])]
            if change.leave_out and stated:
                report.add((*here, stated[0]), "this beside leave_out", "one of both")
            elif not change.leave_out and not stated:
                allowed = f"leave_out = true, spots, or a dose: {', '.join(DOSE_FIELDS[:3])}"
                report.add(here, "nothing that changes", allowed)
            elif dose_stated(change):
                for order in sound:
                    changed = order_in_phase(order, [change])
                    if order.region == change.region and changed is not None:
                        _check_changed(report, here, changed, laser)
                        break
        nothing = all(order_in_phase(order, phase.table.regions) is None for order in sound)
        if nothing and sound and len(report.found) == before:
            report.add(
                ("course", number, "regions"),
                "every region left out",
                "at least one region in each phase; a pause is a phase that starts later",
            )


def _check_changed(report: Report, here: Path, order: RegionOrder, laser: Laser | None) -> None:
    """The dose of a region as a phase has it."""
    if order.technique == "swept":
        stated = [name for name in SPOT_FIELDS if getattr(order, name) not in (None, [])]
        for name in stated:
            allowed = f"{' or '.join(AREA_DOSES)}: the region is swept"
            report.add((*here, name), show(getattr(order, name)), allowed)
        if not stated:
            check_area_dose(report, here, order, laser)
        return
    stated = [name for name in AREA_DOSES if getattr(order, name) is not None]
    for name in stated:
        report.add((*here, name), show(getattr(order, name)), "a dose of each spot")
    if not stated:
        check_dose(report, here, order, laser)


# A region with every side.
_STAND_IN = "lumbar"


def resolve(order: Named, named: Mapping[str, str]) -> Named:
    """``order`` with the key of the place or of the region that it names by another word."""
    key = named.get(order.region) or region_for(order.region)
    return order if key is None else order.model_copy(update={"region": key})


def check_places(
    report: Report, places: Sequence[Part[OwnPlace] | None], dog: Dog | None
) -> tuple[Mapping[str, str], Mapping[str, Side]]:
    """Keys of the places by their names, and the sides of those that can be used.

    A place is at a region or between two, has a name of its own, and lies on the dog. One that
    does not gets a stand-in, so that what is ordered for it can still be checked.
    """
    named: dict[str, str] = {}
    sides: dict[str, Side] = {}
    for number, part in enumerate(places):
        here: Path = ("places", number)
        if part is None or part.bad:
            continue
        place = part.table
        before = len(report.found)
        _check_anchors(report, here, place)
        if place.name in regions() or place.name in named:
            allowed = "a name that is no region and no other place"
            report.add((*here, "name"), show(place.name), allowed)
            continue
        named[place.name] = f"{place.name}@{_STAND_IN}"
        if len(report.found) > before or dog is None:
            continue
        key = place.key(dog.length_mm)
        if place.side == "middle" and place.across_cm:
            report.add((*here, "across_cm"), show(place.across_cm), "0 in the middle")
        elif not outline().holds(key, "side", place.side, None):
            report.add(
                here,
                f"a place off the dog ({place.along_cm} cm along, {place.across_cm} cm across)",
                "offsets that stay on a dog of this size",
                "along: towards the tail or the foot; across: upwards or towards the front",
            )
        else:
            named[place.name] = key
            sides[place.name] = place.side
    return named, sides


def _check_anchors(report: Report, here: Path, place: OwnPlace) -> None:
    if (place.region is None) == (place.between is None):
        found = "nothing" if place.region is None else "this beside between"
        report.add((*here, "region"), found, "region, or between two regions")
        return
    field = "region" if place.region is not None else "between"
    for anchor in place.anchors:
        if anchor not in regions():
            allowed = ", ".join(regions())
            report.add((*here, field), show(anchor), allowed, meant(anchor, regions().keys()))
        elif place.side not in region(anchor).sides:
            sides = ", ".join(region(anchor).sides)
            allowed = f"{sides}: {region(anchor).term} has no {place.side}"
            report.add((*here, "side"), show(place.side), allowed)
            break
    if place.between is not None and len(set(place.between)) < 2:
        report.add((*here, "between"), show(place.between), "two regions that differ")


def check_own_sides(
    report: Report,
    number: int,
    order: RegionOrder,
    reported: Collection[str],
    sides: Mapping[str, Side],
) -> None:
    """A place is on one side, that of ``sides``; the head touches or keeps off."""
    if order.contact and order.distance_cm is not None:
        report.add(
            ("regions", number, "distance_cm"), "this beside contact = true", "only one of both"
        )
    if "sides" in reported:
        return
    name, own, _ = order.region.partition("@")
    if own and name in sides and order.sides != [sides[name]]:
        allowed = f'["{sides[name]}"], the side of {show(name)} in [[places]]'
        report.add(("regions", number, "sides"), show(order.sides), allowed)
