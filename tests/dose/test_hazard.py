"""Hazard distance, eyewear and skin, for single emitters and whole heads."""

import datetime
import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lasercalc import EmissionMode, LaserSource, nohd  # type: ignore[import-untyped]

from coach.dose.beam import Emitter, Head, OutputCheck
from coach.dose.distance import NohdForm, nohd_m
from coach.dose.hazard import (
    NO_DIAMETER,
    default_exposure_s,
    head_hazard,
    in_pupil_w_m2,
    required_od,
)
from coach.dose.limits import EDITION, SCOPE, eye_mpe
from coach.dose.quantity import parse
from tests.dose.emitters import pulsed_by_duty_cycle, pulsed_by_width

FORMS: list[NohdForm] = ["linear", "quadrature"]


def contact_emitter(
    wavelength_nm: int = 808, power_uw: int = 500_000, divergence_mrad: int | None = 200
) -> Emitter:
    """The emitter of S11: 0.5 W, 5 mm, 0.2 rad."""
    return Emitter(
        wavelength_nm=Fraction(wavelength_nm),
        mean_power_uw=power_uw,
        aperture_diameter_um=5_000,
        divergence_mrad=None if divergence_mrad is None else Fraction(divergence_mrad),
    )


def test_s09_required_optical_density() -> None:
    # S09, R: Macquarie University. 3.8 W/cm2 against 2.55 mW/cm2: 3.173 (printed 3.2).
    found = required_od(irradiance_w_m2=3.8e4, mpe_w_m2=25.5)
    assert found == pytest.approx(3.173, abs=0.01)


def test_s10_hazard_distance_of_a_narrow_beam() -> None:
    # S10, R: laser-safety textbook example, 1 W, 1 mrad, 25 W/m2, printed 225 m.
    for form in FORMS:
        found = nohd_m(power_w=1, mpe_w_m2=25, divergence_rad=1e-3, form=form)
        assert found == pytest.approx(225, rel=5e-3)
        assert found == pytest.approx(225.68, rel=1e-4)


def test_s11_hazard_distance_of_a_contact_head() -> None:
    # S11, C: lasercalc, and by hand. 808 nm, 0.5 W, 5 mm, 0.2 rad, 10 s: 0.9588 m. In quadrature
    # sqrt(0.196763^2 - 0.005^2) / 0.2 = 0.9835 m.
    found = head_hazard(Head(emitters=(contact_emitter(),)), exposure_s=10)
    for one in (found, found.emitters[0]):
        assert one.eye.nohd_linear_m == pytest.approx(0.9588, rel=1e-3)
        assert one.eye.nohd_quadrature_m == pytest.approx(0.9835, rel=1e-4)


def test_a_hazard_distance_is_the_linear_one_unless_asked_otherwise() -> None:
    # By hand: sqrt(4 x 1 / (pi 25)) = 0.225676 m, less 0.1 m, by 1 mrad.
    found = nohd_m(power_w=1, mpe_w_m2=25, divergence_rad=1e-3, aperture_diameter_m=0.1)
    assert found == pytest.approx(125.676, rel=1e-5)


@pytest.mark.parametrize(
    ("parts", "expected_m"),
    [
        # (W, mrad) at 808 nm, 16.4437 W/m2 (S03). From a point the beam is (phi z) wide, so the
        # shares of the limit add up to sum(4 P / (pi MPE phi^2)) / z^2, in either form.
        ([(0.5, 200)], 0.983808),
        ([(0.5, 200), (0.1, 50)], 2.016206),
        ([(30.0, 1500), (20.0, 900)], 1.715884),
    ],
)
def test_a_head_of_points_that_widen_differently(
    parts: list[tuple[float, int]], expected_m: float
) -> None:
    emitters = tuple(
        Emitter(
            wavelength_nm=Fraction(808),
            mean_power_uw=round(power_w * 1e6),
            divergence_mrad=Fraction(mrad),
        )
        for power_w, mrad in parts
    )
    found = head_hazard(Head(emitters=emitters), exposure_s=10)
    assert found.eye.nohd_linear_m == pytest.approx(expected_m, rel=1e-5)
    assert found.eye.nohd_quadrature_m == pytest.approx(expected_m, rel=1e-5)
    assert all(NO_DIAMETER in one.notes for one in found.emitters)


