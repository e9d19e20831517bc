"""Exposure limits against print, and the shape of every piecewise formula.

Status: R read in the source named; R2 read second-hand; C computed by hand from a formula that
is R or R2; M from memory.
"""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lasercalc import correction_factors as lasercalc_factors  # type: ignore[import-untyped]
from lasercalc import mpe_eye

from coach.dose.eu_limits import eye_mpe_eu
from coach.dose.limits import (
    EDITION,
    SCOPE,
    Limit,
    OutOfScope,
    c_3,
    c_5,
    c_5_eu_2006,
    c_a,
    c_c,
    eye_mpe,
    eye_mpe_pulsed,
    group_s,
    skin_mpe,
)

nir_nm = st.floats(min_value=700, max_value=1399)
any_nm = st.floats(min_value=400, max_value=1400)
eye_s = st.floats(min_value=1e-11, max_value=3e4)
skin_s = st.floats(min_value=1e-9, max_value=3e4)


# S01, R: 10^(0.002(lambda-700)); values worked out by hand from the formula.
@pytest.mark.parametrize(
    ("wavelength_nm", "expected"),
    [(808, 1.64437), (850, 1.99526), (905, 2.57040), (980, 3.63078)],
)
def test_s01_c_a(wavelength_nm: float, expected: float) -> None:
    assert c_a(wavelength_nm=wavelength_nm) == pytest.approx(expected, rel=1e-5)


def test_s02_eye_visible_quarter_second() -> None:
    # S02, R: IIT health-physics note (651 nm). 25.4558 W/m2, 6.364 J/m2.
    found = eye_mpe(wavelength_nm=650, exposure_s=0.25)
    assert found.irradiance_w_m2 == pytest.approx(25.4558, rel=1e-5)
    assert found.radiant_exposure_j_m2 == pytest.approx(6.364, rel=1e-4)


# S03, C: formula of the EU/Norwegian annex.
@pytest.mark.parametrize(
    ("wavelength_nm", "expected"),
    [(650, 10.0), (808, 16.4437), (905, 25.7040), (980, 36.3078)],
)
@pytest.mark.parametrize("exposure_s", [10, 100, 30_000])
def test_s03_eye_from_ten_seconds_on(
    wavelength_nm: float, expected: float, exposure_s: float
) -> None:
    found = eye_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
    assert found.irradiance_w_m2 == pytest.approx(expected, rel=1e-5)


def test_s04_eye_one_short_pulse() -> None:
    # S04, R2: IEC 60825-1:2014.
    found = eye_mpe(wavelength_nm=905, exposure_s=200e-9)
    assert found.radiant_exposure_j_m2 == pytest.approx(5.1408e-3, rel=1e-4)
    assert found.edition == EDITION


def test_s05_eye_blue_quarter_second() -> None:
    # S05, R: Macquarie University prints 0.64 mJ/cm2 and 2.55 mW/cm2.
    found = eye_mpe(wavelength_nm=488, exposure_s=0.25)
    assert found.radiant_exposure_j_m2 / 10 == pytest.approx(0.6364, rel=1e-4)
    assert found.irradiance_w_m2 / 10 == pytest.approx(2.5456, rel=1e-4)


def test_s06_skin_visible() -> None:
    # S06, R: formula; 200 mW/cm2 is printed for 633 nm.
    short = skin_mpe(wavelength_nm=650, exposure_s=0.25)
    assert short.radiant_exposure_j_m2 / 1e4 == pytest.approx(0.77782, rel=1e-4)
    for exposure_s in (10, 1000):
        long = skin_mpe(wavelength_nm=633, exposure_s=exposure_s)
        assert long.irradiance_w_m2 / 1e4 == pytest.approx(0.2, rel=1e-4)


# S07, R2/C: formula.
@pytest.mark.parametrize(
    ("wavelength_nm", "exposure_s", "expected_j_cm2"), [(808, 10, 3.2887), (905, 100, 51.4079)]
)
def test_s07_skin_infrared(wavelength_nm: float, exposure_s: float, expected_j_cm2: float) -> None:
    found = skin_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
    assert found.radiant_exposure_j_m2 / 1e4 == pytest.approx(expected_j_cm2, rel=1e-4)


