"""The eye limits of directive 2006/25/EC, annex II, typed from a transposition.

French labour code, annex II to articles R. 4452-5 and R. 4452-6, tables 2.2, 2.5 and 2.6 (read in
the published text); from 10 s on table 4.3 of the Norwegian regulation (read). C_E is 1: a point.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.dose.eu_limits import EDITION, c_p, eye_mpe_eu, eye_mpe_pulsed_eu, t_min_s
from coach.dose.limits import EDITION as IEC
from coach.dose.limits import OutOfScope, c_a, c_c, c_c_2014, eye_mpe, eye_mpe_pulsed, skin_mpe

# Table 2.2, visible and IRA: nm, s, J/m2 without C_A or C_C, the factor that stands beside it.
TABLE_2_2 = [
    (650, 5e-10, 2.7e4 * (5e-10) ** 0.75, ""),
    (650, 1e-9, 5e-3, ""),
    (650, 1.7e-5, 5e-3, ""),
    (650, 1.8e-5, 18 * (1.8e-5) ** 0.75, ""),
    (650, 9.9, 18 * 9.9**0.75, ""),
    (905, 5e-10, 2.7e4 * (5e-10) ** 0.75, "C_A"),
    (905, 1e-9, 5e-3, "C_A"),
    (905, 1.7e-5, 5e-3, "C_A"),
    (905, 1.8e-5, 18 * (1.8e-5) ** 0.75, "C_A"),
    (905, 9.9, 18 * 9.9**0.75, "C_A"),
    (1064, 5e-10, 2.7e5 * (5e-10) ** 0.75, "C_C"),
    (1064, 1e-9, 5e-2, "C_C"),
    (1064, 4.9e-5, 5e-2, "C_C"),
    (1064, 5e-5, 90 * (5e-5) ** 0.75, "C_C"),
    (1064, 9.9, 90 * 9.9**0.75, "C_C"),
    (1180, 1e-6, 5e-2, "C_C"),
    (1300, 1e-6, 5e-2, "C_C"),
]


@pytest.mark.parametrize(("wave", "seconds", "j_m2", "beside"), TABLE_2_2)
def test_short_exposures_are_as_printed(
    wave: float, seconds: float, j_m2: float, beside: str
) -> None:
    factor = {"": 1.0, "C_A": c_a(wavelength_nm=wave), "C_C": c_c(wavelength_nm=wave)}[beside]
    found = eye_mpe_eu(wavelength_nm=wave, exposure_s=seconds)
    assert found.radiant_exposure_j_m2 == pytest.approx(j_m2 * factor, rel=1e-9)
    assert (found.status, found.edition, found.aperture_mm) == ("read", EDITION, 7.0)


# Table 2.5: C_A 1, 10^(0.002(nm-700)), 5; C_C 1, 10^(0.018(nm-1150)), 8. C_B 10^(0.02(nm-450)).
@pytest.mark.parametrize(
    ("wave", "factor_a", "factor_c"),
    [(650, 1, 1), (700, 1, 1), (1000, 10**0.6, 1), (1064, 5, 1), (1175, 5, 10**0.45), (1300, 5, 8)],
)
def test_the_factors_are_as_printed(wave: float, factor_a: float, factor_c: float) -> None:
    assert c_a(wavelength_nm=wave) == pytest.approx(factor_a)
    assert c_c(wavelength_nm=wave) == pytest.approx(factor_c)


# Table 2.3: 10·C_A·C_C W/m2 from 700 nm, 10 W/m2 below; below 600 nm 100·C_B J/m2 up to 100 s and
# 1·C_B W/m2 after.
@pytest.mark.parametrize(
    ("wave", "seconds", "w_m2"),
    [
        (650, 10, 10),
        (808, 100, 16.4437),
        (1064, 10, 50),
        (1300, 3e4, 400),
        (450, 50, 2),
        (450, 100, 1),
        (470, 1e4, 10**0.4),
    ],
)
def test_long_exposures_are_as_printed(wave: float, seconds: float, w_m2: float) -> None:
    found = eye_mpe_eu(wavelength_nm=wave, exposure_s=seconds)
    assert found.irradiance_w_m2 == pytest.approx(w_m2, rel=1e-5)


def test_pulses_within_t_min_count_as_one() -> None:
    # Table 2.6: 18 us for 400 < nm <= 1050, 50 us for 1050 < nm <= 1400.
    assert [t_min_s(wavelength_nm=wave) for wave in (650, 1050, 1051)] == [18e-6, 18e-6, 50e-6]
    found = eye_mpe_pulsed_eu(
        wavelength_nm=905, pulse_width_s=1e-7, frequency_hz=200_000, exposure_s=10
    )
    assert found.pulses_in_group == 4


def test_single_pulse_mean_and_train_are_its_own() -> None:
    # 905 nm, 200 ns, 5 kHz, 10 s: N = 50 000, C_p = N^-0.25 = 0.06687 (S12); one pulse 5e-3·C_A.
    found = eye_mpe_pulsed_eu(
        wavelength_nm=905, pulse_width_s=2e-7, frequency_hz=5000, exposure_s=10
    )
    single = 5e-3 * 2.57040
    assert found.single_pulse.radiant_exposure_j_m2 == pytest.approx(single, rel=1e-5)
    assert found.pulses == 50_000
    assert found.c5 == pytest.approx(0.06687, rel=1e-4)
    assert found.irradiance_w_m2 == pytest.approx(single * 5000 * 0.06687, rel=1e-4)
    assert found.governing == "C_5"
    assert found.mean_w_m2 == pytest.approx(25.7040, rel=1e-5)
    # The pulses of the whole exposure count, not only those of 10 s.
    longer = eye_mpe_pulsed_eu(
        wavelength_nm=905, pulse_width_s=2e-7, frequency_hz=5000, exposure_s=100
    )
    assert longer.pulses == 500_000


# How many times stricter than 2e-3·C_A·C_5: worked by hand from 5e-3·C_A·N^-0.25, pulses of 100 ns.
# 8e-4 / 3.799e-4, 2e-3 / 1.0103e-3, 2e-3 / 1.9882e-3.
@pytest.mark.parametrize(("pulses", "times"), [(30_000, 2.106), (600, 1.980), (40, 1.006)])
def test_the_directive_is_stricter_where_there_are_many_pulses(pulses: int, times: float) -> None:
    hz = pulses / 10
    both = {"wavelength_nm": 905, "pulse_width_s": 1e-7, "frequency_hz": hz, "exposure_s": 10}
    iec, eu = eye_mpe_pulsed(**both), eye_mpe_pulsed_eu(**both)
    assert iec.pulses == eu.pulses == pulses
    assert eu.c5 == pytest.approx(c_p(pulses=pulses))
    assert iec.train_w_m2 / eu.train_w_m2 == pytest.approx(times, rel=1e-3)


@given(
    wave=st.floats(400, 1400),
    width=st.floats(2e-9, 1e-3),
    share=st.floats(1e-6, 0.5),
    seconds=st.sampled_from([0.25, 10.0, 100.0]),
)
def test_no_train_is_allowed_more_than_its_pulses_or_its_mean(
    wave: float, width: float, share: float, seconds: float
) -> None:
    hz = share / width
    for train, one in ((eye_mpe_pulsed_eu, eye_mpe_eu), (eye_mpe_pulsed, eye_mpe)):
        found = train(wavelength_nm=wave, pulse_width_s=width, frequency_hz=hz, exposure_s=seconds)
        mean = one(wavelength_nm=wave, exposure_s=seconds)
        assert found.irradiance_w_m2 <= mean.irradiance_w_m2 * (1 + 1e-9)
        assert found.irradiance_w_m2 <= found.single_pulse_w_m2 * (1 + 1e-9)


# Table 2.4, 400-1400 nm: 200·C_A J/m2, 1.1e4·C_A·t^0.25 J/m2, 2e3·C_A W/m2. ICNIRP has the same.
@pytest.mark.parametrize(
    ("seconds", "j_m2"),
    [(1e-9, 200), (9e-8, 200), (1e-7, 1.1e4 * (1e-7) ** 0.25), (9, 1.1e4 * 9**0.25), (10, 2e4)],
)
def test_skin_is_as_printed(seconds: float, j_m2: float) -> None:
    for wave in (650, 808, 1064):
        found = skin_mpe(wavelength_nm=wave, exposure_s=seconds)
        expected = j_m2 * c_a(wavelength_nm=wave)
        assert found.radiant_exposure_j_m2 == pytest.approx(expected, rel=1e-9)
        assert found.status == "read"


# Two transcriptions into code, read 28 November 2026. EN 60825-1:2014, table A.1, 700-1050 nm, J/m2
# or from 10 s on W/m2: 2e-3·C4, 18·C4·t^0.75, 10·C4·C7. ANSI Z136.1-2014, tables 5b and 5c, J/cm2
# or W/cm2: 2e-7·C_A to 5 us, 1.8e-3·C_A·t^0.75, 1e-3·C_A; from 1050 nm 2e-6·C_C to 13 us,
# 9e-3·C_C·t^0.75, 5e-3·C_C; 400-450 nm 1e-2 J/cm2 from 10 s, 1e-4·C_B W/cm2 from 100 s.
TWO_READINGS = [
    (808, 1e-6, 2e-3 * 1.64437, 2e-7 * 1.64437),
    (808, 1, 18 * 1.64437, 1.8e-3 * 1.64437),
    (905, 1e-3, 18 * 2.57040 * 1e-3**0.75, 1.8e-3 * 2.57040 * 1e-3**0.75),
    (1064, 1e-5, None, 2e-6),
    (1064, 1, None, 9e-3),
    (1175, 1, None, 9e-3 * 10**0.45),
    (650, 1e-6, None, 2e-7),
    (650, 1, None, 1.8e-3),
    (430, 50, None, 1e-2),
]


@pytest.mark.parametrize(("wave", "seconds", "en_j_m2", "ansi_j_cm2"), TWO_READINGS)
def test_the_eye_limits_agree_with_two_readings(
    wave: float, seconds: float, en_j_m2: float | None, ansi_j_cm2: float
) -> None:
    found = eye_mpe(wavelength_nm=wave, exposure_s=seconds)
    assert found.edition == IEC
    assert found.radiant_exposure_j_m2 == pytest.approx(ansi_j_cm2 * 1e4, rel=1e-5)
    if en_j_m2 is not None:
        assert found.radiant_exposure_j_m2 == pytest.approx(en_j_m2, rel=1e-5)


@pytest.mark.parametrize(
    ("wave", "seconds", "w_cm2"),
    [(808, 10, 1e-3 * 1.64437), (1064, 10, 5e-3), (650, 10, 1e-3), (430, 100, 1e-4)],
)
def test_the_long_eye_limits_agree_with_a_second_reading(
    wave: float, seconds: float, w_cm2: float
) -> None:
    found = eye_mpe(wavelength_nm=wave, exposure_s=seconds)
    assert found.irradiance_w_m2 == pytest.approx(w_cm2 * 1e4, rel=1e-5)


# EN 60825-1:2014 as transcribed: C7 = 8 + 10^(0.04(nm-1250)) from 1200 nm.
@pytest.mark.parametrize(("wave", "expected"), [(1150, 1), (1250, 9), (1300, 108)])
def test_c_7_of_the_2014_edition(wave: float, expected: float) -> None:
    assert c_c_2014(wavelength_nm=wave) == pytest.approx(expected)
    assert c_c(wavelength_nm=wave) <= c_c_2014(wavelength_nm=wave)


def test_outside_what_is_held_nothing_is_made_up() -> None:
    for wave, seconds in ((399, 1), (1401, 1), (808, 1e-12), (808, 4e4)):
        with pytest.raises(OutOfScope):
            eye_mpe_eu(wavelength_nm=wave, exposure_s=seconds)
    assert math.isfinite(eye_mpe_eu(wavelength_nm=808, exposure_s=1e-11).irradiance_w_m2)