@pytest.mark.parametrize(
    ("in_contact", "off_the_skin", "gain"),
    [("13.00 mW", "3.47 mW", 3.75), ("1.46 mW", "0.35 mW", 4.17)],
)
def test_s13_contact_gain(in_contact: str, off_the_skin: str, gain: float) -> None:
    # S13, R: Hoisang 2022, power under a dog's skin in contact and 1 cm off it. Why spots are
    # given in contact; no formula of ours uses it, so only reading the powers is at stake.
    ratio = parse("mean_power_mw", in_contact) / parse("mean_power_mw", off_the_skin)
    assert float(ratio) == pytest.approx(gain, rel=1e-2)


# lasercalc is the referee in its scope: continuous, point source, linear form.
@pytest.mark.parametrize("wavelength_nm", [650, 808, 905, 980, 1064])
@pytest.mark.parametrize("power_w", [0.005, 0.1, 0.5, 4])
@pytest.mark.parametrize(("diameter_mm", "divergence_mrad"), [(1, 1), (5, 200), (10, 900)])
def test_lasercalc_agrees_on_the_linear_hazard_distance(
    wavelength_nm: int, power_w: float, diameter_mm: int, divergence_mrad: int
) -> None:
    source = LaserSource(
        wavelength_nm=wavelength_nm,
        mode=EmissionMode.CW,
        power_w=power_w,
        beam_diameter_m=diameter_mm * 1e-3,
        divergence_rad=divergence_mrad * 1e-3,
    )
    emitter = Emitter(
        wavelength_nm=Fraction(wavelength_nm),
        mean_power_uw=round(power_w * 1e6),
        aperture_diameter_um=diameter_mm * 1000,
        divergence_mrad=Fraction(divergence_mrad),
    )
    found = head_hazard(Head(emitters=(emitter,)), exposure_s=10)
    expected = nohd(source, 10).nohd_m
    assert found.emitters[0].eye.nohd_linear_m == pytest.approx(expected, rel=1e-9, abs=1e-12)
    assert found.eye.nohd_linear_m == pytest.approx(expected, rel=1e-9, abs=1e-12)


@given(
    power_w=st.floats(1e-3, 100),
    mpe_w_m2=st.floats(1, 500),
    divergence_rad=st.floats(1e-3, 1.5),
    diameter_m=st.floats(0, 0.05),
)
def test_the_two_forms_differ_by_at_most_diameter_over_divergence(
    power_w: float, mpe_w_m2: float, divergence_rad: float, diameter_m: float
) -> None:
    linear, quadrature = (
        nohd_m(
            power_w=power_w,
            mpe_w_m2=mpe_w_m2,
            divergence_rad=divergence_rad,
            aperture_diameter_m=diameter_m,
            form=form,
        )
        for form in FORMS
    )
    assert linear <= quadrature * (1 + 1e-12)
    # A float's last digits of the distance, where the diameter is next to nothing.
    assert quadrature - linear <= diameter_m / divergence_rad + 1e-12 * quadrature


@given(power_w=st.floats(1e-3, 100), diameter_m=st.floats(0, 0.02), form=st.sampled_from(FORMS))
def test_at_the_hazard_distance_the_beam_is_at_the_limit(
    power_w: float, diameter_m: float, form: NohdForm
) -> None:
    # Round trip through geometry: area of the widened beam, then power / area = limit.
    mpe_w_m2, divergence_rad = 16.4437, 0.2
    distance_m = nohd_m(
        power_w=power_w,
        mpe_w_m2=mpe_w_m2,
        divergence_rad=divergence_rad,
        aperture_diameter_m=diameter_m,
        form=form,
    )
    spread_m = divergence_rad * distance_m
    wide_m = diameter_m + spread_m if form == "linear" else math.hypot(diameter_m, spread_m)
    irradiance = power_w / (math.pi * wide_m**2 / 4) if wide_m else math.inf
    if distance_m > 0:
        assert irradiance == pytest.approx(mpe_w_m2, rel=1e-6)
    else:
        assert irradiance <= mpe_w_m2 * (1 + 1e-9)


