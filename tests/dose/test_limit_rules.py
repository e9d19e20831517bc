"""Each branch of the exposure limits says which rule it is, and how well that rule is known.

Skin: as in two transpositions of directive 2006/25/EC (read). Eyes: as in transcriptions of EN
60825-1:2014 and of ANSI Z136.1-2014 into code (second-hand).
"""

import pytest

from coach.dose.limits import Limit, c_5, eye_mpe, eye_mpe_pulsed, skin_mpe

EYE = [
    # 400-600 nm from 10 s on: the lower of the thermal and the photochemical limit; both are
    # 10 W/m2 at 450 nm and 10 s.
    (450, 10, "10·1 W/m2", "second-hand"),
    (450, 20, "100·C_3 J/m2, from 100 s on 1·C_3 W/m2 (photochemical)", "second-hand"),
    (599, 10, "10·1 W/m2", "second-hand"),
    # At 600 nm the photochemical limit is over.
    (600, 10, "10·1 W/m2", "second-hand"),
    (650, 9.9, "18·1·t^0.75 J/m2", "second-hand"),
    (650, 1e-6, "2e-3·1 J/m2", "second-hand"),
    (700, 10, "10·C_A·C_C W/m2", "second-hand"),
    (905, 9.9, "18·C_A·C_C·t^0.75 J/m2", "second-hand"),
    (905, 1e-6, "2e-3·C_A·C_C J/m2", "second-hand"),
    (1049, 1, "18·C_A·C_C·t^0.75 J/m2", "second-hand"),
    (1050, 1, "18·C_A·C_C·t^0.75 J/m2", "second-hand"),
    (1050, 1e-6, "2e-2·C_C J/m2", "second-hand"),
    (1150, 10, "10·C_A·C_C W/m2", "second-hand"),
    (1151, 10, "10·C_A·C_C W/m2", "second-hand"),
]
SKIN = [
    (905, 10, "0.2·C_A W/cm2", "read"),
    (905, 9.9, "1.1·C_A·t^0.25 J/cm2", "read"),
    (905, 1e-7, "1.1·C_A·t^0.25 J/cm2", "read"),
    (905, 5e-8, "0.02·C_A J/cm2", "read"),
]


def about(limit: Limit) -> tuple[float, float, str, str]:
    return limit.wavelength_nm, limit.exposure_s, limit.rule, limit.status


@pytest.mark.parametrize("row", EYE)
def test_the_eye(row: tuple[float, float, str, str]) -> None:
    found = eye_mpe(wavelength_nm=row[0], exposure_s=row[1])
    assert about(found) == row
    # The pupil of ICNIRP 2013, table of aperture diameters.
    assert found.aperture_mm == 7


@pytest.mark.parametrize("row", SKIN)
def test_the_skin(row: tuple[float, float, str, str]) -> None:
    found = skin_mpe(wavelength_nm=row[0], exposure_s=row[1])
    assert about(found) == row
    assert found.aperture_mm == 3.5


def test_the_long_waves_have_a_rule_of_their_own_for_short_pulses() -> None:
    # ANSI Z136.1-2014, table 5c, second-hand: 2e-6 J/cm2·C_C, which is 2e-2·C_C J/m2,
    # from 1050 nm on, and C_C is 8 above 1200 nm.
    at_1050 = eye_mpe(wavelength_nm=1050, exposure_s=1e-6)
    at_1201 = eye_mpe(wavelength_nm=1201, exposure_s=1e-6)
    assert at_1050.radiant_exposure_j_m2 == pytest.approx(2e-2)
    assert at_1201.radiant_exposure_j_m2 == pytest.approx(0.16)


def test_the_skin_between_100_ns_and_10_s() -> None:
    # 1.1·C_A·t^0.25 J/cm2 (read) at 1 s and 650 nm, where C_A is 1 and t^0.25 is 1.
    found = skin_mpe(wavelength_nm=650, exposure_s=1)
    assert found.radiant_exposure_j_m2 == pytest.approx(11_000, rel=1e-9)


@pytest.mark.parametrize(
    ("pulses", "width_s", "expected"),
    [
        # IEC 2014: 1 for up to 600 pulses, 5·N^-0.25 for more, for pulses of up to 5 us.
        (600, 1e-7, 1.0),
        (10_000, 1e-7, 0.5),
        (10_000, 5e-6, 0.5),
        # Longer pulses of a point source: second-hand.
        (10_000, 5.1e-6, 1.0),
        (600, 5.1e-6, 1.0),
    ],
)
def test_c_5(pulses: int, width_s: float, expected: float) -> None:
    assert c_5(pulses=pulses, pulse_width_s=width_s) == pytest.approx(expected)


def test_from_1050_nm_pulses_of_up_to_13_us_count_as_short() -> None:
    # EN 60825-1:2014, table 2, second-hand: T_i is 13 us from 1050 nm on.
    assert c_5(pulses=10_000, pulse_width_s=13e-6, wavelength_nm=1064) == pytest.approx(0.5)
    assert c_5(pulses=10_000, pulse_width_s=13e-6, wavelength_nm=905) == 1.0


def test_pulses_are_counted_whole_and_no_further_than_ten_seconds() -> None:
    def pulses(frequency_hz: float, exposure_s: float, wavelength_nm: float = 905) -> int:
        found = eye_mpe_pulsed(
            wavelength_nm=wavelength_nm,
            pulse_width_s=1e-7,
            frequency_hz=frequency_hz,
            exposure_s=exposure_s,
        )
        assert found.mean == eye_mpe(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
        assert found.pulses_in_group >= 1
        return found.pulses

    assert pulses(100, 1) == 100
    assert pulses(100, 1.005) == 101
    assert pulses(100, 60) == 1000
    assert pulses(0.5, 1) == 1


@pytest.mark.parametrize(
    ("frequency_hz", "in_group"),
    # Two pulses 5 us apart are at 200 kHz; what comes faster falls into one group.
    [(200_000, 1), (200_001, 2), (400_000, 2), (450_000, 3)],
)
def test_a_group_holds_the_pulses_of_five_microseconds(frequency_hz: float, in_group: int) -> None:
    found = eye_mpe_pulsed(
        wavelength_nm=905, pulse_width_s=1e-7, frequency_hz=frequency_hz, exposure_s=1
    )
    assert found.pulses_in_group == in_group
    assert found.pulses == -(-frequency_hz // in_group)


def test_the_long_waves_use_their_own_c_5() -> None:
    # 20 us apart: no group at 905 nm nor at 1064 nm; 10 us wide: short at 1064 nm only.
    def factor(wavelength_nm: float) -> float:
        return eye_mpe_pulsed(
            wavelength_nm=wavelength_nm, pulse_width_s=1e-5, frequency_hz=50_000, exposure_s=10
        ).c5

    assert factor(905) == 1.0
    assert factor(1064) == pytest.approx(0.4)


def test_a_pulse_may_fill_the_whole_exposure_and_follow_at_once() -> None:
    whole = eye_mpe_pulsed(wavelength_nm=905, pulse_width_s=0.1, frequency_hz=10, exposure_s=0.1)
    assert whole.pulses == 1