def test_s12_c_5() -> None:
    # S12, R2 (IEC 2014) and R (EU directive).
    assert c_5(pulses=50_000, pulse_width_s=200e-9) == pytest.approx(0.4, rel=1e-4)
    assert c_5_eu_2006(pulses=50_000) == pytest.approx(0.06687, rel=1e-4)


# The published steps, worked out by hand from the two formulas that meet there.
# Eye, 5 us: 18 (5e-6)^0.75 / 2e-3 = 0.95166. Eye, 10 s: 10 x 10 / (18 x 10^0.75) = 0.98793.
# Eye from 1050 nm, 13 us: 90 (13e-6)^0.75 / 2e-2 = 0.97424. Skin, 10 s: 0.2 x 10 /
# (1.1 x 10^0.25) = 1.02243. Skin, 100 ns: 1.1 (1e-7)^0.25 / 0.02 = 0.97806.
@pytest.mark.parametrize(
    ("limit", "wavelength_nm", "at_s", "step"),
    [
        (eye_mpe, 650, 5e-6, 0.95166),
        (eye_mpe, 905, 5e-6, 0.95166),
        (eye_mpe, 1064, 13e-6, 0.97424),
        (eye_mpe, 650, 10, 0.98793),
        (eye_mpe, 905, 10, 0.98793),
        (eye_mpe, 1064, 10, 0.98793),
        (skin_mpe, 905, 1e-7, 0.97806),
        (skin_mpe, 905, 10, 1.02243),
    ],
)
def test_the_steps_in_time_are_the_published_ones(
    limit: Callable[..., Limit], wavelength_nm: float, at_s: float, step: float
) -> None:
    before = limit(wavelength_nm=wavelength_nm, exposure_s=math.nextafter(at_s, 0))
    at = limit(wavelength_nm=wavelength_nm, exposure_s=at_s)
    assert at.radiant_exposure_j_m2 / before.radiant_exposure_j_m2 == pytest.approx(step, rel=1e-4)


# C_A at 1050 nm: 5 / 10^0.7 = 0.99763. C_C at 1150 nm: none; at 1200 nm: 8 / 10^0.9 = 1.00715 (M).
@pytest.mark.parametrize(
    ("factor", "at_nm", "step"),
    [(c_a, 700, 1.0), (c_a, 1050, 0.99763), (c_c, 1150, 1.0), (c_c, 1200, 1.00715)],
)
def test_the_steps_of_the_factors(factor: Callable[..., float], at_nm: float, step: float) -> None:
    before = factor(wavelength_nm=math.nextafter(at_nm, 0))
    at = factor(wavelength_nm=at_nm)
    after = factor(wavelength_nm=math.nextafter(at_nm, 2000))
    assert after / before == pytest.approx(step, rel=1e-5)
    assert at in (pytest.approx(before, rel=1e-9), pytest.approx(after, rel=1e-9))


def test_the_photochemical_limit_joins_without_a_step() -> None:
    # C_3 (M): 1 up to 450 nm, then tenfold every 50 nm; 100 C_3 J/m2 becomes 1 C_3 W/m2 at 100 s.
    assert c_3(wavelength_nm=450) == c_3(wavelength_nm=400) == 1
    assert c_3(wavelength_nm=450.5) == pytest.approx(10**0.01)
    assert c_3(wavelength_nm=500) == pytest.approx(10)
    assert c_3(wavelength_nm=600) == pytest.approx(1000)
    just_before = eye_mpe(wavelength_nm=450, exposure_s=99.999)
    assert just_before.irradiance_w_m2 == pytest.approx(1, rel=1e-4)
    assert eye_mpe(wavelength_nm=450, exposure_s=100).irradiance_w_m2 == 1
    assert eye_mpe(wavelength_nm=450, exposure_s=10_000).irradiance_w_m2 == 1
    # From 600 nm on it is far above the thermal one and no longer asked for.
    assert eye_mpe(wavelength_nm=599.99, exposure_s=1000).irradiance_w_m2 == 10


