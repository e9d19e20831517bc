"""The safety sheet of a head: as lines to print, and as plain data with a schema.

What is shown is rounded up, never down: a distance to the next tenth of a metre, an optical
density to the next whole number (eyewear is sold so).
"""

import math

# Comes with pydantic, which makes the schema; typing's own would do from Python 3.12 on.
from typing_extensions import TypedDict

from coach.dose.hazard import NO_DIVERGENCE, EmitterHazard, HeadHazard
from coach.dose.limits import c_5_eu_2006

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


class EmitterJson(TypedDict):
    """One emitter; null where something that is needed was not stated."""

    wavelength_nm: float
    power_mw: float
    eye_mpe_w_m2: float
    skin_mpe_w_m2: float
    rule: str
    status: str
    pulses: PulsesJson | None
    nohd_linear_m: float | None
    nohd_quadrature_m: float | None
    required_od: float
    skin_ratio: float | None
    notes: list[str]


class SafetyJson(TypedDict):
    """What ``coach check --safety --json`` prints; ``safety.schema.json`` is its schema.

    ``power_mw`` is what eyes and skin are protected from: the larger of stated and measured.
    """

    format: int
    edition: str
    scope: str
    exposure_s: float
    power_mw: float
    power_by: str
    stated_power_mw: float
    measured_power_mw: float | None
    nohd_linear_m: float | None
    nohd_quadrature_m: float | None
    required_od: float
    skin_ratio: float | None
    emitters: list[EmitterJson]


def to_json(hazard: HeadHazard) -> SafetyJson:
    """The hazard of a head as plain data, unrounded."""
    return SafetyJson(
        format=FORMAT,
        edition=hazard.edition,
        scope=hazard.scope,
        exposure_s=hazard.emitters[0].exposure_s,
        power_mw=hazard.output.hazard_uw / 1000,
        power_by=hazard.output.hazard_by,
        stated_power_mw=hazard.output.stated_uw / 1000,
        measured_power_mw=None
        if hazard.output.measured_uw is None
        else hazard.output.measured_uw / 1000,
        nohd_linear_m=hazard.nohd_linear_m,
        nohd_quadrature_m=hazard.nohd_quadrature_m,
        required_od=hazard.required_od,
        skin_ratio=hazard.skin_ratio,
        emitters=[_emitter_json(emitter) for emitter in hazard.emitters],
    )


def sheet(hazard: HeadHazard, *, label: str, laser_class: str = "") -> list[str]:
    """One page for the wall, line by line; ``label`` names the laser as the plan does."""
    stated_class = f", class {laser_class}" if laser_class else ""
    lines = [
        f"Laser safety: {label}{stated_class}, {_waves(hazard)}",
        "",
        f"Hazard distance for eyes: {_distance(hazard)}",
        f"Eyewear: {_eyewear(hazard)}",
    ]
    lines.append(f"Skin under a head that stays still: {_skin(hazard.skin_ratio)}")
    lines.append(
        f"Computed for {hazard.emitters[0].exposure_s:g} s of looking into the beam, all of it "
        "through a pupil of 7 mm: the worst case."
    )
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
    lines += ["", *PRECAUTIONS, "", "How it was computed"]
    for emitter in hazard.emitters:
        lines.append(
            f"{emitter.wavelength_nm:g} nm, {emitter.power_w * 1000:.6g} mW: eye limit "
            f"{emitter.eye_mpe_w_m2:.5g} W/m2 ({emitter.rule}; {emitter.status}), skin limit "
            f"{emitter.skin_mpe_w_m2:.5g} W/m2"
        )
        if emitter.pulsed is not None:
            eu_factor = c_5_eu_2006(pulses=emitter.pulsed.pulses)
            lines.append(
                f"  Of the three pulse rules, {emitter.pulsed.governing} governs. The EU directive "
                f"of 2006 has the factor {eu_factor:.3g} where C_5 is {emitter.pulsed.c5:.3g}: ask "
                "which one is law with you."
            )
        # The distance above already says that a divergence is missing.
        lines += [f"  {note}" for note in emitter.notes if note != NO_DIVERGENCE]
    return [*lines, "", f"Limits: {hazard.edition}. {hazard.scope}"]


def _wavelengths(hazard: HeadHazard) -> list[float]:
    return sorted({emitter.wavelength_nm for emitter in hazard.emitters})


def _waves(hazard: HeadHazard) -> str:
    *others, last = (f"{wave:g}" for wave in _wavelengths(hazard))
    return f"{', '.join(others)} and {last} nm" if others else f"{last} nm"


def _distance(hazard: HeadHazard) -> str:
    # Of the two forms the one that gives more: the safe one to put on a wall.
    farthest_m = hazard.nohd_quadrature_m
    if farthest_m is None:
        return "not known, because no divergence is stated; take it as the whole room"
    if farthest_m == 0:
        return "below the limit right at the head"
    return f"{math.ceil(farthest_m * 10) / 10:.1f} m in a straight line from the head"


def _eyewear(hazard: HeadHazard) -> str:
    if hazard.required_od == 0:
        return "below the limit even with the whole beam in the eye; follow the maker's papers"
    return f"optical density {math.ceil(hazard.required_od)} or more at {_waves(hazard)}"


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
    pulsed = emitter.pulsed
    pulses = None
    if pulsed is not None:
        pulses = PulsesJson(
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
    return EmitterJson(
        wavelength_nm=emitter.wavelength_nm,
        power_mw=emitter.power_w * 1000,
        eye_mpe_w_m2=emitter.eye_mpe_w_m2,
        skin_mpe_w_m2=emitter.skin_mpe_w_m2,
        rule=emitter.rule,
        status=emitter.status,
        pulses=pulses,
        nohd_linear_m=emitter.nohd_linear_m,
        nohd_quadrature_m=emitter.nohd_quadrature_m,
        required_od=emitter.required_od,
        skin_ratio=emitter.skin_ratio,
        notes=list(emitter.notes),
    )
