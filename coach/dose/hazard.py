"""How far a beam can hurt an eye, what eyewear must hold back, and what skin gets.

For each emitter and for the whole head, by two sets of limits: ICNIRP 2013 / IEC 60825-1:2014, and
the EU directive of 2006. The longer distance and the higher density win. Exposures of several
emitters add: the sum of exposure / limit must stay below 1 (additive on the same retina; from
memory). Beams are taken as evenly filled, as point sources, and as if all emitters of a head shone
at the same place: the worst case. Where all of it through a pupil is below the limit, the distance
is 0.

Formulas: NOHD = (sqrt(4P / (pi MPE)) - d0) / phi, linear form, or with the square root of
4P / (pi MPE) - d0^2, quadrature form; OD = log10(E0 / MPE), E0 with the whole beam in the 7 mm
pupil. A pulsed emitter without pulse width and frequency is taken as continuous at its peak
power, which no pulse rule undercuts. Light from a matt white surface falls to the limit at
sqrt(P / (pi MPE)) (diffuse reflection, ANSI Z136.1, seen as an excerpt).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from coach.dose.beam import Emitter, Head, Output
from coach.dose.distance import Beam, NohdForm, head_nohd_m, nohd_m
from coach.dose.eu_limits import eye_mpe_eu, eye_mpe_pulsed_eu
from coach.dose.eyewear import Marking, markings
from coach.dose.limits import (
    EDITION,
    EYE_APERTURE_MM,
    SCOPE,
    SKIN_APERTURE_MM,
    OneExposure,
    PulsedLimit,
    c_c,
    c_c_2014,
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


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeHazard:
    """Eyes by one set of limits.

    Attributes:
        mpe_w_m2: the limit as a mean irradiance; of a head that of its first emitter.
        rule, status, edition: which limit governs, how far we have seen it, whose it is.
        pulsed: the three pulse rules; None for continuous and for unstated pulses.
        nohd_linear_m, nohd_quadrature_m: hazard distance; None without a divergence, but 0 where
            the whole beam in a pupil is below the limit.
        required_od: optical density that brings the whole beam in the pupil down to the limit.
    """

    mpe_w_m2: float
    rule: str
    status: str
    edition: str
    pulsed: PulsedLimit | None
    nohd_linear_m: float | None
    nohd_quadrature_m: float | None
    required_od: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EmitterHazard:
    """One emitter by itself.

    Attributes:
        wavelength_nm, power_w: the emitter, and the power compared with the limits (mean,
            or peak where the pulses are not stated).
        exposure_s: what the limits are for.
        eye, eye_eu: by ICNIRP and IEC, and by the EU directive.
        skin_mpe_w_m2: limit of skin as mean irradiance.
        skin_ratio: irradiance at the skin / limit; None without a beam area.
        markings: eyewear by EN 207; None without a beam diameter at the opening.
        notes: what was assumed.
    """

    wavelength_nm: float
    power_w: float
    exposure_s: float
    eye: EyeHazard
    eye_eu: EyeHazard
    skin_mpe_w_m2: float
    skin_ratio: float | None
    markings: tuple[Marking, ...] | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadHazard:
    """A whole head: every emitter, and all of them together.

    The densities must hold at each wavelength of the head. Distances are None as soon as one
    emitter has no divergence stated: then the whole room is within the hazard distance. ``output``
    is the power: eyes and skin are protected from its ``hazard_uw``. ``diffuse_m``: from there on
    the light that a matt white surface throws back is below the limit.
    """

    emitters: tuple[EmitterHazard, ...]
    eye: EyeHazard
    eye_eu: EyeHazard
    diffuse_m: float
    skin_ratio: float | None
    output: Output
    edition: str = EDITION
    scope: str = SCOPE

    @property
    def distance_m(self) -> float | None:
        """The farther of all distances, by both sets and in both forms."""
        found = (
            self.eye.nohd_linear_m,
            self.eye.nohd_quadrature_m,
            self.eye_eu.nohd_linear_m,
            self.eye_eu.nohd_quadrature_m,
        )
        known = [distance for distance in found if distance is not None]
        return max(known) if len(known) == len(found) else None

    @property
    def density(self) -> float:
        """The higher of the two optical densities."""
        return max(self.eye.required_od, self.eye_eu.required_od)


def default_exposure_s(*, wavelength_nm: float) -> float:
    """Time that somebody may look into the beam without knowing: 10 s, below 600 nm 100 s."""
    return LONG_LOOK_BLUE_S if wavelength_nm < 600 else LONG_LOOK_S


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
    skin = [found.skin_ratio for found in every if found.skin_ratio is not None]
    eye = _head_eye(head, every, [found.eye for found in every])
    eye_eu = _head_eye(head, every, [found.eye_eu for found in every])
    return HeadHazard(
        emitters=every,
        eye=eye,
        eye_eu=eye_eu,
        diffuse_m=math.sqrt(
            sum(
                found.power_w / math.pi / min(found.eye.mpe_w_m2, found.eye_eu.mpe_w_m2)
                for found in every
            )
        ),
        skin_ratio=sum(skin) if len(skin) == len(every) else None,
        output=head.output,
    )


def _head_eye(head: Head, every: tuple[EmitterHazard, ...], eyes: list[EyeHazard]) -> EyeHazard:
    """All emitters together by one set of limits."""
    pairs = list(zip(every, eyes, strict=True))
    in_pupil = sum(in_pupil_w_m2(power_w=found.power_w) / eye.mpe_w_m2 for found, eye in pairs)
    beams = [
        _beam(emitter, found.power_w / eye.mpe_w_m2)
        for emitter, (found, eye) in zip(head.emitters, pairs, strict=True)
    ]
    harmless = in_pupil <= 1
    return replace(
        eyes[0],
        nohd_linear_m=0.0 if harmless else head_nohd_m(beams, "linear"),
        nohd_quadrature_m=0.0 if harmless else head_nohd_m(beams, "quadrature"),
        required_od=max(0.0, math.log10(in_pupil)),
    )


def _beam(emitter: Emitter, power_over_mpe_m2: float) -> Beam:
    divergence = emitter.divergence_mrad
    return Beam(
        power_over_mpe_m2=power_over_mpe_m2,
        diameter_m=(emitter.aperture_diameter_um or 0) * 1e-6,
        divergence_rad=None if divergence is None else float(divergence) * 1e-3,
    )


def _emitter_hazard(
    emitter: Emitter, exposure_s: float, ratio: float, area_m2: float | None
) -> EmitterHazard:
    wavelength_nm = float(emitter.wavelength_nm)
    power_w = emitter.mean_power_uw * 1e-6 * ratio
    notes = []
    pulse = emitter.pulse
    if pulse is not None and pulse.width_ns is None:
        power_w = pulse.peak_power_uw * 1e-6 * ratio
        notes.append(
            "pulse width and frequency are not stated: taken as continuous at the peak power, "
            "which is the safe side"
        )
    if emitter.divergence_mrad is None:
        notes.append(NO_DIVERGENCE)
    else:
        if emitter.aperture_diameter_um is None:
            notes.append(NO_DIAMETER)
        if emitter.divergence_note:
            notes.append(emitter.divergence_note)
    if wavelength_nm > 1200:
        notes.append(
            f"C_C is taken as {c_c(wavelength_nm=wavelength_nm):g} (EU directive, and IEC before "
            f"2014); the 2014 edition has {c_c_2014(wavelength_nm=wavelength_nm):.4g} and then "
            "limits for the cornea as well"
        )
    skin = _skin_mpe_w_m2(wavelength_nm, exposure_s, emitter)
    skin_ratio = None
    if area_m2 is not None:
        # Averaged over the aperture of the limit where the beam is narrower.
        skin_ratio = power_w / max(area_m2, _disc_m2(SKIN_APERTURE_MM)) / skin
    eye = _eye(emitter, power_w, exposure_s, eye_mpe, eye_mpe_pulsed)
    eye_eu = _eye(emitter, power_w, exposure_s, eye_mpe_eu, eye_mpe_pulsed_eu)
    return EmitterHazard(
        wavelength_nm=wavelength_nm,
        power_w=power_w,
        exposure_s=exposure_s,
        eye=eye,
        eye_eu=eye_eu,
        skin_mpe_w_m2=skin,
        skin_ratio=skin_ratio,
        markings=_markings(emitter, power_w, max(eye.required_od, eye_eu.required_od)),
        notes=tuple(notes),
    )


def _eye(
    emitter: Emitter,
    power_w: float,
    exposure_s: float,
    one: OneExposure,
    train: Callable[..., PulsedLimit],
) -> EyeHazard:
    """Eyes before one emitter, by the limits ``one`` and, for pulses, ``train``."""
    wavelength_nm = float(emitter.wavelength_nm)
    steady = one(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
    mpe_w_m2, rule, status = steady.irradiance_w_m2, steady.rule, steady.status
    pulse, pulsed = emitter.pulse, None
    if pulse is not None and pulse.width_ns is not None and pulse.frequency_hz is not None:
        pulsed = train(
            wavelength_nm=wavelength_nm,
            pulse_width_s=float(pulse.width_ns) * 1e-9,
            frequency_hz=float(pulse.frequency_hz),
            exposure_s=exposure_s,
        )
        mpe_w_m2 = pulsed.irradiance_w_m2
        if pulsed.governing != "mean power":
            rule = f"{pulsed.single_pulse.rule}, {pulsed.governing}, {pulsed.pulses} pulses"
            status = pulsed.single_pulse.status
    density = required_od(irradiance_w_m2=in_pupil_w_m2(power_w=power_w), mpe_w_m2=mpe_w_m2)
    distances: list[float | None] = [None, None]
    if density == 0:
        distances = [0.0, 0.0]
    elif emitter.divergence_mrad is not None:
        forms: tuple[NohdForm, ...] = ("linear", "quadrature")
        distances = [
            nohd_m(
                power_w=power_w,
                mpe_w_m2=mpe_w_m2,
                divergence_rad=float(emitter.divergence_mrad) * 1e-3,
                aperture_diameter_m=(emitter.aperture_diameter_um or 0) * 1e-6,
                form=form,
            )
            for form in forms
        ]
    return EyeHazard(
        mpe_w_m2=mpe_w_m2,
        rule=rule,
        status=status,
        edition=steady.edition,
        pulsed=pulsed,
        nohd_linear_m=distances[0],
        nohd_quadrature_m=distances[1],
        required_od=density,
    )


def _markings(emitter: Emitter, power_w: float, density: float) -> tuple[Marking, ...] | None:
    """Marking of eyewear, where the beam at the opening is known."""
    if emitter.aperture_diameter_um is None or density == 0:
        return None
    pulse = emitter.pulse
    width_ns = None if pulse is None else pulse.width_ns
    frequency_hz = None if pulse is None else pulse.frequency_hz
    return markings(
        wavelength_nm=float(emitter.wavelength_nm),
        mean_power_w=power_w,
        beam_diameter_m=emitter.aperture_diameter_um * 1e-6,
        required_od=density,
        pulse_width_s=None if width_ns is None else float(width_ns) * 1e-9,
        frequency_hz=None if frequency_hz is None else float(frequency_hz),
    )


def _skin_mpe_w_m2(wavelength_nm: float, exposure_s: float, emitter: Emitter) -> float:
    """Mean irradiance that skin may get: the lower of the mean and of the single-pulse rule."""
    mean = skin_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s).irradiance_w_m2
    pulse = emitter.pulse
    if pulse is None or pulse.width_ns is None or pulse.frequency_hz is None:
        return mean
    single = skin_mpe(wavelength_nm=wavelength_nm, exposure_s=float(pulse.width_ns) * 1e-9)
    return min(mean, single.radiant_exposure_j_m2 * float(pulse.frequency_hz))


def _disc_m2(diameter_mm: float) -> float:
    return math.pi * (diameter_mm * 1e-3) ** 2 / 4
