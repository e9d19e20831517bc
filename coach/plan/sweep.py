"""A swept region: the head is moved over a treated area instead of resting on spots. Pure.

Each side (and face) of a swept region is one sweep. Its J/cm2 are over the treated area and say
nothing about what lies under the beam at one moment; they are never added to those of spots.
"""

import math
from collections.abc import Collection, Mapping
from decimal import Decimal
from fractions import Fraction

from coach.dose.solve import CLOSES_WITHIN
from coach.plan.laser import Laser
from coach.plan.model import AREA_TARGETS, RegionOrder, area_target_ns
from coach.plan.problems import Path, Report, show
from coach.units import NS_PER_S, ns_from_s, rounded, um2_from_cm2

AREA_DOSES = ("seconds_each_area", "joules_each_area", "joules_per_cm2_over_area")
SPOT_FIELDS = (
    "spots",
    "spacing_cm",
    "most_spots",
    "seconds_each_spot",
    "joules_each_spot",
    "joules_per_cm2_each_spot",
    "spot_notes",
)
SWEEP_FIELDS = ("treated_area_cm2", *AREA_DOSES, "passes", "speed_cm_s")
# A session of one spot is no longer either.
LONGEST_S = 1800


def head_width_cm(laser: Laser) -> Decimal | None:
    """How wide a strip one stroke covers: the footprint of the head, else the beam's diameter."""
    if laser.head_footprint_cm is not None:
        return laser.head_footprint_cm
    if laser.beam_diameter_cm is not None:
        return laser.beam_diameter_cm
    return None if laser.beam_rectangle_cm is None else min(laser.beam_rectangle_cm)


def pass_speed_cm_s(*, area_cm2: Decimal, width_cm: Decimal, duration_ns: int) -> Fraction:
    """How fast a head must move to go over an area exactly once in a time, strip beside strip."""
    return Fraction(area_cm2) / Fraction(width_cm) * NS_PER_S / duration_ns


def pass_ns(order: RegionOrder, laser: Laser, duration_ns: int) -> int | None:
    """Time of one pass, where the plan says the passes or the speed; else None.

    A pace is never made up: with neither there is none.
    """
    if order.passes is not None:
        return duration_ns // order.passes
    width = head_width_cm(laser)
    if order.speed_cm_s is None or order.treated_area_cm2 is None or width is None:
        return None
    length = Fraction(order.treated_area_cm2) / Fraction(width)
    return min(duration_ns, round(length / Fraction(order.speed_cm_s) * NS_PER_S))


def half_side_mm(area_cm2: Decimal) -> int:
    """Half the side of a square of that area, to draw its edges."""
    return round(math.sqrt(float(area_cm2)) * 5)


def check_technique(
    report: Report,
    here: Path,
    order: RegionOrder,
    laser: Laser | None,
    reported: Collection[str] = (),
) -> None:
    """Only what belongs to the technique is stated, and an area that the head fits into."""
    swept = order.technique == "swept"
    for name in SPOT_FIELDS if swept else SWEEP_FIELDS:
        value = getattr(order, name)
        if value is not None and value != [] and name not in reported:
            instead = f'{" or ".join(AREA_DOSES)} beside technique = "swept"'
            allowed = instead if swept else 'this only beside technique = "swept"'
            report.add((*here, name), show(value), allowed)
    if not swept:
        return
    if order.passes is not None and order.speed_cm_s is not None:
        report.add((*here, "speed_cm_s"), "this beside passes", "only one of both")
    if order.treated_area_cm2 is None:
        if "treated_area_cm2" not in reported:
            report.add(
                (*here, "treated_area_cm2"),
                "nothing",
                "this field must be there, such as treated_area_cm2 = 100",
            )
    elif laser is not None:
        _check_fits(report, here, order.treated_area_cm2, laser)


def _check_fits(report: Report, here: Path, area_cm2: Decimal, laser: Laser) -> None:
    beam_um2, width = laser.beam_area_um2 or 0, head_width_cm(laser)
    # A head covers at least the square of its width: sweeping less would be resting.
    square_um2 = 0 if width is None else um2_from_cm2(width * width)
    least_um2 = max(beam_um2, square_um2)
    if um2_from_cm2(area_cm2) <= least_um2:
        report.add(
            (*here, "treated_area_cm2"),
            f"{area_cm2} cm2, no more than the head covers at rest",
            f"more than {rounded(Fraction(least_um2, 10**8), 2)} cm2; "
            'for less, technique = "still"',
            "the treated area is the whole area that is covered, not the beam area",
        )


def check_area_dose(report: Report, here: Path, order: RegionOrder, laser: Laser | None) -> None:
    """Seconds or a target over the area, and where several are stated they must close."""
    targets = [name for name in AREA_TARGETS if getattr(order, name) is not None]
    if order.seconds_each_area is None and not targets:
        allowed = ", ".join(AREA_DOSES[:2]) + f" or {AREA_DOSES[2]}"
        report.add((*here, "seconds_each_area"), "nothing", allowed)
    if laser is None or order.treated_area_cm2 is None:
        return
    needed = {name: area_target_ns(order, name, laser.power_uw) for name in targets}
    for name, target_ns in needed.items():
        if not NS_PER_S <= target_ns <= LONGEST_S * NS_PER_S:
            seconds = rounded(Fraction(target_ns, NS_PER_S), 1)
            report.add(
                (*here, name),
                f"{getattr(order, name)} {AREA_TARGETS[name]}, which takes {seconds} s",
                f"what takes 1 to {LONGEST_S} s at this mean power",
            )
    stated = dict(needed)
    first = next(iter(targets), None)
    if order.seconds_each_area is not None:
        stated["seconds_each_area"] = ns_from_s(order.seconds_each_area)
        first = "seconds_each_area"
    if first is None:
        return
    for name, target_ns in needed.items():
        if name != first and abs(stated[first] - target_ns) > CLOSES_WITHIN * target_ns:
            seconds = rounded(Fraction(target_ns, NS_PER_S), 1)
            report.add(
                (*here, first),
                f"{getattr(order, first)} beside {getattr(order, name)} {AREA_TARGETS[name]}",
                f"what agrees within 5 %: {getattr(order, name)} {AREA_TARGETS[name]} take "
                f"{seconds} s",
            )


def sweep_findings(
    laser: Laser, orders: Mapping[int, tuple[RegionOrder, int]]
) -> list[tuple[str, str]]:
    """Field and text of each remark; ``orders`` are swept regions by number, with their time."""
    found = []
    width = head_width_cm(laser)
    for number, (order, duration_ns) in orders.items():
        area = order.treated_area_cm2
        if area is None:
            continue
        if order.speed_cm_s is not None and width is None:
            found.append(
                (
                    f"regions[{number}].speed_cm_s",
                    "without head_footprint_cm in [laser] the coach cannot say when a pass is over",
                )
            )
        if order.passes is not None or order.speed_cm_s is not None:
            continue
        once = "say passes or speed_cm_s, or the coach gives no pace"
        if width is not None:
            speed = pass_speed_cm_s(area_cm2=area, width_cm=width, duration_ns=duration_ns)
            once = (
                f"one pass with a head of {width} cm would take the whole time at "
                f"{rounded(speed * 10, 1)} mm/s; {once}"
            )
        found.append((f"regions[{number}]", f"neither passes nor a speed: {once}"))
    return found