# Between boundaries the curves are smooth: 0.1 % in time or wavelength moves them by little.
@given(wavelength_nm=any_nm, exposure_s=eye_s)
def test_the_eye_limit_as_irradiance_never_rises_with_time(
    wavelength_nm: float, exposure_s: float
) -> None:
    longer = min(exposure_s * 1.001, 3e4)
    now = eye_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
    later = eye_mpe(wavelength_nm=wavelength_nm, exposure_s=longer)
    assert later.irradiance_w_m2 <= now.irradiance_w_m2 * (1 + 1e-12)
    # The widest published step down is the 4.9 % at 5 us.
    assert later.radiant_exposure_j_m2 >= now.radiant_exposure_j_m2 * 0.9516


@given(wavelength_nm=any_nm, exposure_s=skin_s)
def test_the_skin_limit_as_a_dose_never_falls_with_time_but_for_the_step(
    wavelength_nm: float, exposure_s: float
) -> None:
    longer = min(exposure_s * 1.001, 3e4)
    now = skin_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
    later = skin_mpe(wavelength_nm=wavelength_nm, exposure_s=longer)
    assert later.radiant_exposure_j_m2 >= now.radiant_exposure_j_m2 * 0.978
    assert later.irradiance_w_m2 <= now.irradiance_w_m2 * 1.0225


@given(wavelength_nm=st.floats(600, 1399.9), step_nm=st.floats(0, 0.1), exposure_s=eye_s)
def test_longer_waves_are_allowed_more(
    wavelength_nm: float, step_nm: float, exposure_s: float
) -> None:
    now = eye_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s).irradiance_w_m2
    next_ = eye_mpe(wavelength_nm=wavelength_nm + step_nm, exposure_s=exposure_s).irradiance_w_m2
    # but for the 0.24 % at 1050 nm
    assert next_ >= now * 0.9976
    assert skin_mpe(
        wavelength_nm=wavelength_nm + step_nm, exposure_s=1
    ).irradiance_w_m2 >= 0.9976 * (
        skin_mpe(wavelength_nm=wavelength_nm, exposure_s=1).irradiance_w_m2
    )


