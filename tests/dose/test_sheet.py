"""The safety sheet: what it must say, rounding to the safe side, and its JSON."""

import json
from fractions import Fraction
from importlib.resources import files

import pytest
from pydantic import TypeAdapter

from coach.dose.beam import Emitter, Head
from coach.dose.hazard import head_hazard
from coach.dose.limits import EDITION, SCOPE
from coach.dose.sheet import SafetyJson, sheet, to_json
from tests.dose.emitters import pulsed_by_duty_cycle, pulsed_by_width

# S11: 808 nm, 0.5 W, 5 mm, 0.2 rad, 10 s: 0.9588 m (C); OD 2.8977 worked out in test_hazard.
S11 = Emitter(
    wavelength_nm=Fraction(808),
    mean_power_uw=500_000,
    aperture_diameter_um=5_000,
    divergence_mrad=Fraction(200),
)
PULSED = pulsed_by_width(
    wavelength_nm=Fraction(905),
    peak_power_uw=50_000_000,
    width_ns=Fraction(200),
    frequency_hz=Fraction(5000),
)
UNSTATED = pulsed_by_duty_cycle(
    wavelength_nm=Fraction(980), peak_power_uw=6_000_000, duty_cycle=Fraction(1, 2)
)


def page(*emitters: Emitter, beam_area_um2: int | None = 10**8) -> str:
    hazard = head_hazard(Head(emitters=emitters, beam_area_um2=beam_area_um2), exposure_s=10)
    return "\n".join(sheet(hazard, label="invented laser", laser_class="3B"))


def test_the_sheet_says_how_far_which_eyewear_what_to_cover_and_who_stays_out() -> None:
    text = page(S11)
    # Quadrature form by hand: sqrt(4 x 0.5 / (pi x 16.4437) - 0.005^2) / 0.2 = 0.9834 m; up: 1.0.
    assert "1.0 m in a straight line" in text
    assert "optical density 3 or more at 808 nm" in text
    assert "1.6 times the limit for the hand" in text  # 1.52034, test_hazard; up
    for word in ("mirrors", "Children, other pets", "dog's eyes", "Shut the door", "10 s"):
        assert word in text
    assert "invented laser, class 3B, 808 nm" in text


def test_of_the_two_forms_the_farther_distance_is_printed() -> None:
    # By hand, 0.5 W at 808 nm, 10 mm, 20 mrad: 4P/(pi MPE) = 0.0387151 m2. Linear
    # (0.196762 - 0.01)/0.02 = 9.338 m; quadrature sqrt(0.0387151 - 0.0001)/0.02 = 9.825 m; up: 9.9.
    wide = Emitter(
        wavelength_nm=Fraction(808),
        mean_power_uw=500_000,
        aperture_diameter_um=10_000,
        divergence_mrad=Fraction(20),
    )
    assert "9.9 m in a straight line" in page(wide)


def test_edition_and_scope_are_always_beside_the_numbers() -> None:
    for emitter in (S11, PULSED, UNSTATED):
        text = page(emitter)
        assert EDITION in text
        assert SCOPE in text


def test_it_fits_one_page() -> None:
    lines = page(S11, PULSED, UNSTATED).splitlines()
    wrapped = sum(max(1, -(-len(line) // 80)) for line in lines)
    assert wrapped <= 60


def test_invisible_light_is_said_to_be_invisible_and_visible_light_is_not() -> None:
    red = Emitter(wavelength_nm=Fraction(650), mean_power_uw=5_000)
    assert "dark is not off" in page(S11, red).split("How it was computed")[0]
    assert "dark is not off" not in page(red).split("How it was computed")[0]


def test_eyewear_must_hold_at_every_wavelength_of_the_head() -> None:
    assert "or more at 808 and 905 nm" in page(S11, PULSED)


def test_what_is_not_known_is_said() -> None:
    text = page(PULSED, UNSTATED, beam_area_um2=None)
    assert "no divergence is stated; take it as the whole room" in text
    assert "taken as continuous at the peak power" in text
    assert "no beam area is stated; keep fingers out" in text


def test_both_pulse_factors_are_told_where_they_differ_by_law() -> None:
    # S12: 0.4 (IEC 2014, R2) and 0.06687 (EU directive, R) at N = 50 000.
    text = page(PULSED)
    assert "50000 of them counted, factor 0.4: C_5 governs" in text
    assert "50000 of them counted, factor 0.0669: C_5 governs" in text


def test_a_harmless_beam_is_not_made_dangerous() -> None:
    weak = Emitter(
        wavelength_nm=Fraction(650),
        mean_power_uw=150,
        aperture_diameter_um=5_000,
        divergence_mrad=Fraction(200),
    )
    text = page(weak)
    assert "below the limit right at the head" in text
    assert "below the limit even with the whole beam in the eye" in text
    assert "below the limit for the hand" in text


@pytest.mark.parametrize("emitter", [S11, PULSED, UNSTATED], ids=["cw", "pulsed", "unstated"])
def test_the_json_keeps_to_its_schema(emitter: Emitter) -> None:
    data = to_json(head_hazard(Head(emitters=(emitter,)), exposure_s=10))
    TypeAdapter(SafetyJson).validate_python(data, strict=True)
    assert json.loads(json.dumps(data, allow_nan=False)) == data


def test_the_json_has_the_published_numbers_unrounded() -> None:
    data = to_json(head_hazard(Head(emitters=(S11,)), exposure_s=10))
    assert data["nohd_linear_m"] == pytest.approx(0.9588, rel=1e-3)  # S11
    assert data["emitters"][0]["eye_mpe_w_m2"] == pytest.approx(16.4437, rel=1e-5)  # S03
    assert data["emitters"][0]["pulses"] is None
    pulses = to_json(head_hazard(Head(emitters=(PULSED,)), exposure_s=10))["emitters"][0]["pulses"]
    assert pulses is not None
    assert pulses["single_pulse_j_m2"] == pytest.approx(5.1408e-3, rel=1e-4)  # S04
    assert pulses["c_5"] == pytest.approx(0.4)  # S12
    assert pulses["c_5_eu_2006"] == pytest.approx(0.06687, rel=1e-4)  # S12


def test_the_schema_in_the_project_is_the_one_of_the_code() -> None:
    text = (files("coach.dose") / "safety.schema.json").read_text(encoding="utf-8")
    assert json.loads(text) == TypeAdapter(SafetyJson).json_schema()
