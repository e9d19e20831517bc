"""Eyewear by its marking, EN 207:2017: table and worked examples as two public summaries have them.

D: up to 10^(n+1) W/m2; I and R: up to 5·10^(n-3) J/m2, 315 to 1400 nm (second-hand).
"""

import math
from fractions import Fraction

import pytest

from coach.dose.beam import Emitter, Head
from coach.dose.eyewear import continuous_scale, markings, pulsed_scale
from coach.dose.hazard import head_hazard
from tests.dose.emitters import pulsed_by_width


@pytest.mark.parametrize(
    ("w_m2", "scale"),
    [(1e5, 4), (1.01e5, 5), (1e6, 5), (100, 1), (1, 1), (2.5e4, 4), (1e4, 3)],
)
def test_the_scale_of_continuous_light(w_m2: float, scale: int) -> None:
    assert continuous_scale(irradiance_w_m2=w_m2) == scale


@pytest.mark.parametrize(
    ("j_m2", "hz", "scale"),
    # 5·10^(n-3) J/m2: 0.05 J/m2 is LB1, 0.5 is LB2; 10^4 pulses in 10 s raise it by 10.
    [(0.05, 0.1, 1), (0.05, 1000, 2), (0.5, 0.1, 2), (0.51, 0.1, 3), (5, 0.1, 3)],
)
def test_the_scale_of_pulses(j_m2: float, hz: float, scale: int) -> None:
    assert pulsed_scale(pulse_j_m2=j_m2, frequency_hz=hz) == scale


def test_a_worked_example() -> None:
    # University College Cork, laser safety guidelines, quoted: 10 W of 1064 nm in 4 mm: D LB5.
    (mark,) = markings(wavelength_nm=1064, mean_power_w=10, beam_diameter_m=4e-3, required_od=0)
    assert str(mark) == "1064 D LB5"


def test_density_is_not_the_lb_number() -> None:
    # 500 mW in 5 mm: 2.5e4 W/m2, so LB 4 where an optical density of 2.9 is enough.
    emitter = Emitter(
        wavelength_nm=Fraction(808), mean_power_uw=500_000, aperture_diameter_um=5_000
    )
    found = head_hazard(Head(emitters=(emitter,)), exposure_s=10)
    assert math.ceil(found.density) == 3
    assert [str(mark) for mark in found.emitters[0].markings or ()] == ["808 D LB4"]


def test_a_number_is_never_below_the_density() -> None:
    # 500 mW in 3 cm: 707 W/m2 would be LB 2.
    (mark,) = markings(wavelength_nm=808, mean_power_w=0.5, beam_diameter_m=0.03, required_od=2.9)
    assert mark.scale == 3


def test_pulses_need_a_mark_of_their_own_and_the_shortest_none_that_we_saw() -> None:
    emitter = pulsed_by_width(
        wavelength_nm=Fraction(905),
        peak_power_uw=25_000_000,
        width_ns=Fraction(200),
        frequency_hz=Fraction(5000),
    )
    modes = {
        width: [
            mark.mode
            for mark in markings(
                wavelength_nm=905,
                mean_power_w=0.025,
                beam_diameter_m=5e-3,
                required_od=0,
                pulse_width_s=width,
                frequency_hz=1.0,
            )
        ]
        for width in (5e-10, 2e-7, 1e-5, 0.3)
    }
    assert modes == {5e-10: [], 2e-7: ["D", "R"], 1e-5: ["D", "I"], 0.3: ["D"]}
    # Without a diameter at the opening nothing is made up.
    assert head_hazard(Head(emitters=(emitter,)), exposure_s=10).emitters[0].markings is None
