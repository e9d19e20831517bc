"""How far a beam can hurt an eye, what eyewear must hold back, and what skin gets.

For each emitter and for the whole head. Exposures of several emitters add: the sum of
exposure / limit must stay below 1 (additive on the same retina; from memory). Beams are taken as
evenly filled, and as if all emitters of a head shone at the same place: the worst case.

Formulas: NOHD = (sqrt(4P / (pi MPE)) - d0) / phi, linear form, or with the square root of
4P / (pi MPE) - d0^2, quadrature form; OD = log10(E0 / MPE), E0 with the whole beam in the 7 mm
pupil. A pulsed emitter without pulse width and frequency is taken as continuous at its peak
power, which no pulse rule undercuts.
"""

import math
from dataclasses import dataclass
from typing import Literal

from coach.dose.beam import Emitter, Head, Output
from coach.dose.limits import (
    EDITION,
    EYE_APERTURE_MM,
    SCOPE,
    SKIN_APERTURE_MM,
    PulsedLimit,
    eye_mpe,
    eye_mpe_pulsed,
    skin_mpe,
)

# Nobody means to look for longer; the eye's turning away (0.25 s) means something for visible
# light only, and a drowsy dog or a child may stare: so 10 s at every wavelength, and 100 s below
# 600 nm, where the photochemical limit still falls.
LONG_LOOK_S = 10.0
LONG_LOOK_BLUE_S = 100.0

NO_DIVERGENCE = "no divergence stated: take the whole room as within the hazard distance"
NO_DIAMETER = (
    "no beam diameter at the opening stated: taken as a point, which gives the farther distance"
)

