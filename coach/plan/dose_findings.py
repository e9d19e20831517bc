"""Findings about the dose: ceilings, published rows, the output check, areas that look alike.

What was ordered is compared, never the seconds that it was rounded to. A row is quoted with its
source and how far we have seen it in print, and the prescriber decides. Nothing here proposes a
dose.
"""

import datetime
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.body import region
from coach.dose import bands, energy
from coach.dose.beam import output_remarks, unit_slip
from coach.dose.laser_class import MOST_3B_UW, class_question
from coach.dose.limits import SKIN_APERTURE_MM, skin_mpe
from coach.plan.finding import Finding
from coach.plan.formatting import plain
from coach.plan.laser import Laser
from coach.plan.model import Plan, RegionOrder, area_hold_ns, target_ns
from coach.plan.spots import SETTLE_REGION
from coach.units import cm2_from_um2, j_from_fj, mw_from_uw, rounded, s_from_ns

# The bounds that a plan file has for joules_each_spot and joules_per_cm2_each_spot. They catch
# slips; they are house rules without a source and no advice about dose.
MOST_J_A_SPOT = 300
MOST_J_CM2_A_SPOT = 2000


def dose_findings(plan: Plan, *, today: datetime.date) -> list[Finding]:
    """Everything about laser and dose that is worth a second look."""
    doses = _doses(plan)
    return [
        *_ceilings(doses),
        *_output(plan.laser, today),
        *_two_times(plan),
        *_class(plan.laser),
        *_skin(plan.laser),
        *_areas(plan.laser),
        *_published(plan, doses),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dose:
    """What one part of a plan orders for one site, exactly.

    Attributes:
        field: its place in the plan.
        region: region key.
        joint: the side of a joint, None for the spine: the sides of a joint are two joints.
        spots: how many.
        energy_j, duration_s: of each spot.
        fluence_j_cm2: of each spot; None without a beam area.
        treated_area_cm2: of the site, where the plan states one.
    """

    field: str
    region: str
    joint: str | None
    spots: int
    energy_j: Fraction
    duration_s: Fraction
    fluence_j_cm2: Fraction | None
    treated_area_cm2: Fraction | None = None


def _doses(plan: Plan) -> list[_Dose]:
    """Every spot of one whole session, the opening included."""
    laser = plan.laser
    found = []
    if plan.settle.each_side_ns:
        energy_j = _energy_j(laser, plan.settle.each_side_ns)
        found.append(
            _Dose(
                field="settle",
                region=SETTLE_REGION,
                joint=None,
                spots=len(region(SETTLE_REGION).sides),
                energy_j=energy_j,
                duration_s=s_from_ns(plan.settle.each_side_ns),
                fluence_j_cm2=_fluence_j_cm2(laser, energy_j),
            )
        )
    for number, order in enumerate(plan.regions, start=1):
        energy_j, fluence_j_cm2 = _ordered(plan, order)
        dose = _Dose(
            field=f"regions[{number}]",
            region=order.region,
            joint=None,
            spots=plan.spots_each(order) * len(order.aspects or (None,)),
            energy_j=energy_j,
            duration_s=s_from_ns(plan.hold_ns(order)),
            fluence_j_cm2=fluence_j_cm2,
        )
        if order.aspects:
            here = [replace(dose, joint=side) for side in order.sides]
        else:
            here = [replace(dose, spots=dose.spots * len(order.sides))]
        if order.treated_area_cm2 is not None:
            each_cm2 = Fraction(order.treated_area_cm2)
            here = [replace(one, treated_area_cm2=each_cm2 * one.spots) for one in here]
        found += here
    return found


def _ordered(plan: Plan, order: RegionOrder) -> tuple[Fraction, Fraction | None]:
    """J and J/cm2 of each spot as ordered; by the seconds only where these are what was ordered."""
    laser = plan.laser
    if order.technique == "swept":
        return _swept_j(plan, order), None
    if order.seconds_each_spot is not None:
        energy_j = _energy_j(laser, plan.hold_ns(order))
    elif order.joules_each_spot is not None:
        energy_j = Fraction(order.joules_each_spot)
    elif order.joules_per_cm2_each_spot is not None and laser.beam_area_um2 is not None:
        fluence_j_cm2 = Fraction(order.joules_per_cm2_each_spot)
        return fluence_j_cm2 * cm2_from_um2(laser.beam_area_um2), fluence_j_cm2
    else:
        energy_j = _energy_j(laser, plan.hold_ns(order))
    return energy_j, _fluence_j_cm2(laser, energy_j)


def _swept_j(plan: Plan, order: RegionOrder) -> Fraction:
    """J of one sweep as ordered."""
    if order.seconds_each_area is None:
        if order.joules_each_area is not None:
            return Fraction(order.joules_each_area)
        if order.joules_per_cm2_over_area is not None and order.treated_area_cm2 is not None:
            return Fraction(order.joules_per_cm2_over_area) * Fraction(order.treated_area_cm2)
    return _energy_j(plan.laser, plan.hold_ns(order))


def _energy_j(laser: Laser, duration_ns: int) -> Fraction:
    return j_from_fj(energy.energy_fj(power_uw=laser.power_uw, duration_ns=duration_ns))


def _fluence_j_cm2(laser: Laser, energy_j: Fraction) -> Fraction | None:
    area_um2 = laser.beam_area_um2
    return None if area_um2 is None else energy_j / cm2_from_um2(area_um2)


def _ceilings(doses: list[_Dose]) -> Iterator[Finding]:
    """Doses that a plan file may not ask for in joules, whichever way they came about."""
    for field, dose in {dose.field: dose for dose in doses}.items():
        if dose.treated_area_cm2 is not None:
            continue
        if dose.energy_j > MOST_J_A_SPOT:
            yield Finding(
                field=field,
                text=f"{_figure(dose.energy_j)} J on each spot: more than the {MOST_J_A_SPOT} J "
                "that joules_each_spot may be. Is the power, the time or a unit wrong?",
                rank=0,
            )
        elif dose.fluence_j_cm2 is not None and dose.fluence_j_cm2 > MOST_J_CM2_A_SPOT:
            yield Finding(
                field=field,
                text=f"{_figure(dose.fluence_j_cm2)} J/cm2 on each spot: more than the "
                f"{MOST_J_CM2_A_SPOT} J/cm2 that joules_per_cm2_each_spot may be. Is the power, "
                "the time, the beam area or a unit wrong?",
                rank=0,
            )


def _output(laser: Laser, today: datetime.date) -> Iterator[Finding]:
    valid_days = None if laser.output_check is None else laser.output_check.valid_days
    found = [
        Finding(field="laser.output_check", text=text, short=_drift(laser, text), rank=1)
        for text in output_remarks(laser.head, today=today, valid_days=valid_days)
    ]
    # The drift first: where lines are few, a slip of the unit must be among them.
    yield from sorted(found, key=lambda finding: not finding.short)


def _drift(laser: Laser, text: str) -> str:
    """The remark on the drift in short; "" for another one."""
    output = laser.output
    if output.measured_uw is None or output.drift is None or "from the stated" not in text:
        return ""
    measured, stated = (
        f"{plain(rounded(mw_from_uw(power_uw), 1))} mW"
        for power_uw in (output.measured_uw, output.stated_uw)
    )
    slip = unit_slip(1 + output.drift) or f"{rounded(output.drift * 100, 1):+} %"
    return f"{measured} measured, {stated} stated: {slip}"


def _two_times(plan: Plan) -> Iterator[Finding]:
    """Where a doubtful output check leaves two times for a dose that is ordered in joules."""
    output = plan.laser.output
    if not output.open or output.measured_uw is None:
        return
    used = f"{plain(rounded(mw_from_uw(output.dose_uw), 1))} mW {output.dose_by}"
    times = []
    for number, order in enumerate(plan.regions, start=1):
        if order.seconds_each_spot is None and order.seconds_each_area is None:
            if order.technique == "swept":
                other_ns = area_hold_ns(order, output.other_uw)
            else:
                other_ns = target_ns(order, plan.laser, power_uw=output.other_uw)
            times.append(
                f"regions[{number}] {_seconds(plan.hold_ns(order))}, not {_seconds(other_ns)}"
            )
    yield Finding(
        field="laser.output_check",
        text=f"until the prescriber says which power rules, it is the larger, the {used}, and so "
        f"the shorter of the two times{': ' if times else ''}{'; '.join(times)}. Check the head, "
        "or write seconds_by (plan format 2)",
        short=f"the larger power, the {used}, gives the shorter of two times; which one rules is "
        "for the prescriber to say",
        rank=1,
    )


def _seconds(duration_ns: int) -> str:
    return f"{plain(rounded(s_from_ns(duration_ns), 1))} s"


def _class(laser: Laser) -> Iterator[Finding]:
    """Whether the stated class fits the larger of stated and measured power."""
    ratio = laser.head.hazard_ratio
    sources = [
        (emitter.wavelength_nm, round(emitter.mean_power_uw * ratio))
        for emitter in laser.head.emitters
    ]
    question = class_question(laser.laser_class, sources)
    if question is not None:
        yield Finding(field="laser.laser_class", text=question, rank=1)


def _skin(laser: Laser) -> Iterator[Finding]:
    """How a head that stays still compares with the skin limit set for people."""
    irradiance = laser.irradiance_mw_cm2
    if irradiance is None:
        return
    limits = [
        (emitter, skin_mpe(wavelength_nm=float(emitter.wavelength_nm), exposure_s=10))
        for emitter in laser.head.emitters
    ]
    # Averaged over the aperture of the limit where the beam is narrower; shares add up.
    aperture_cm2 = math.pi * (SKIN_APERTURE_MM / 10) ** 2 / 4
    area_cm2 = max(float(cm2_from_um2(laser.beam_area_um2 or 0)), aperture_cm2)
    scale = laser.power_uw / laser.output.stated_uw
    times = sum(
        emitter.mean_power_uw * 1e-6 * scale / area_cm2 / (limit.irradiance_w_m2 / 1e4)
        for emitter, limit in limits
    )
    if times <= 1:
        return
    moved = "; a head of this power is usually moved" if laser.power_uw > MOST_3B_UW else ""
    lead = f"{plain(rounded(irradiance, 0))} mW/cm2"
    yield Finding(
        field="laser.beam_area_cm2",
        text=f"{lead} under the beam: {times:.1f} times the skin limit set for people, if the head "
        f"stays still for 10 s or more ({limits[0][1].rule}, over {SKIN_APERTURE_MM} mm at least; "
        f"ICNIRP 2013; read){moved}; the prescriber decides",
        short=f"{lead}: {times:.1f} times the skin limit set for people, if the head stays still"
        f"{moved}; the prescriber decides",
        rank=4,
    )


def _areas(laser: Laser) -> Iterator[Finding]:
    head = laser.head
    if head.beam_area_um2 is not None and head.beam_area_um2 == head.aperture_area_um2:
        yield Finding(
            field="laser.aperture_area_cm2",
            text="the opening of the head is as large as the beam area at the skin: is that the "
            "beam where it meets the skin, or the opening stated twice?",
        )


def _published(plan: Plan, doses: list[_Dose]) -> Iterator[Finding]:
    """One finding a region, where it lies outside what was published for its like."""
    for key in dict.fromkeys(dose.region for dose in doses):
        here = [dose for dose in doses if dose.region == key]
        worst: dict[bands.Band, bands.Difference] = {}
        # The sides of the spine are one site, and so is what is ordered in several parts.
        for joint in dict.fromkeys(dose.joint for dose in here):
            planned = _planned(plan, [dose for dose in here if dose.joint == joint])
            for band in _rows(plan, key):
                found = bands.difference(band, planned)
                if found is not None and (band not in worst or found.times > worst[band].times):
                    worst[band] = found
        if worst:
            fields = ", ".join(dict.fromkeys(dose.field for dose in here))
            yield _quoted(fields, sorted(worst.values(), key=lambda one: -one.times))


def _rows(plan: Plan, key: str) -> list[bands.Band]:
    """Rows for each wavelength of the head; a row without one is found once."""
    waves = sorted({emitter.wavelength_nm for emitter in plan.laser.head.emitters})
    found: dict[bands.Band, None] = {}
    for wave in waves:
        rows = bands.bands_for(
            key,
            wavelength_nm=wave,
            mean_power_mw=mw_from_uw(plan.laser.power_uw),
            weight_kg=Fraction(plan.dog.weight_kg),
        )
        found |= dict.fromkeys(rows)
    return list(found)


def _planned(plan: Plan, doses: list[_Dose]) -> bands.Planned:
    areas = [dose.treated_area_cm2 for dose in doses]
    known = [area for area in areas if area is not None]
    return bands.Planned(
        spots=sum(dose.spots for dose in doses),
        energies_j=tuple(dose.energy_j for dose in doses for _ in range(dose.spots)),
        durations_s=tuple(dose.duration_s for dose in doses),
        mean_power_mw=mw_from_uw(plan.laser.power_uw),
        weight_kg=Fraction(plan.dog.weight_kg),
        fluences_j_cm2=tuple(
            dose.fluence_j_cm2 for dose in doses if dose.fluence_j_cm2 is not None
        ),
        treated_area_cm2=sum(known, start=Fraction(0)) if len(known) == len(areas) else None,
    )


def _quoted(fields: str, found: list[bands.Difference]) -> Finding:
    first, *others = found
    more = f"; {len(others)} more in coach check --findings" if others else ""
    rows = ". Also ".join(f"{one.text}; published for {one.band.quote()}" for one in found)
    return Finding(
        field=fields,
        text=f"{rows}; {bands.DEFER}",
        short=f"{first.text}; published: {first.band.short_quote()}{more}; {bands.DEFER}",
        rank=3,
    )


def _figure(value: Fraction) -> str:
    return plain(rounded(value, 2))