def test_the_worst_case_for_eyewear_is_the_whole_beam_in_the_pupil() -> None:
    # 0.5 W over the 7 mm pupil, pi (3.5e-3)^2 = 3.84845e-5 m2: 12 992.2 W/m2; / 16.4437: OD 2.8977.
    assert in_pupil_w_m2(power_w=0.5) == pytest.approx(12_992.2, rel=1e-4)
    found = head_hazard(Head(emitters=(contact_emitter(),)), exposure_s=10)
    assert found.eye.required_od == pytest.approx(2.8977, abs=1e-3)


def test_a_weak_beam_needs_no_eyewear_and_has_no_hazard_distance() -> None:
    # 0.15 mW at 650 nm: 7.64 W/m2 over its 5 mm, 3.90 W/m2 in the pupil, both below 10 W/m2.
    found = head_hazard(Head(emitters=(contact_emitter(650, 150),)), exposure_s=10)
    assert found.eye.required_od == 0
    assert found.eye.nohd_linear_m == 0


def test_two_equal_emitters_are_as_one_of_twice_the_power() -> None:
    twice = head_hazard(Head(emitters=(contact_emitter(), contact_emitter())), exposure_s=10)
    once = head_hazard(Head(emitters=(contact_emitter(power_uw=1_000_000),)), exposure_s=10)
    assert twice.eye.nohd_linear_m is not None
    assert twice.eye.nohd_quadrature_m is not None
    assert twice.eye.nohd_linear_m == pytest.approx(once.eye.nohd_linear_m, rel=1e-9)
    assert twice.eye.nohd_quadrature_m == pytest.approx(once.eye.nohd_quadrature_m, rel=1e-9)
    assert twice.eye.required_od == pytest.approx(once.eye.required_od, rel=1e-9)