NohdForm = Literal["linear", "quadrature"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EmitterHazard:
    """One emitter by itself.

    Attributes:
        wavelength_nm, power_w: the emitter, and the power compared with the limits (mean,
            or peak where the pulses are not stated).
        exposure_s: what the limits are for.
        eye_mpe_w_m2, skin_mpe_w_m2: limits as mean irradiance.
        rule, status: which eye limit governs and how far we have seen it in print.
        pulsed: the three pulse rules; None for continuous and for unstated pulses.
        nohd_linear_m, nohd_quadrature_m: hazard distance; None without a divergence.
        required_od: optical density that brings the whole beam in the pupil down to the limit.
        skin_ratio: irradiance at the skin / limit; None without a beam area.
        notes: what was assumed.
    """

    wavelength_nm: float
    power_w: float
    exposure_s: float
    eye_mpe_w_m2: float
    skin_mpe_w_m2: float
    rule: str
    status: str
    pulsed: PulsedLimit | None
    nohd_linear_m: float | None
    nohd_quadrature_m: float | None
    required_od: float
    skin_ratio: float | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadHazard:
    """A whole head: every emitter, and all of them together.

    ``required_od`` must hold at each wavelength of the head. ``nohd_*_m`` are None as soon as
    one emitter has no divergence stated: then the whole room is within the hazard distance.
    ``output`` is the power: eyes and skin are protected from its ``hazard_uw``.
    """

    emitters: tuple[EmitterHazard, ...]
    nohd_linear_m: float | None
    nohd_quadrature_m: float | None
    required_od: float
    skin_ratio: float | None
    output: Output
    edition: str = EDITION
    scope: str = SCOPE


def default_exposure_s(*, wavelength_nm: float) -> float:
    """Time that somebody may look into the beam without knowing: 10 s, below 600 nm 100 s."""
    return LONG_LOOK_BLUE_S if wavelength_nm < 600 else LONG_LOOK_S


def nohd_m(
    *,
    power_w: float,
    mpe_w_m2: float,
    divergence_rad: float,
    aperture_diameter_m: float = 0.0,
    form: NohdForm = "linear",
) -> float:
    """Distance at which a widening beam falls to the limit; 0 if it is below it at the head.

    The quadrature form gives up to d0 / phi more. ValueError unless power, limit and divergence
    are above zero and the diameter is not negative.
    """
    if min(power_w, mpe_w_m2, divergence_rad) <= 0 or aperture_diameter_m < 0:
        raise ValueError(
            f"power {power_w} W, limit {mpe_w_m2} W/m2, divergence {divergence_rad} rad, diameter "
            f"{aperture_diameter_m} m: all must be more than zero (the diameter may be zero)"
        )
    squared_m2 = 4 * power_w / (math.pi * mpe_w_m2)
    if form == "linear":
        return max(0.0, (math.sqrt(squared_m2) - aperture_diameter_m) / divergence_rad)
    return math.sqrt(max(0.0, squared_m2 - aperture_diameter_m**2)) / divergence_rad


def required_od(*, irradiance_w_m2: float, mpe_w_m2: float) -> float:
    """Optical density that eyewear needs, log10(E0 / MPE); 0 when none is needed."""
    if min(irradiance_w_m2, mpe_w_m2) <= 0:
        raise ValueError(f"{irradiance_w_m2} and {mpe_w_m2} W/m2: both must be more than zero")
    return max(0.0, math.log10(irradiance_w_m2 / mpe_w_m2))


def in_pupil_w_m2(*, power_w: float) -> float:
    """Irradiance with the whole beam in the 7 mm pupil: the worst case for an eye."""
    return power_w / _disc_m2(EYE_APERTURE_MM)


def head_hazard(head: Head, *, exposure_s: float | None = None) -> HeadHazard:
    """Hazard of ``head`` at the larger of its stated and its measured power.

    ``exposure_s`` defaults to :func:`default_exposure_s`; a head is looked at for the longest
    time that one of its emitters asks for.

    Raises:
        OutOfScope: a time or a pulse for which no limit is held.
    """
    if exposure_s is None:
        exposure_s = max(
            default_exposure_s(wavelength_nm=float(emitter.wavelength_nm))
            for emitter in head.emitters
        )
    ratio = float(head.hazard_ratio)
    area_m2 = None if head.beam_area_um2 is None else head.beam_area_um2 * 1e-12
    every = tuple(_emitter_hazard(emitter, exposure_s, ratio, area_m2) for emitter in head.emitters)
    beams = [_Beam.of(emitter, found) for emitter, found in zip(head.emitters, every, strict=True)]
    in_pupil = sum(in_pupil_w_m2(power_w=found.power_w) / found.eye_mpe_w_m2 for found in every)
    skin = [found.skin_ratio for found in every if found.skin_ratio is not None]
    return HeadHazard(
        emitters=every,
        nohd_linear_m=_head_nohd_m(beams, "linear"),
        nohd_quadrature_m=_head_nohd_m(beams, "quadrature"),
        required_od=max(0.0, math.log10(in_pupil)),
        skin_ratio=sum(skin) if len(skin) == len(every) else None,
        output=head.output,
    )


def _emitter_hazard(
    emitter: Emitter, exposure_s: float, ratio: float, area_m2: float | None
) -> EmitterHazard:
    wavelength_nm = float(emitter.wavelength_nm)
    power_w = emitter.mean_power_uw * 1e-6 * ratio
    notes = []
    pulsed = None
    pulse = emitter.pulse
    steady = eye_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
    mpe_w_m2, rule, status = steady.irradiance_w_m2, steady.rule, steady.status
    if pulse is not None and pulse.width_ns is not None and pulse.frequency_hz is not None:
        pulsed = eye_mpe_pulsed(
            wavelength_nm=wavelength_nm,
            pulse_width_s=float(pulse.width_ns) * 1e-9,
            frequency_hz=float(pulse.frequency_hz),
            exposure_s=exposure_s,
        )
        mpe_w_m2 = pulsed.irradiance_w_m2
        if pulsed.governing != "mean power":
            rule = f"{pulsed.single_pulse.rule}, {pulsed.governing}, {pulsed.pulses} pulses"
            status = pulsed.single_pulse.status
    elif pulse is not None:
        power_w = pulse.peak_power_uw * 1e-6 * ratio
        notes.append(
            "pulse width and frequency are not stated: taken as continuous at the peak power, "
            "which is the safe side"
        )
    geometry = (emitter.divergence_mrad, emitter.aperture_diameter_um or 0)
    nohd: dict[NohdForm, float | None] = {"linear": None, "quadrature": None}
    if geometry[0] is None:
        notes.append(NO_DIVERGENCE)
    else:
        if emitter.aperture_diameter_um is None:
            notes.append(NO_DIAMETER)
        forms: tuple[NohdForm, ...] = ("linear", "quadrature")
        for form in forms:
            nohd[form] = nohd_m(
                power_w=power_w,
                mpe_w_m2=mpe_w_m2,
                divergence_rad=float(geometry[0]) * 1e-3,
                aperture_diameter_m=geometry[1] * 1e-6,
                form=form,
            )
    skin = _skin_mpe_w_m2(wavelength_nm, exposure_s, emitter)
    skin_ratio = None
    if area_m2 is not None:
        # Averaged over the aperture of the limit where the beam is narrower.
        skin_ratio = power_w / max(area_m2, _disc_m2(SKIN_APERTURE_MM)) / skin
    return EmitterHazard(
        wavelength_nm=wavelength_nm,
        power_w=power_w,
        exposure_s=exposure_s,
        eye_mpe_w_m2=mpe_w_m2,
        skin_mpe_w_m2=skin,
        rule=rule,
        status=status,
        pulsed=pulsed,
        nohd_linear_m=nohd["linear"],
        nohd_quadrature_m=nohd["quadrature"],
        required_od=required_od(irradiance_w_m2=in_pupil_w_m2(power_w=power_w), mpe_w_m2=mpe_w_m2),
        skin_ratio=skin_ratio,
        notes=tuple(notes),
    )


def _skin_mpe_w_m2(wavelength_nm: float, exposure_s: float, emitter: Emitter) -> float:
    """Mean irradiance that skin may get: the lower of the mean and of the single-pulse rule."""
    mean = skin_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s).irradiance_w_m2
    pulse = emitter.pulse
    if pulse is None or pulse.width_ns is None or pulse.frequency_hz is None:
        return mean
    single = skin_mpe(wavelength_nm=wavelength_nm, exposure_s=float(pulse.width_ns) * 1e-9)
    return min(mean, single.radiant_exposure_j_m2 * float(pulse.frequency_hz))


