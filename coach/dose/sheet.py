"""The safety sheet of a head: as lines to print, and as plain data with a schema.

What is shown is rounded up, never down: a distance to the next tenth of a metre, an optical
density to the next whole number (eyewear is sold so).
"""

import math

# Comes with pydantic, which makes the schema; typing's own would do from Python 3.12 on.
from typing_extensions import TypedDict

from coach.dose.hazard import (
    LONG_LOOK_S,
    NO_DIVERGENCE,
    EmitterHazard,
    EyeHazard,
    HeadHazard,
)
from coach.dose.limits import PulsedLimit, c_5_eu_2006

FORMAT = 1

# Textbook 2019 p. 169 and common practice: shiny things, door, children and other pets. North
# American consensus 2010, Navratil & Kymplova 2002 and the textbook agree about eyes.
PRECAUTIONS = (
    "Never aim at an eye. Switch the laser on only with the head on the dog.",
    "Everyone in the room wears eyewear that is marked for every wavelength above. The dog's eyes "
    "are covered or turned away.",
    "Cover or take away what shines: mirrors, metal bowls, tags, glass, watches, rings.",
    "Shut the door. Children, other pets and everyone without eyewear stay out.",
    "Eyewear is for accidents. It is not for looking into the beam.",
)

POINT_SOURCE = (
    "As a point source: all light comes from one point (1.5 mrad or less), which is the "
    "strictest. Light from a larger source, such as a cluster or a diffuser, may be allowed more. "
    "Not so where it pulses: from 5 mrad on pulses longer than 5 us get a factor down to 0.4 or "
    "0.2 where a point source has 1. Have a large pulsed source worked out by an adviser."
)


class PulsesJson(TypedDict):
    """The three rules for repeated pulses, as the mean irradiance that each allows."""

    pulses: int
    pulses_in_group: int
    c_5: float
    single_pulse_j_m2: float
    single_pulse_w_m2: float
    mean_w_m2: float
    train_w_m2: float
    governing: str
    c_5_eu_2006: float


class EyeJson(TypedDict):
    """Eyes by one set of limits; null where something that is needed was not stated."""

    edition: str
    eye_mpe_w_m2: float
    eye_mpe_j_m2: float
    rule: str
    status: str
    pulses: int | None
    pulse_factor: float | None
    single_pulse_j_m2: float | None
    nohd_linear_m: float | None
    nohd_quadrature_m: float | None
    required_od: float


class EmitterJson(TypedDict):
    """One emitter; null where something that is needed was not stated.

    Eyes by ICNIRP 2013 and IEC 60825-1:2014; ``eu`` has them by the EU directive. ``markings``
    are the least marks of eyewear by EN 207.
    """

    wavelength_nm: float
    power_mw: float
    eye_mpe_w_m2: float
    eye_mpe_j_m2: float
    skin_mpe_w_m2: float
    skin_mpe_j_m2: float
    rule: str
    status: str
    pulses: PulsesJson | None
    nohd_linear_m: float | None
    nohd_quadrature_m: float | None
    required_od: float
    eu: EyeJson
    skin_ratio: float | None
    markings: list[str] | None
    notes: list[str]


class SafetyJson(TypedDict):
    """What ``coach check --safety --json`` prints; ``safety.schema.json`` is its schema.

    ``power_mw`` is what eyes and skin are protected from: the larger of stated and measured.
    ``nohd_*`` and ``required_od`` are by ICNIRP 2013 and IEC 60825-1:2014, ``*_eu`` by the EU
    directive; ``distance_m`` and ``density`` are the farther and the higher of both, unrounded.
    """

    format: int
    edition: str
    edition_eu: str
    scope: str
    exposure_s: float
    power_mw: float
    power_by: str
    stated_power_mw: float
    measured_power_mw: float | None
    distance_m: float | None
    density: float
    nohd_linear_m: float | None
    nohd_quadrature_m: float | None
    required_od: float
    nohd_linear_eu_m: float | None
    nohd_quadrature_eu_m: float | None
    required_od_eu: float
    diffuse_m: float
    skin_ratio: float | None
    emitters: list[EmitterJson]