@given(
    st.lists(
        st.tuples(
            st.sampled_from([450, 650, 808, 905, 980]),
            st.integers(100, 5_000_000),
            st.integers(1, 1500),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_a_whole_head_is_worse_than_each_of_its_emitters(
    parts: list[tuple[int, int, int]],
) -> None:
    emitters = tuple(contact_emitter(nm, uw, mrad) for nm, uw, mrad in parts)
    found = head_hazard(Head(emitters=emitters, beam_area_um2=10**8))
    assert found.eye.nohd_linear_m is not None
    assert found.eye.nohd_quadrature_m is not None
    assert found.skin_ratio is not None
    slack = 1e-9
    for one in found.emitters:
        assert one.eye.nohd_linear_m is not None
        assert one.eye.nohd_quadrature_m is not None
        assert one.skin_ratio is not None
        assert found.eye.nohd_linear_m >= one.eye.nohd_linear_m * (1 - slack)
        assert found.eye.nohd_quadrature_m >= one.eye.nohd_quadrature_m * (1 - slack)
        assert found.eye.required_od >= one.eye.required_od - slack
        assert found.skin_ratio >= one.skin_ratio
    if found.eye.required_od == 0:
        assert (found.eye.nohd_linear_m, found.eye.nohd_quadrature_m) == (0, 0)
        return
    # At the distances found, the shares of the limits add up to one, or at the head to less.
    for distance_m, wide in (
        (found.eye.nohd_linear_m, lambda spread_m: 0.005 + spread_m),
        (found.eye.nohd_quadrature_m, lambda spread_m: math.hypot(0.005, spread_m)),
    ):
        shares = sum(
            one.power_w / (math.pi * wide(mrad * 1e-3 * distance_m) ** 2 / 4) / one.eye.mpe_w_m2
            for one, (_, _, mrad) in zip(found.emitters, parts, strict=True)
        )
        assert shares <= 1 + 1e-6
        assert distance_m == 0 or shares >= 1 - 1e-6


def test_without_a_divergence_no_distance_is_made_up() -> None:
    found = head_hazard(
        Head(emitters=(contact_emitter(), contact_emitter(divergence_mrad=None))), exposure_s=10
    )
    assert found.eye.nohd_linear_m is None
    assert found.eye.nohd_quadrature_m is None
    assert found.emitters[0].eye.nohd_linear_m is not None
    assert any("whole room" in note for note in found.emitters[1].notes)


def test_the_measured_output_is_what_hurts() -> None:

    check = OutputCheck(power_uw=1_000_000, on=datetime.date(2026, 11, 1))
    doubled = head_hazard(Head(emitters=(contact_emitter(),), checked=check), exposure_s=10)
    stated = head_hazard(Head(emitters=(contact_emitter(power_uw=1_000_000),)), exposure_s=10)
    assert doubled.eye.required_od == pytest.approx(stated.eye.required_od)


def test_nanosecond_pulses_are_held_to_the_lowest_pulse_rule() -> None:
    # 905 nm, 200 ns, 5 kHz: the C_5 rule allows 10.2816 W/m2 in the mean (see test_limits).
    emitter = pulsed_by_width(
        wavelength_nm=Fraction(905),
        peak_power_uw=50_000_000,
        width_ns=Fraction(200),
        frequency_hz=Fraction(5000),
    )
    (found,) = head_hazard(Head(emitters=(emitter,)), exposure_s=10).emitters
    # 50 W x 200 ns x 5 kHz = 50 mW.
    assert found.power_w == pytest.approx(0.05)
    assert found.eye.mpe_w_m2 == pytest.approx(10.2816, rel=1e-4)
    assert found.eye.pulsed is not None
    assert "C_5" in found.eye.rule
    # 0.05 W in the pupil 1299.2 W/m2; log10(1299.2/10.2816) = 2.1016.
    assert found.eye.required_od == pytest.approx(2.1016, abs=1e-3)


def test_unstated_pulses_are_taken_as_continuous_at_the_peak() -> None:
    emitter = pulsed_by_duty_cycle(
        wavelength_nm=Fraction(980), peak_power_uw=6_000_000, duty_cycle=Fraction(1, 2)
    )
    (found,) = head_hazard(Head(emitters=(emitter,)), exposure_s=10).emitters
    assert found.power_w == pytest.approx(6)
    assert found.eye.mpe_w_m2 == pytest.approx(36.3078, rel=1e-5)  # S03
    assert any("peak power" in note for note in found.notes)
    # A meter that shows 4 W where 3 W mean are stated: a third more of the peak too. One that
    # shows less takes nothing off it.
    for measured_uw, peak_w in ((4_000_000, 8), (2_000_000, 6)):
        check = OutputCheck(power_uw=measured_uw, on=datetime.date(2026, 11, 1))
        (checked,) = head_hazard(Head(emitters=(emitter,), checked=check), exposure_s=10).emitters
        assert checked.power_w == pytest.approx(peak_w)


def test_fast_pulses_are_told_by_the_rule_of_the_mean() -> None:
    # 905 nm, 200 ns, 50 kHz: the mean governs (see test_limits), 10 C_A C_C W/m2 (S03).
    emitter = pulsed_by_width(
        wavelength_nm=Fraction(905),
        peak_power_uw=50_000_000,
        width_ns=Fraction(200),
        frequency_hz=Fraction(50_000),
    )
    (found,) = head_hazard(Head(emitters=(emitter,)), exposure_s=10).emitters
    steady = eye_mpe(wavelength_nm=905, exposure_s=10)
    assert (found.eye.rule, found.eye.status) == (steady.rule, steady.status)


def test_skin_is_compared_over_the_beam_or_the_aperture_of_the_limit() -> None:
    # S06: 0.2 W/cm2 times C_A 1.64437 (S01) at 808 nm = 0.328874 W/cm2. 0.5 W over 1 cm2: 1.52034.
    wide = head_hazard(Head(emitters=(contact_emitter(),), beam_area_um2=10**8), exposure_s=10)
    assert wide.skin_ratio == pytest.approx(1.52034, rel=1e-4)
    # Over 0.01 cm2 the 3.5 mm aperture, 0.0962113 cm2, averages: 15.8021.
    narrow = head_hazard(Head(emitters=(contact_emitter(),), beam_area_um2=10**6), exposure_s=10)
    assert narrow.skin_ratio == pytest.approx(15.8021, rel=1e-4)
    unknown = head_hazard(Head(emitters=(contact_emitter(),)), exposure_s=10)
    assert unknown.skin_ratio is None


@pytest.mark.parametrize(("frequency_hz", "expected"), [(1, 597.929), (2, 1195.858), (10, 5140.8)])
def test_rare_strong_pulses_are_held_to_the_single_pulse_rule_of_skin(
    frequency_hz: int, expected: float
) -> None:
    # 905 nm, 200 ns: 1.1 x 2.57040 x (2e-7)^0.25 = 0.0597929 J/cm2 a pulse, so many a second; the
    # mean rule's 0.51408 W/cm2 is the lower one from nine a second on.
    emitter = pulsed_by_width(
        wavelength_nm=Fraction(905),
        peak_power_uw=50_000_000,
        width_ns=Fraction(200),
        frequency_hz=Fraction(frequency_hz),
    )
    (found,) = head_hazard(Head(emitters=(emitter,)), exposure_s=10).emitters
    assert found.skin_mpe_w_m2 == pytest.approx(expected, rel=1e-4)


def test_nobody_is_trusted_to_look_away() -> None:
    assert default_exposure_s(wavelength_nm=650) == 10
    assert default_exposure_s(wavelength_nm=905) == 10
    assert default_exposure_s(wavelength_nm=450) == 100
    # "below 600 nm 100 s": the photochemical limit is held up to there (M).
    assert default_exposure_s(wavelength_nm=599.9) == 100
    assert default_exposure_s(wavelength_nm=600) == 10
    mixed = head_hazard(Head(emitters=(contact_emitter(808), contact_emitter(450))))
    assert {one.exposure_s for one in mixed.emitters} == {100}
    assert mixed.emitters[1].eye.mpe_w_m2 == pytest.approx(
        eye_mpe(wavelength_nm=450, exposure_s=100).irradiance_w_m2
    )


def test_edition_and_scope_come_with_every_result() -> None:
    found = head_hazard(Head(emitters=(contact_emitter(),)))
    assert found.edition == EDITION == "ICNIRP 2013 / IEC 60825-1:2014"
    assert found.scope == SCOPE


@pytest.mark.parametrize(
    ("power_w", "mpe_w_m2", "divergence_rad", "diameter_m"),
    [(0, 25, 1e-3, 0), (1, 0, 1e-3, 0), (1, 25, 0, 0), (1, 25, -1, 0), (1, 25, 1e-3, -1)],
)
def test_a_distance_needs_real_numbers(
    power_w: float, mpe_w_m2: float, divergence_rad: float, diameter_m: float
) -> None:
    with pytest.raises(ValueError, match="more than zero"):
        nohd_m(
            power_w=power_w,
            mpe_w_m2=mpe_w_m2,
            divergence_rad=divergence_rad,
            aperture_diameter_m=diameter_m,
        )


def test_an_optical_density_needs_real_numbers() -> None:
    with pytest.raises(ValueError, match="more than zero"):
        required_od(irradiance_w_m2=0, mpe_w_m2=10)
