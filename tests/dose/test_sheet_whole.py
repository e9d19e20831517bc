"""The safety sheet read as a whole: every line of it, with its numbers taken out.

The numbers are held to their sources in ``test_sheet`` and ``test_hazard``.
"""

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from coach.dose.beam import Emitter, Head
from coach.dose.hazard import HeadHazard, head_hazard
from coach.dose.sheet import POINT_SOURCE, PRECAUTIONS, sheet, to_json
from tests.dose.test_sheet import PULSED, S11, UNSTATED

ABOVE_THE_LIMIT = (
    "Skin under a head that stays still: # times the limit for the hand that holds the head; "
    "keep fingers out of the beam"
)
COMPUTED = (
    "Computed for # s of looking into the beam, all of it through a pupil of # mm, as a point "
    "source: the worst case. Of two sets of limits the stricter is used."
)
DIFFUSE = "Thrown back by something white and matt: below the limit from # m on"
AS_A_POINT = re.sub(r"\d[\d.]*", "#", POINT_SOURCE)
CONTINUOUS = (
    "# nm, # mW. Skin limit # W/cm#, which is # J/cm# in # s",
    "  ICNIRP, IEC: eye limit # W/m# (#·C_A·C_C W/m#; second-hand), optical density #, # m",
    "  EU directive: eye limit # W/m# (#·C_A·C_C W/m#; read), optical density #, # m",
)
DARK = "This light cannot be seen, or only a part of it: dark is not off."
LIMITS = (
    "Limits: ICNIRP # / IEC #-#:#; EU directive #/#/EC, annex II. The limits are for eyes and "
    "bystanders and for the hand that holds the head, not for the treatment itself, and were set "
    "for people. Near infrared cannot be seen: dark is not off. Local rules and the prescriber's "
    "laser-safety adviser rule."
)


def hazard(*emitters: Emitter) -> HeadHazard:
    return head_hazard(Head(emitters=emitters, beam_area_um2=10**8), exposure_s=10)


def shape(found: HeadHazard, **names: str) -> list[str]:
    lines = sheet(found, **{"label": "invented laser", **names})
    return [re.sub(r"\d[\d.]*(e-\d+)?", "#", line) for line in lines]


def test_a_continuous_head() -> None:
    assert shape(hazard(S11), laser_class="3B") == [
        "Laser safety: invented laser, class #B, # nm",
        "",
        "Hazard distance for eyes: # m in a straight line from the head",
        "Eyewear: optical density # or more at # nm",
        "  By EN # or ISO # marked at least # D LB# (second-hand). Density is not the LB number: "
        "that also says what power the filter withstands.",
        DIFFUSE,
        ABOVE_THE_LIMIT,
        COMPUTED,
        DARK,
        "",
        *PRECAUTIONS,
        "",
        "How it was computed",
        *CONTINUOUS,
        "",
        AS_A_POINT,
        "",
        LIMITS,
    ]


def test_a_head_of_three_wavelengths_of_which_little_is_known() -> None:
    assert shape(hazard(UNSTATED, PULSED, S11)) == [
        "Laser safety: invented laser, #, # and # nm",
        "",
        "Hazard distance for eyes: not known, because no divergence is stated; "
        "take it as the whole room",
        "Eyewear: optical density # or more at #, # and # nm",
        "  Its mark LB n by EN # is not known here, because no beam diameter at the opening is "
        "stated. Density is not the LB number.",
        DIFFUSE,
        ABOVE_THE_LIMIT,
        COMPUTED,
        DARK,
        "",
        *PRECAUTIONS,
        "",
        "How it was computed",
        CONTINUOUS[0],
        *(f"{line.removesuffix('# m')}distance not known" for line in CONTINUOUS[1:]),
        "  pulse width and frequency are not stated: taken as continuous at the peak power, "
        "which is the safe side",
        CONTINUOUS[0],
        "  ICNIRP, IEC: eye limit # W/m# (#·C_A·C_C J/m#, C_#, # pulses; second-hand), optical "
        "density #, distance not known",
        "    one pulse # J/m#, # of them counted, factor #: C_# governs",
        "  EU directive: eye limit # W/m# (#·C_A J/m#, C_#, # pulses; read), optical density #, "
        "distance not known",
        "    one pulse # J/m#, # of them counted, factor #: C_# governs",
        *CONTINUOUS,
        "",
        AS_A_POINT,
        "",
        LIMITS,
    ]


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [
        (None, "not known, because no beam area is stated; keep fingers out of the beam"),
        (0.99, "below the limit for the hand that holds the head"),
        # At the limit is not above it.
        (1.0, "below the limit for the hand that holds the head"),
        (
            1.01,
            "1.1 times the limit for the hand that holds the head; keep fingers out of the beam",
        ),
    ],
)
def test_the_skin_line(ratio: float | None, expected: str) -> None:
    found = replace(hazard(S11), skin_ratio=ratio)
    line = "Skin under a head that stays still: " + expected
    assert line in sheet(found, label="invented laser")


def test_the_harmless_lines() -> None:
    whole = hazard(S11)
    harmless = replace(whole.eye, nohd_linear_m=0.0, nohd_quadrature_m=0.0, required_od=0.0)
    lines = sheet(replace(whole, eye=harmless, eye_eu=harmless), label="invented laser")
    assert "Hazard distance for eyes: 0 m, below the limit right at the head" in lines
    assert not any("LB" in line for line in lines)
    assert (
        "Eyewear: below the limit even with the whole beam in the eye; follow the maker's papers"
    ) in lines


@pytest.mark.parametrize(("wavelength_nm", "dark"), [(699, False), (700, True)])
def test_from_700_nm_on_it_cannot_be_seen(wavelength_nm: int, dark: bool) -> None:
    lines = shape(hazard(Emitter(wavelength_nm=Fraction(wavelength_nm), mean_power_uw=5_000)))
    assert (DARK in lines) == dark


def test_milliwatts_are_printed_and_kept_as_stated() -> None:
    found = hazard(S11)
    assert "808 nm, 500 mW. " in "\n".join(sheet(found, label="invented laser"))
    assert to_json(found)["emitters"][0]["power_mw"] == pytest.approx(500)


def test_the_json_leaves_nothing_out() -> None:
    found = hazard(S11)
    data = to_json(found)
    of_eyes = ("nohd_linear_m", "nohd_quadrature_m", "required_od")
    assert [data[name] for name in ("edition", "scope", "skin_ratio")] == [
        found.edition,
        found.scope,
        found.skin_ratio,
    ]
    assert (data["distance_m"], data["density"]) == (found.distance_m, found.density)
    emitter, source = data["emitters"][0], found.emitters[0]
    for name in of_eyes:
        assert data[name] == getattr(found.eye, name) is not None  # type: ignore[literal-required]
        assert emitter[name] == getattr(source.eye, name)  # type: ignore[literal-required]
        assert emitter["eu"][name] == getattr(source.eye_eu, name)  # type: ignore[literal-required]
    assert data["required_od_eu"] == found.eye_eu.required_od
    assert emitter["eye_mpe_w_m2"] == source.eye.mpe_w_m2
    assert emitter["skin_mpe_j_m2"] == pytest.approx(source.skin_mpe_w_m2 * data["exposure_s"])
    assert (emitter["rule"], emitter["status"]) == (source.eye.rule, source.eye.status)
    assert emitter["markings"] == ["808 D LB4"]
    assert emitter["skin_ratio"] == source.skin_ratio is not None