@dataclass(frozen=True, slots=True)
class _Beam:
    power_over_mpe_m2: float
    diameter_m: float
    divergence_rad: float | None

    @classmethod
    def of(cls, emitter: Emitter, found: EmitterHazard) -> "_Beam":
        divergence = emitter.divergence_mrad
        return cls(
            found.power_w / found.eye_mpe_w_m2,
            (emitter.aperture_diameter_um or 0) * 1e-6,
            None if divergence is None else float(divergence) * 1e-3,
        )

    def ratio(self, distance_m: float, form: NohdForm) -> float:
        """Exposure / limit at a distance, over the widened beam."""
        spread_m = (self.divergence_rad or 0.0) * distance_m
        if form == "linear":
            squared_m2 = (self.diameter_m + spread_m) ** 2
        else:
            squared_m2 = self.diameter_m**2 + spread_m**2
        return math.inf if squared_m2 == 0 else 4 * self.power_over_mpe_m2 / math.pi / squared_m2


def _head_nohd_m(beams: list[_Beam], form: NohdForm) -> float | None:
    """Distance at which the exposures of all beams add up to the limit.

    They fall steadily with distance, so halving the bracket finds it to the last digit. At
    ``far`` each beam is at 1/n of its limit or below.
    """
    far = 0.0
    for beam in beams:
        if beam.divergence_rad is None:
            return None
        wide_m = math.sqrt(4 * beam.power_over_mpe_m2 * len(beams) / math.pi)
        far = max(far, wide_m / beam.divergence_rad)

    def total(distance_m: float) -> float:
        return sum(beam.ratio(distance_m, form) for beam in beams)

    if total(0.0) <= 1:
        return 0.0
    near = 0.0
    while near < (middle := (near + far) / 2) < far:
        if total(middle) > 1:
            near = middle
        else:
            far = middle
    return far


def _disc_m2(diameter_mm: float) -> float:
    return math.pi * (diameter_mm * 1e-3) ** 2 / 4