def to_json(hazard: HeadHazard) -> SafetyJson:
    """The hazard of a head as plain data, unrounded."""
    output = hazard.output
    return SafetyJson(
        format=FORMAT,
        edition=hazard.edition,
        edition_eu=hazard.eye_eu.edition,
        scope=hazard.scope,
        exposure_s=hazard.emitters[0].exposure_s,
        power_mw=output.hazard_uw / 1000,
        power_by=output.hazard_by,
        stated_power_mw=output.stated_uw / 1000,
        measured_power_mw=None if output.measured_uw is None else output.measured_uw / 1000,
        distance_m=hazard.distance_m,
        density=hazard.density,
        nohd_linear_m=hazard.eye.nohd_linear_m,
        nohd_quadrature_m=hazard.eye.nohd_quadrature_m,
        required_od=hazard.eye.required_od,
        nohd_linear_eu_m=hazard.eye_eu.nohd_linear_m,
        nohd_quadrature_eu_m=hazard.eye_eu.nohd_quadrature_m,
        required_od_eu=hazard.eye_eu.required_od,
        diffuse_m=hazard.diffuse_m,
        skin_ratio=hazard.skin_ratio,
        emitters=[_emitter_json(emitter) for emitter in hazard.emitters],
    )


def sheet(hazard: HeadHazard, *, label: str, laser_class: str = "") -> list[str]:
    """One page for the wall, line by line; ``label`` names the laser as the plan does."""
    stated_class = f", class {laser_class}" if laser_class else ""
    exposure_s = hazard.emitters[0].exposure_s
    lines = [
        f"Laser safety: {label}{stated_class}, {_waves(hazard)}",
        "",
        f"Hazard distance for eyes: {_distance(hazard.distance_m)}",
        f"Eyewear: {_eyewear(hazard)}",
        *_marks(hazard),
        f"Thrown back by something white and matt: {_diffuse(hazard.diffuse_m)}",
        f"Skin under a head that stays still: {_skin(hazard.skin_ratio)}",
        f"Computed for {_time(exposure_s)} of looking into the beam, all of it through a pupil of "
        "7 mm, as a point source: the worst case. Of two sets of limits the stricter is used.",
    ]
    output = hazard.output
    if output.measured_uw is not None:
        used, stated, measured = (
            f"{power_uw / 1000:.6g} mW"
            for power_uw in (output.hazard_uw, output.stated_uw, output.measured_uw)
        )
        lines.append(
            f"Computed with {used}, the larger of {stated} stated and {measured} measured."
        )
    if any(wave >= 700 for wave in _wavelengths(hazard)):
        lines.append("This light cannot be seen, or only a part of it: dark is not off.")
        if exposure_s < LONG_LOOK_S:
            lines.append(
                f"{_time(exposure_s)} is the time to blink at a bright light. Nobody blinks at "
                "light that cannot be seen: take 10 s or more."
            )
    lines += ["", *PRECAUTIONS, "", "How it was computed"]
    for emitter in hazard.emitters:
        lines += _computed(emitter)
    lines += ["", POINT_SOURCE]
    return [*lines, "", f"Limits: {hazard.edition}; {hazard.eye_eu.edition}. {hazard.scope}"]


def _computed(emitter: EmitterHazard) -> list[str]:
    skin_w_cm2 = emitter.skin_mpe_w_m2 / 1e4
    lines = [
        f"{emitter.wavelength_nm:g} nm, {emitter.power_w * 1000:.6g} mW. Skin limit "
        f"{skin_w_cm2:.4g} W/cm2, which is {skin_w_cm2 * emitter.exposure_s:.4g} J/cm2 in "
        f"{_time(emitter.exposure_s)}"
    ]
    for name, eye in (("ICNIRP, IEC", emitter.eye), ("EU directive", emitter.eye_eu)):
        lines.append(
            f"  {name}: eye limit {eye.mpe_w_m2:.5g} W/m2 ({eye.rule}; {eye.status}), optical "
            f"density {eye.required_od:.2f}, {_metres(eye.nohd_quadrature_m)}"
        )
        if eye.pulsed is not None:
            pulsed = eye.pulsed
            lines.append(
                f"    one pulse {pulsed.single_pulse.radiant_exposure_j_m2:.4g} J/m2, "
                f"{pulsed.pulses} of them counted, factor {pulsed.c5:.3g}: {pulsed.governing} "
                "governs"
            )
    # The distance above already says that a divergence is missing.
    lines += [f"  {note}" for note in emitter.notes if note != NO_DIVERGENCE]
    return lines


def _marks(hazard: HeadHazard) -> list[str]:
    """The marking of eyewear, in a line, and what it says that a density does not."""
    if hazard.density == 0:
        return []
    known = [emitter.markings for emitter in hazard.emitters if emitter.markings is not None]
    if len(known) < len(hazard.emitters):
        return [
            "  Its mark LB n by EN 207 is not known here, because no beam diameter at the opening "
            "is stated. Density is not the LB number."
        ]
    if not all(known):
        return ["  Its mark LB n by EN 207 is not held here for pulses below 1 ns."]
    marks = " + ".join(str(mark) for marking in known for mark in marking)
    return [
        f"  By EN 207 or ISO 19818 marked at least {marks} (second-hand). Density is not the LB "
        "number: that also says what power the filter withstands."
    ]


