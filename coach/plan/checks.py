"""Checks that need more than one field of a plan: dates, the laser, a region and its dose."""

import datetime
from fractions import Fraction

from coach.body import regions
from coach.dose import energy
from coach.plan.model import About, Laser, RegionOrder, target_ns
from coach.plan.problems import Path, Report, meant, show
from coach.units import ns_from_s, rounded, uw_from_mw

# Two statements of the same dose that differ by more do not close (house rule).
CLOSES_WITHIN = Fraction(5, 100)


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
            ("laser", "pulsed", missing), "nothing", "both or neither of width and frequency"
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
        if laser.mean_power_mw is not None:
            from_peak = energy.mean_power_uw(
                peak_power_uw=uw_from_mw(pulsed.peak_power_mw), duty_cycle=pulsed.share
            )
            peak_for_mean = laser.mean_power_mw == pulsed.peak_power_mw
            _closes(
                report,
                ("laser", "mean_power_mw"),
                f"{laser.mean_power_mw} mW",
                Fraction(laser.mean_power_mw),
                Fraction(from_peak, 1000),
                f"about {rounded(Fraction(from_peak, 1000), 1)} mW, peak power x duty cycle",
                "this looks like the peak power" if peak_for_mean else "",
            )
    return len(report.found) == before


def check_region(report: Report, number: int, order: RegionOrder, laser: Laser | None) -> None:
    here: Path = ("regions", number)
    known = regions()
    place = known.get(order.region)
    if place is None:
        hint = meant(order.region, [*known, *(region.term for region in known.values())])
        report.add((*here, "region"), show(order.region), ", ".join(known), hint)
    else:
        for n, side in enumerate(order.sides):
            if side not in place.sides:
                report.add((*here, "sides", n), show(side), ", ".join(place.sides))
        if place.aspects and order.aspects is None:
            report.add((*here, "aspects"), "nothing", f"some of {', '.join(place.aspects)}")
        for n, aspect in enumerate(order.aspects or ()):
            if aspect not in place.aspects:
                allowed = ", ".join(place.aspects) or f"no aspects: {place.term} has none"
                report.add(
                    (*here, "aspects", n), show(aspect), allowed, meant(aspect, place.aspects)
                )
    for field, values in (("sides", order.sides), ("aspects", order.aspects or [])):
        if len(set(values)) < len(values):
            report.add((*here, field), show(values), "each only once")
    _check_dose(report, here, order, laser)


def _check_dose(report: Report, here: Path, order: RegionOrder, laser: Laser | None) -> None:
    """Seconds or a target must be there, and where several are stated they must close."""
    targets = [field for field in _UNIT if getattr(order, field) is not None]
    if order.seconds_each_spot is None and not targets:
        report.add(
            (*here, "seconds_each_spot"), "nothing", f"seconds_each_spot, {', '.join(_UNIT)}"
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