@given(wavelength_nm=any_nm, exposure_s=skin_s)
def test_irradiance_times_time_is_the_radiant_exposure(
    wavelength_nm: float, exposure_s: float
) -> None:
    # Dimensions: W/m2 x s = J/m2.
    for limit in (eye_mpe, skin_mpe):
        found = limit(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
        product = found.irradiance_w_m2 * found.exposure_s
        assert product == pytest.approx(found.radiant_exposure_j_m2, rel=1e-12)


# lasercalc is an independent library for laser safety in general. Where it is right, it must
# agree to all digits: one continuous exposure of an eye, point source, above its pulse plateau
# (5e-5 s; visible 1.8e-5 s), up to 100 s below 600 nm.
@pytest.mark.parametrize("exposure_s", [5e-5, 1e-3, 0.25, 1, 9.99, 10, 30, 100, 3e4])
@pytest.mark.parametrize(
    "wavelength_nm", [400, 450, 488, 532, 599, 600, 633, 650, 699, 700, 780, 808, 810, 850, 904,
                      905, 980, 1049, 1064, 1150, 1175, 1200, 1320, 1399]
)  # fmt: skip
def test_lasercalc_agrees_on_continuous_exposure_of_an_eye(
    wavelength_nm: float, exposure_s: float
) -> None:
    if wavelength_nm < 600 and exposure_s > 100:
        # There lasercalc lets the photochemical limit fall on to 10 000 s; ours stays at the
        # 1 C_3 W/m2 of the table (M), at most the thermal limit.
        expected = min(10.0, lasercalc_factors.c3(wavelength_nm))
    else:
        expected = mpe_eye(wavelength_nm, exposure_s).irradiance_w_m2
    found = eye_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
    assert found.irradiance_w_m2 == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("exposure_s", [100e-9, 200e-9])
def test_lasercalc_is_too_high_for_short_pulses(exposure_s: float) -> None:
    # It keeps the 5e-3 J/m2 plateau of an older edition; the 2014 edition has 2e-3 (R2), S04.
    theirs = mpe_eye(905, exposure_s).radiant_exposure_j_m2
    ours = eye_mpe(wavelength_nm=905, exposure_s=exposure_s).radiant_exposure_j_m2
    assert ours == pytest.approx(5.1408e-3, rel=1e-4)
    assert theirs / ours == pytest.approx(2.5, rel=1e-9)


@pytest.mark.parametrize("pulses", [1, 600, 626, 5_000, 24_414, 50_000, 10**7])
def test_lasercalc_agrees_on_c_5(pulses: int) -> None:
    expected = lasercalc_factors.c5(pulses, 200e-9, 1.5)
    assert c_5(pulses=pulses, pulse_width_s=200e-9) == pytest.approx(expected, rel=1e-12)


def test_c_5_never_makes_a_limit_higher() -> None:
    # 5 x 601^-0.25 = 1.0099: the bare formula would.
    assert c_5(pulses=601, pulse_width_s=1e-6) == 1
    assert c_5(pulses=625, pulse_width_s=1e-6) == pytest.approx(1)


@given(pulses=st.integers(1, 10**8), width_s=st.floats(1e-10, 1e-1))
def test_c_5_falls_with_the_number_and_stays_between_its_bounds(
    pulses: int, width_s: float
) -> None:
    now = c_5(pulses=pulses, pulse_width_s=width_s)
    assert 0.4 <= c_5(pulses=pulses + 1, pulse_width_s=width_s) <= now <= 1
    assert c_5_eu_2006(pulses=pulses) <= now


def test_the_pulse_rule_that_is_lowest_governs() -> None:
    # Worked out by hand, 905 nm, 200 ns, 5 kHz, 10 s. One pulse 5.1408e-3 J/m2 (S04), so
    # x 5000/s = 25.704 W/m2; N = 50 000, C_5 = 0.4 (S12): 10.2816 W/m2; mean 25.7040 W/m2 (S03).
    found = eye_mpe_pulsed(
        wavelength_nm=905, pulse_width_s=200e-9, frequency_hz=5000, exposure_s=10
    )
    assert found.pulses == 50_000
    assert found.c5 == 0.4
    assert found.single_pulse_w_m2 == pytest.approx(25.704, rel=1e-4)
    assert found.mean_w_m2 == pytest.approx(25.7040, rel=1e-5)
    assert found.train_w_m2 == pytest.approx(10.2816, rel=1e-4)
    assert found.irradiance_w_m2 == found.train_w_m2
    assert found.governing == "C_5"


def test_fast_pulses_are_governed_by_their_mean() -> None:
    # 905 nm, 200 ns, 50 kHz: 5.1408e-3 x 50 000 x 0.4 = 102.8 W/m2, above the mean's 25.7040.
    found = eye_mpe_pulsed(
        wavelength_nm=905, pulse_width_s=200e-9, frequency_hz=50_000, exposure_s=10
    )
    assert found.governing == "mean power"
    assert found.irradiance_w_m2 == pytest.approx(25.7040, rel=1e-5)


def test_rare_pulses_are_governed_by_the_single_pulse() -> None:
    # 905 nm, 200 ns, 1 Hz, 10 s: ten pulses of 5.1408e-3 J/m2 (S04), 5.1408e-3 W/m2 in the mean.
    found = eye_mpe_pulsed(wavelength_nm=905, pulse_width_s=200e-9, frequency_hz=1, exposure_s=10)
    assert found.pulses == 10
    assert found.governing == "single pulse"
    assert found.irradiance_w_m2 == pytest.approx(5.1408e-3, rel=1e-4)


def test_pulses_within_five_microseconds_count_as_one() -> None:
    # M. 1 MHz: five pulses in 5 us share the limit of one 5 us exposure.
    found = eye_mpe_pulsed(wavelength_nm=905, pulse_width_s=100e-9, frequency_hz=1e6, exposure_s=1)
    assert found.pulses_in_group == 5
    assert found.pulses == 200_000
    one = eye_mpe(wavelength_nm=905, exposure_s=5e-6).radiant_exposure_j_m2
    assert found.single_pulse_w_m2 == pytest.approx(one * 200_000, rel=1e-9)


def test_from_1050_nm_on_thirteen_microseconds_count_as_one() -> None:
    # 5 us (R2), 13 us from 1050 nm (M).
    assert group_s(wavelength_nm=1049.9) == 5e-6
    assert group_s(wavelength_nm=1050) == group_s(wavelength_nm=1050.5) == 13e-6


def test_pulses_after_ten_seconds_do_not_count_for_a_point_source() -> None:
    # M: T_2 = 10 s.
    ten, hundred = (
        eye_mpe_pulsed(wavelength_nm=905, pulse_width_s=2e-7, frequency_hz=100, exposure_s=t)
        for t in (10, 100)
    )
    assert ten.pulses == hundred.pulses == 1000


@given(
    wavelength_nm=st.floats(600, 1400),
    width_s=st.floats(1e-9, 1e-1),
    share=st.floats(1e-6, 1),
)
def test_no_pulse_rule_undercuts_a_continuous_beam_at_the_peak_power(
    wavelength_nm: float, width_s: float, share: float
) -> None:
    frequency_hz = share / width_s
    if frequency_hz * 10 < 1:
        return
    pulsed = eye_mpe_pulsed(
        wavelength_nm=wavelength_nm,
        pulse_width_s=width_s,
        frequency_hz=frequency_hz,
        exposure_s=10,
    )
    steady = eye_mpe(wavelength_nm=wavelength_nm, exposure_s=10).irradiance_w_m2
    # Mean allowed by the rules, as a peak; the rounding up of counts costs a group at most.
    assert pulsed.irradiance_w_m2 / share >= steady * (1 - 1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: eye_mpe(wavelength_nm=399, exposure_s=1),
        lambda: eye_mpe(wavelength_nm=10_600, exposure_s=1),
        lambda: eye_mpe(wavelength_nm=808, exposure_s=1e-13),
        lambda: eye_mpe(wavelength_nm=808, exposure_s=1e5),
        lambda: eye_mpe(wavelength_nm=808, exposure_s=math.nan),
        lambda: eye_mpe(wavelength_nm=math.nan, exposure_s=1),
        lambda: skin_mpe(wavelength_nm=808, exposure_s=1e-10),
        lambda: c_3(wavelength_nm=600.5),
        lambda: c_5(pulses=0, pulse_width_s=1e-7),
        lambda: c_5_eu_2006(pulses=0),
        lambda: eye_mpe_pulsed(
            wavelength_nm=905, pulse_width_s=1e-2, frequency_hz=200, exposure_s=10
        ),
        lambda: eye_mpe_pulsed(
            wavelength_nm=905, pulse_width_s=1e-2, frequency_hz=0, exposure_s=10
        ),
    ],
)
def test_outside_what_is_held_nothing_is_made_up(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfScope, match=r"held|at least 1|overlap"):
        call()


