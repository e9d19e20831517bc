"""Checks of a laser and of the doses that are given with it: do the stated numbers agree?"""

from collections.abc import Collection, Mapping
from fractions import Fraction

from coach.dose import energy
from coach.dose.quantity import Quantity, bound_problem, usual
from coach.dose.solve import CLOSES_WITHIN, solve
from coach.plan.laser import Laser, Source
from coach.plan.model import RegionOrder, target_ns
from coach.plan.problems import Path, Report
from coach.units import cm2_from_um2, mw_from_uw, ns_from_s, rounded, uw_from_mw

# Ways of stating the beam area at the skin.
BEAM = ("beam_area_cm2", "beam_diameter_cm", "beam_rectangle_cm")
# The bounds of mean_power_mw, for a mean power that is computed.
LEAST_MEAN_UW = 1_000
MOST_MEAN_UW = 30_000_000


def check_laser(report: Report, laser: Laser, reported: Collection[str] = ()) -> bool:
    """Is the power of every source known, and does it close? False when it cannot be used."""
    before = len(report.found)
    if laser.emitter is None:
        _check_source(report, ("laser",), laser)
    else:
        for field in ("wavelength_nm", "mean_power_mw", "pulsed"):
            if getattr(laser, field) is not None:
                report.add(
                    ("laser", field),
                    "this beside [[laser.emitter]]",
                    f"{field} only under each [[laser.emitter]]",
                )
        for number, source in enumerate(laser.emitter):
            _check_source(report, ("laser", "emitter", number), source)
    usable = len(report.found) == before
    if usable and len(laser.sources) > 1:
        stated_uw = sum(source.stated_power_uw for source in laser.sources)
        if stated_uw > MOST_MEAN_UW:
            report.add(
                ("laser", "emitter"),
                f"a mean power of {rounded(mw_from_uw(stated_uw), 3)} mW, all emitters together",
                usual("mean_power_mw"),
            )
            usable = False
    _check_wavelengths(report, laser, reported)
    return _check_output(report, laser) and usable


def check_beam(report: Report, laser: Laser) -> bool:
    """Is the beam area at the skin stated in one way, and possible?"""
    stated = [field for field in BEAM if getattr(laser, field) is not None]
    if len(stated) > 1:
        report.add(("laser", stated[1]), f"this beside {stated[0]}", f"one of {', '.join(BEAM)}")
        return False
    if laser.beam_area_um2 is not None:
        problem = bound_problem("beam_area_cm2", cm2_from_um2(laser.beam_area_um2))
        if problem is not None:
            report.add(("laser", stated[0]), f"a beam area of {problem}", usual("beam_area_cm2"))
            return False
    return True


def _check_wavelengths(report: Report, laser: Laser, reported: Collection[str]) -> None:
    for number, source in enumerate(laser.sources):
        here: Path = ("laser",) if laser.emitter is None else ("laser", "emitter", number)
        if source.wavelength_nm is None and "wavelength_nm" not in reported:
            report.add(
                (*here, "wavelength_nm"),
                "nothing",
                "this field must be there, such as wavelength_nm = 808",
            )


def _check_output(report: Report, laser: Laser) -> bool:
    check = laser.output_check
    if laser.seconds_by == "measured" and (check is None or check.measured_mw is None):
        report.add(
            ("laser", "seconds_by"),
            '"measured" but no measured power',
            '"measured" only with measured_mw in [laser.output_check]',
        )
        return False
    if check is None or (check.measured_mw is None) == (check.on is None):
        return True
    missing = "measured_mw" if check.measured_mw is None else "on"
    report.add(("laser", "output_check", missing), "nothing", "both measured_mw and on, or neither")
    return False