def _diffuse(distance_m: float) -> str:
    return f"below the limit from {math.ceil(distance_m * 10) / 10:.1f} m on"


def _metres(distance_m: float | None) -> str:
    return "distance not known" if distance_m is None else f"{distance_m:.3g} m"


def _time(seconds: float) -> str:
    return f"{seconds / 3600:g} h" if seconds >= 3600 else f"{seconds:g} s"


def _wavelengths(hazard: HeadHazard) -> list[float]:
    return sorted({emitter.wavelength_nm for emitter in hazard.emitters})


def _waves(hazard: HeadHazard) -> str:
    *others, last = (f"{wave:g}" for wave in _wavelengths(hazard))
    return f"{', '.join(others)} and {last} nm" if others else f"{last} nm"


def _distance(farthest_m: float | None) -> str:
    # Of both sets of limits and both forms the one that gives most: the safe one for a wall.
    if farthest_m is None:
        return "not known, because no divergence is stated; take it as the whole room"
    if farthest_m == 0:
        return "0 m, below the limit right at the head"
    return f"{math.ceil(farthest_m * 10) / 10:.1f} m in a straight line from the head"


def _eyewear(hazard: HeadHazard) -> str:
    if hazard.density == 0:
        return "below the limit even with the whole beam in the eye; follow the maker's papers"
    return f"optical density {math.ceil(hazard.density)} or more at {_waves(hazard)}"


def _skin(ratio: float | None) -> str:
    if ratio is None:
        return "not known, because no beam area is stated; keep fingers out of the beam"
    if ratio <= 1:
        return "below the limit for the hand that holds the head"
    return (
        f"{math.ceil(ratio * 10) / 10:.1f} times the limit for the hand that holds the head; "
        "keep fingers out of the beam"
    )


def _emitter_json(emitter: EmitterHazard) -> EmitterJson:
    eye, exposure_s = emitter.eye, emitter.exposure_s
    return EmitterJson(
        wavelength_nm=emitter.wavelength_nm,
        power_mw=emitter.power_w * 1000,
        eye_mpe_w_m2=eye.mpe_w_m2,
        eye_mpe_j_m2=eye.mpe_w_m2 * exposure_s,
        skin_mpe_w_m2=emitter.skin_mpe_w_m2,
        skin_mpe_j_m2=emitter.skin_mpe_w_m2 * exposure_s,
        rule=eye.rule,
        status=eye.status,
        pulses=_pulses_json(eye.pulsed),
        nohd_linear_m=eye.nohd_linear_m,
        nohd_quadrature_m=eye.nohd_quadrature_m,
        required_od=eye.required_od,
        eu=_eye_json(emitter.eye_eu, exposure_s),
        skin_ratio=emitter.skin_ratio,
        markings=None if emitter.markings is None else [str(mark) for mark in emitter.markings],
        notes=list(emitter.notes),
    )


def _eye_json(eye: EyeHazard, exposure_s: float) -> EyeJson:
    pulsed = eye.pulsed
    return EyeJson(
        edition=eye.edition,
        eye_mpe_w_m2=eye.mpe_w_m2,
        eye_mpe_j_m2=eye.mpe_w_m2 * exposure_s,
        rule=eye.rule,
        status=eye.status,
        pulses=None if pulsed is None else pulsed.pulses,
        pulse_factor=None if pulsed is None else pulsed.c5,
        single_pulse_j_m2=None if pulsed is None else pulsed.single_pulse.radiant_exposure_j_m2,
        nohd_linear_m=eye.nohd_linear_m,
        nohd_quadrature_m=eye.nohd_quadrature_m,
        required_od=eye.required_od,
    )


def _pulses_json(pulsed: PulsedLimit | None) -> PulsesJson | None:
    if pulsed is None:
        return None
    return PulsesJson(
        pulses=pulsed.pulses,
        pulses_in_group=pulsed.pulses_in_group,
        c_5=pulsed.c5,
        single_pulse_j_m2=pulsed.single_pulse.radiant_exposure_j_m2,
        single_pulse_w_m2=pulsed.single_pulse_w_m2,
        mean_w_m2=pulsed.mean_w_m2,
        train_w_m2=pulsed.train_w_m2,
        governing=pulsed.governing,
        c_5_eu_2006=c_5_eu_2006(pulses=pulsed.pulses),
    )
