"""Findings about the dose: published bands, the output check, areas that look alike.

A band is quoted with its source and how far we have seen it in print, and the prescriber
decides. Nothing here proposes a dose.
"""

import datetime
from collections import Counter
from collections.abc import Iterator, Sequence

from coach.dose import bands, energy
from coach.dose.beam import output_remarks
from coach.plan.finding import Finding
from coach.plan.formatting import plain
from coach.plan.laser import Laser
from coach.plan.model import Plan, target_ns
from coach.plan.spots import Spot
from coach.units import j_from_fj, mw_from_uw, rounded, s_from_ns


def dose_findings(plan: Plan, spots: Sequence[Spot], *, today: datetime.date) -> list[Finding]:
    """Everything about laser and dose that is worth a second look.

    ``spots`` are those of one whole session of ``plan``.
    """
    return [
        *_output(plan.laser, today),
        *_two_times(plan),
        *_areas(plan.laser),
        *_published(plan, spots),
    ]


def _output(laser: Laser, today: datetime.date) -> Iterator[Finding]:
    valid_days = None if laser.output_check is None else laser.output_check.valid_days
    for text in output_remarks(laser.head, today=today, valid_days=valid_days):
        yield Finding(field="laser.output_check", text=text)


def _two_times(plan: Plan) -> Iterator[Finding]:
    """Where a doubtful output check leaves two times for a dose that is ordered in joules."""
    output = plan.laser.output
    if not output.open or output.measured_uw is None:
        return
    used = f"{plain(rounded(mw_from_uw(output.dose_uw), 1))} mW {output.dose_by}"
    times = []
    for number, order in enumerate(plan.regions, start=1):
        if order.seconds_each_spot is None:
            other_ns = target_ns(order, plan.laser, power_uw=output.other_uw)
            times.append(
                f"regions[{number}] {_seconds(plan.hold_ns(order))}, not {_seconds(other_ns)}"
            )
    yield Finding(
        field="laser.output_check",
        text=f"until the prescriber says which power rules, it is the larger, the {used}, and so "
        f"the shorter of the two times{': ' if times else ''}{'; '.join(times)}. Check the head, "
        "or write seconds_by (plan format 2)",
    )


def _seconds(duration_ns: int) -> str:
    return f"{plain(rounded(s_from_ns(duration_ns), 1))} s"


def _areas(laser: Laser) -> Iterator[Finding]:
    head = laser.head
    if head.beam_area_um2 is not None and head.beam_area_um2 == head.aperture_area_um2:
        yield Finding(
            field="laser.aperture_area_cm2",
            text="the opening of the head is as large as the beam area at the skin: is that the "
            "beam where it meets the skin, or the opening stated twice?",
        )


def _published(plan: Plan, spots: Sequence[Spot]) -> Iterator[Finding]:
    """Where a site lies outside a published row. Sites that lie outside alike share a finding."""
    where: dict[str, dict[str, None]] = {}
    waves = sorted({emitter.wavelength_nm for emitter in plan.laser.head.emitters})
    for region, planned in _sites(plan.laser, spots):
        field = _place(plan, region)
        # A row without a wavelength is found for each of them, and told once.
        rows = {
            band: None for wave in waves for band in bands.bands_for(region, wavelength_nm=wave)
        }
        for band in rows:
            for text in bands.remarks(band, planned):
                where.setdefault(text, {})[field] = None
    for text, fields in where.items():
        yield Finding(field=", ".join(fields), text=text)


def _place(plan: Plan, region: str) -> str:
    """Where the plan first orders ``region``; the opening stands in no list."""
    for number, order in enumerate(plan.regions, start=1):
        if order.region == region:
            return f"regions[{number}]"
    return "settle"


def _sites(laser: Laser, spots: Sequence[Spot]) -> Iterator[tuple[str, bands.Planned]]:
    """Each part of the spine with all its sides, and each joint of each side, by hold."""
    # The sides of a joint are two joints; the sides of the spine are one site.
    sites = Counter(
        (spot.region, spot.side if spot.aspect else None, spot.hold_ns) for spot in spots
    )
    for (region, _, hold_ns), count in sites.items():
        energy_fj = energy.energy_fj(power_uw=laser.power_uw, duration_ns=hold_ns)
        area_um2 = laser.beam_area_um2
        yield (
            region,
            bands.Planned(
                spots=count,
                energy_j=j_from_fj(energy_fj),
                duration_s=s_from_ns(hold_ns),
                mean_power_mw=mw_from_uw(laser.power_uw),
                fluence_j_cm2=None
                if area_um2 is None
                else energy.fluence_j_cm2(energy_fj=energy_fj, beam_area_um2=area_um2),
            ),
        )