def _check_source(report: Report, here: Path, laser: Source) -> None:
    pulsed = laser.pulsed
    if pulsed is None:
        if laser.mean_power_mw is None:
            report.add(
                (*here, "mean_power_mw"),
                "nothing",
                f"the mean power in mW, or a table [{'.'.join(_names_in(here))}.pulsed] from which "
                "it follows",
            )
        return
    timed = (pulsed.pulse_width_us, pulsed.frequency_hz)
    # With the duty cycle, a width or a frequency alone gives the other.
    if pulsed.duty_cycle is None and (timed[0] is None) != (timed[1] is None):
        missing = "pulse_width_us" if timed[0] is None else "frequency_hz"
        report.add(
            (*here, "pulsed", missing),
            "nothing",
            "both pulse_width_us and frequency_hz, or neither",
        )
    elif pulsed.share is None:
        report.add(
            (*here, "pulsed", "duty_cycle"),
            "nothing",
            "the duty cycle, or both pulse_width_us and frequency_hz",
        )
    elif pulsed.share > 1:
        report.add(
            (*here, "pulsed", "pulse_width_us"),
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
                (*here, "pulsed", "duty_cycle"),
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
                (*here, "pulsed"),
                f"a mean power of {rounded(mw_from_uw(from_peak), 3)} mW, peak power x duty cycle",
                "1 to 30000 mW",
            )
        elif laser.mean_power_mw is not None:
            peak_for_mean = laser.mean_power_mw == pulsed.peak_power_mw
            _closes(
                report,
                (*here, "mean_power_mw"),
                f"{laser.mean_power_mw} mW",
                Fraction(laser.mean_power_mw),
                mw_from_uw(from_peak),
                f"about {rounded(mw_from_uw(from_peak), 1)} mW, peak power x duty cycle",
                "this looks like the peak power" if peak_for_mean else "",
            )


def _names_in(path: Path) -> list[str]:
    return [part for part in path if isinstance(part, str)]


def check_dose(report: Report, here: Path, order: RegionOrder, laser: Laser | None) -> None:
    """Seconds or a target must be there, and where several are stated they must close.

    ``here`` is where the dose is stated. Without a usable ``laser`` only the first can be told.
    """
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
    needed_ns = {field: _needed_ns(order, field, laser, laser.power_uw) for field in targets}
    if order.seconds_each_spot is not None:
        stated = Fraction(ns_from_s(order.seconds_each_spot))
        for field in targets:
            needed = _needed_ns(order, field, laser, _closing_uw(laser))
            _closes(
                report,
                (*here, "seconds_each_spot"),
                f"{order.seconds_each_spot} s beside {getattr(order, field)} {_UNIT[field]}",
                stated,
                Fraction(needed),
                f"about {rounded(Fraction(needed, 10**9), 1)} s at this mean power, within 5 %",
                _slip(order, laser, field),
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
            _slip(order, laser, _FLUENCE),
        )


_FLUENCE = "joules_per_cm2_each_spot"
_UNIT = {"joules_each_spot": "J", _FLUENCE: "J/cm2"}
_QUANTITY: Mapping[str, Quantity] = {"joules_each_spot": "energy_j", _FLUENCE: "fluence_j_cm2"}


def _needed_ns(order: RegionOrder, field: str, laser: Laser, power_uw: int) -> int:
    """Time that one of the stated targets takes, by itself."""
    others = {name: None for name in _UNIT if name != field}
    return target_ns(order.model_copy(update=others), laser, power_uw=power_uw)


def _closing_uw(laser: Laser) -> int:
    """The power with which seconds and joules must agree: the measured one, unless the prescriber
    says that the stated one rules. A doubtful meter is no reason to ask less of the numbers."""
    output = laser.output
    if output.measured_uw is None or output.seconds_by == "stated":
        return output.stated_uw
    return output.measured_uw


def _check_length(report: Report, path: Path, needed_ns: int) -> None:
    if not 10**9 <= needed_ns <= 1800 * 10**9:
        report.add(
            path,
            f"a target that takes {rounded(Fraction(needed_ns, 10**9), 1)} s a spot",
            "1 to 1800 s a spot",
            "is the mean power right?",
        )


def _slip(order: RegionOrder, laser: Laser, field: str) -> str:
    """The arithmetic behind a target that does not close, and the slip that would explain it."""
    given: dict[Quantity, Fraction] = {}
    if order.seconds_each_spot is not None:
        given["mean_power_mw"] = mw_from_uw(_closing_uw(laser))
        given["duration_s"] = Fraction(order.seconds_each_spot)
        if laser.emitter is None and laser.pulsed is not None and laser.pulsed.share is not None:
            given["duty_cycle_percent"] = laser.pulsed.share * 100
    else:
        given["energy_j"] = Fraction(order.joules_each_spot or 0)
    if laser.beam_area_um2 is not None:
        given["beam_area_cm2"] = cm2_from_um2(laser.beam_area_um2)
    if laser.aperture_area_cm2 is not None:
        given["aperture_area_cm2"] = Fraction(laser.aperture_area_cm2)
    given[_QUANTITY[field]] = Fraction(getattr(order, field))
    for found in solve(given).not_closing:
        if found.quantity == _QUANTITY[field]:
            return "; ".join([f"{found.arithmetic}, {found.difference}", *found.slips])
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
