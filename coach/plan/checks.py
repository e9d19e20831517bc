"""Checks that need more than one field of a plan: dates, the laser, a region and its dose."""

import datetime
from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction

from coach.body import Region, regions
from coach.dose import energy
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
    target_ns,
)
from coach.plan.problems import Path, Report, meant, show
from coach.units import mw_from_uw, ns_from_s, rounded, uw_from_mw

# Two statements of the same dose that differ by more do not close (house rule).
CLOSES_WITHIN = Fraction(5, 100)
TAPED = ("neck_cm", "back_cm", "rib_cm", "loin_cm")
# The bounds of mean_power_mw, for a mean power that is computed.
LEAST_MEAN_UW = 1_000
MOST_MEAN_UW = 30_000_000


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
        if phase.times_a_week > limits.most_a_week:
            report.add(
                ("course", number, "times_a_week"),
                show(phase.times_a_week),
                f"at most {limits.most_a_week} (most_a_week under [limits])",
            )


def check_laser(report: Report, laser: Laser) -> bool:
    before = len(report.found)
    pulsed = laser.pulsed
    if pulsed is None:
        if laser.mean_power_mw is None:
            report.add(
                ("laser", "mean_power_mw"),
                "nothing",
                "the mean power in mW, or a table [laser.pulsed] from which it follows",
            )
        return len(report.found) == before
    timed = (pulsed.pulse_width_us, pulsed.frequency_hz)
    if (timed[0] is None) != (timed[1] is None):
        missing = "pulse_width_us" if timed[0] is None else "frequency_hz"
        report.add(
            ("laser", "pulsed", missing),
            "nothing",
            "both pulse_width_us and frequency_hz, or neither",
        )
    elif pulsed.share is None:
        report.add(
            ("laser", "pulsed", "duty_cycle"),
            "nothing",
            "the duty cycle, or both pulse_width_us and frequency_hz",
        )
    elif pulsed.share > 1:
        report.add(
            ("laser", "pulsed", "pulse_width_us"),
            f"pulses on for {_percent(pulsed.share)} of the time",
            "at most 100 %",
        )
    else:
        if pulsed.duty_cycle is not None and timed[0] is not None and timed[1] is not None:
            from_width = energy.duty_cycle(
                frequency_hz=Fraction(timed[1]), pulse_width_ns=Fraction(timed[0]) * 1000
            )
            _closes(
                report,
                ("laser", "pulsed", "duty_cycle"),
                _percent(pulsed.share),
                pulsed.share,
                from_width,
                f"about {_percent(from_width)}, from pulse width and frequency",
            )
        from_peak = energy.mean_power_uw(
            peak_power_uw=uw_from_mw(pulsed.peak_power_mw), duty_cycle=pulsed.share
        )
        if not LEAST_MEAN_UW <= from_peak <= MOST_MEAN_UW:
            report.add(
                ("laser", "pulsed"),
                f"a mean power of {rounded(mw_from_uw(from_peak), 3)} mW, peak power x duty cycle",
                "1 to 30000 mW",
            )
        elif laser.mean_power_mw is not None:
            peak_for_mean = laser.mean_power_mw == pulsed.peak_power_mw
            _closes(
                report,
                ("laser", "mean_power_mw"),
                f"{laser.mean_power_mw} mW",
                Fraction(laser.mean_power_mw),
                mw_from_uw(from_peak),
                f"about {rounded(mw_from_uw(from_peak), 1)} mW, peak power x duty cycle",
                "this looks like the peak power" if peak_for_mean else "",
            )
    return len(report.found) == before


def check_place(
    report: Report, number: int, order: RegionOrder, reported: Collection[str] = ()
) -> None:
    """Is there such a region, and has it these sides and aspects? Skips the fields ``reported``."""
    here: Path = ("regions", number)
    known = regions()
    place = known.get(order.region)
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
    if place.aspects and order.aspects is None:
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
    place = regions()[order.region]
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


def check_dose(report: Report, number: int, order: RegionOrder, laser: Laser | None) -> None:
    """Seconds or a target must be there, and where several are stated they must close.

    Without a usable ``laser`` only the first can be told.
    """
    here: Path = ("regions", number)
    targets = [field for field in _UNIT if getattr(order, field) is not None]
    if order.seconds_each_spot is None and not targets:
        report.add(
            (*here, "seconds_each_spot"), "nothing", f"seconds_each_spot, {' or '.join(_UNIT)}"
        )
    if laser is None:
        return
    if _FLUENCE in targets and laser.beam_area_um2 is None:
        report.add(
            (*here, _FLUENCE),
            f"{order.joules_per_cm2_each_spot} J/cm2 but no beam area",
            "J/cm2 only with beam_area_cm2 in [laser]",
        )
        targets.remove(_FLUENCE)
    needed_ns = {field: _needed_ns(order, field, laser) for field in targets}
    if order.seconds_each_spot is not None:
        stated = Fraction(ns_from_s(order.seconds_each_spot))
        for field, needed in needed_ns.items():
            _closes(
                report,
                (*here, "seconds_each_spot"),
                f"{order.seconds_each_spot} s beside {getattr(order, field)} {_UNIT[field]}",
                stated,
                Fraction(needed),
                f"about {rounded(Fraction(needed, 10**9), 1)} s at this mean power, within 5 %",
                _slip(stated, Fraction(needed)),
            )
        return
    for field, needed in needed_ns.items():
        _check_length(report, (*here, field), needed)
    if len(needed_ns) == 2:
        _closes(
            report,
            (*here, _FLUENCE),
            f"{order.joules_per_cm2_each_spot} J/cm2 beside {order.joules_each_spot} J",
            Fraction(needed_ns[_FLUENCE]),
            Fraction(needed_ns["joules_each_spot"]),
            "J and J/cm2 that agree over the beam area within 5 %",
        )


_FLUENCE = "joules_per_cm2_each_spot"
_UNIT = {"joules_each_spot": "J", _FLUENCE: "J/cm2"}


def _needed_ns(order: RegionOrder, field: str, laser: Laser) -> int:
    """Time that one of the stated targets takes, by itself."""
    others = {name: None for name in _UNIT if name != field}
    return target_ns(order.model_copy(update=others), laser)


def _check_length(report: Report, path: Path, needed_ns: int) -> None:
    if not 10**9 <= needed_ns <= 1800 * 10**9:
        report.add(
            path,
            f"a target that takes {rounded(Fraction(needed_ns, 10**9), 1)} s a spot",
            "1 to 1800 s a spot",
            "is the mean power right?",
        )


def _slip(stated: Fraction, needed: Fraction) -> str:
    ratio = stated / needed
    for factor, words in ((1000, "mW and W mixed up?"), (60, "minutes and seconds mixed up?")):
        for candidate in (Fraction(factor), Fraction(1, factor)):
            if abs(ratio / candidate - 1) <= CLOSES_WITHIN:
                return words
    return ""


def _closes(
    report: Report,
    path: Path,
    found: str,
    stated: Fraction,
    computed: Fraction,
    allowed: str,
    hint: str = "",
) -> None:
    if abs(stated - computed) > CLOSES_WITHIN * computed:
        report.add(path, found, allowed, hint)


def _percent(share: Fraction) -> str:
    return f"{rounded(share * 100, 2).normalize():f} %"