def test_the_limits_are_held_up_to_both_their_ends() -> None:
    # 10 C_A C_C = 10 x 5 x 8 W/m2 at 1400 nm (C_C read); 10 W/m2 in the visible.
    assert eye_mpe(wavelength_nm=1400, exposure_s=10).irradiance_w_m2 == pytest.approx(400)
    assert skin_mpe(wavelength_nm=400, exposure_s=10).irradiance_w_m2 == pytest.approx(2000)


# How many branches of the limits nobody has seen in print; it may only fall.
FROM_MEMORY = 0


def test_no_more_limits_are_from_memory_than_there_were(
    capsys: pytest.CaptureFixture[str],
) -> None:
    waves = (400, 450, 500, 599, 650, 700, 808, 905, 1049, 1050, 1064, 1151, 1250, 1400)
    times = (1e-11, 2e-10, 1e-8, 1e-6, 1.5e-5, 4e-5, 1e-3, 1, 10, 50, 100, 3e4)
    found = {}
    for wave in waves:
        for seconds in times:
            for limit in (eye_mpe, eye_mpe_eu, skin_mpe):
                if limit is not skin_mpe or seconds >= 1e-9:
                    one = limit(wavelength_nm=wave, exposure_s=seconds)
                    found[limit.__name__, one.rule] = one.status
    remembered = [rule for rule, status in found.items() if status == "memory"]
    with capsys.disabled():
        print(f"\nbranches of the limits from memory: {len(remembered)} of {len(found)}")
    assert len(found) > 15
    assert len(remembered) <= FROM_MEMORY, remembered


def test_the_scope_is_stated() -> None:
    for word in ("not for the treatment itself", "set for people", "Local rules", "adviser"):
        assert word in SCOPE
