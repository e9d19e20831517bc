"""What a laser is, in lines and as data. Pure; numbers are rounded once, here, for reading."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from coach.dose.hazard import head_hazard
from coach.dose.limits import OutOfScope
from coach.plan.formatting import counted, listed, number, plain
from coach.plan.laser import Laser, Pulsed
from coach.units import cm2_from_um2, mw_from_uw, rounded


def laser_lines(laser: Laser) -> Iterator[str]:
    """The laser as its owner reads it."""
    waves = listed(list(dict.fromkeys(plain(wave) for wave in _waves(laser))))
    yield f"{laser.label}, class {laser.laser_class}, {waves} nm"
    output = laser.output
    mean = f"mean power {_mw(output.dose_uw)}"
    check = laser.output_check
    if check is not None and output.measured_uw is not None:
        drift = f"{rounded((output.drift or Fraction(0)) * 100, 1):+} %"
        if output.dose_by == "measured":
            yield f"{mean}, measured on {check.on}; {_mw(output.stated_uw)} stated, {drift}"
        else:
            measured = _mw(output.measured_uw)
            yield f"{mean}, as stated; {measured} measured on {check.on}, {drift}"
        if output.open:
            yield "the larger of the two is used: the shorter holds"
    elif laser.emitter is not None:
        yield f"{mean}, {counted(len(laser.emitter), 'emitter')} together"
    elif laser.mean_power_mw is None:
        yield f"{mean}, worked out (pulsed)"
    else:
        yield f"{mean}, as stated{'' if laser.pulsed is None else ' (pulsed)'}"
    for source in laser.sources:
        if laser.emitter is not None and source.wavelength_nm is not None:
            power = plain(rounded(mw_from_uw(source.stated_power_uw), 1))
            yield f"{plain(source.wavelength_nm)} nm: {power} mW as stated"
        yield from _pulses(source.pulsed)
    if laser.beam_area_um2 is None:
        yield "beam area at the skin not stated"
    else:
        yield f"beam area {_area(laser)} at the skin"
        yield f"irradiance {_irradiance(laser)} at the skin"
    yield {
        "stays on": "stays on for the whole session",
        "button at each spot": "started by its button at each spot",
    }[laser.starts]


def _waves(laser: Laser) -> list[Decimal]:
    return [s.wavelength_nm for s in laser.sources if s.wavelength_nm is not None]


def _mw(power_uw: int) -> str:
    return f"{plain(rounded(mw_from_uw(power_uw), 1))} mW"


def _pulses(pulsed: Pulsed | None) -> Iterator[str]:
    if pulsed is None or pulsed.share is None:
        return
    duty = plain(rounded(pulsed.share * 100, 4))
    yield f"peak power {plain(pulsed.peak_power_mw)} mW, duty cycle {duty} %"
    timing = []
    if pulsed.pulse_width_us is not None:
        timing.append(f"pulses of {plain(pulsed.pulse_width_us)} us")
    if pulsed.frequency_hz is not None:
        timing.append(f"{plain(pulsed.frequency_hz)} Hz")
    if timing:
        yield ", ".join(timing)


def _area(laser: Laser) -> str:
    if laser.beam_area_cm2 is not None:
        return f"{plain(laser.beam_area_cm2)} cm2"
    area = f"{plain(rounded(cm2_from_um2(laser.beam_area_um2 or 0), 4))} cm2"
    if laser.beam_diameter_cm is not None:
        return f"{area} (a round of {plain(laser.beam_diameter_cm)} cm)"
    return f"{area} ({' by '.join(plain(side) for side in laser.beam_rectangle_cm or ())} cm)"


def _irradiance(laser: Laser) -> str:
    value = laser.irradiance_mw_cm2 or Fraction(0)
    return f"{plain(rounded(value, 0 if value >= 10 else 2))} mW/cm2"


def laser_json(laser: Laser) -> dict[str, Any]:
    """The sources, the beam and the output check of a laser as data.

    wavelength_nm (null with ``[[laser.emitter]]``), mean_power_mw (which doses are computed
    from), power_by (``stated`` or ``measured``: what that is), power_open (whether the prescriber
    still has to say which), pulsed (peak_power_mw, duty_cycle 0-1, pulse_width_us,
    frequency_hz; or null), emitters (each wavelength_nm, mean_power_mw as stated, pulsed),
    with eye_limit_w_m2 (the stricter of two sets) and skin_limit_w_cm2 for limits_exposure_s,
    skin_times (how many times the skin limit a head that stays still gives), beam_area_cm2,
    irradiance_mw_cm2 and aperture_area_cm2 (or null), output_check (stated_mw,
    measured_mw, drift_percent, on, valid_days; or null).
    """
    check = laser.output_check
    area_um2 = laser.beam_area_um2
    limits = _limits(laser)
    return {
        "wavelength_nm": number(laser.wavelength_nm),
        "mean_power_mw": number(mw_from_uw(laser.power_uw)),
        "power_by": laser.output.dose_by,
        "power_open": laser.output.open,
        "pulsed": _pulsed_json(laser.pulsed),
        "emitters": [
            {
                "wavelength_nm": number(source.wavelength_nm),
                "mean_power_mw": number(mw_from_uw(source.stated_power_uw)),
                "pulsed": _pulsed_json(source.pulsed),
                "eye_limit_w_m2": None if one is None else number(Fraction(one[0])),
                "skin_limit_w_cm2": None if one is None else number(Fraction(one[1])),
            }
            for source, one in zip(laser.sources, limits.each, strict=True)
        ],
        "beam_area_cm2": None if area_um2 is None else number(cm2_from_um2(area_um2)),
        "irradiance_mw_cm2": number(laser.irradiance_mw_cm2),
        "limits_exposure_s": number(limits.exposure_s),
        "skin_times": number(limits.skin_times),
        "aperture_area_cm2": number(laser.aperture_area_cm2),
        "output_check": None
        if check is None
        else {
            "stated_mw": number(mw_from_uw(laser.output.stated_uw)),
            "measured_mw": number(check.measured_mw),
            "drift_percent": None
            if laser.output.drift is None
            else number(laser.output.drift * 100),
            "on": None if check.on is None else check.on.isoformat(),
            "valid_days": check.valid_days,
        },
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _Limits:
    """Limits of eyes (W/m2, the stricter of two sets) and skin (W/cm2) for each source."""

    exposure_s: Fraction | None
    skin_times: Fraction | None
    each: tuple[tuple[float, float] | None, ...]


def _limits(laser: Laser) -> _Limits:
    try:
        hazard = head_hazard(laser.head)
    except OutOfScope:
        return _Limits(exposure_s=None, skin_times=None, each=(None,) * len(laser.sources))
    times = hazard.skin_ratio
    return _Limits(
        exposure_s=Fraction(hazard.emitters[0].exposure_s),
        skin_times=None if times is None else Fraction(times),
        each=tuple(
            (min(one.eye.mpe_w_m2, one.eye_eu.mpe_w_m2), one.skin_mpe_w_m2 / 1e4)
            for one in hazard.emitters
        ),
    )


def _pulsed_json(pulsed: Pulsed | None) -> dict[str, Any] | None:
    if pulsed is None:
        return None
    return {
        "peak_power_mw": number(pulsed.peak_power_mw),
        "duty_cycle": number(pulsed.share),
        "pulse_width_us": number(pulsed.pulse_width_us),
        "frequency_hz": number(pulsed.frequency_hz),
    }
