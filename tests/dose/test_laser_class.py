"""Class against power. The referee is ``lasercalc.classify`` (general laser safety, PyPI)."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lasercalc import EmissionMode, LaserSource, classify  # type: ignore[import-untyped]

from coach.dose.laser_class import class_1_w, class_3r_w, class_question

ORDER = ["1", "2", "3R", "3B", "4"]


def asked(laser_class: str, wave: int, uw: int) -> str | None:
    return class_question(laser_class, [(Fraction(wave), uw)])


@pytest.mark.parametrize("laser_class", ["1", "1C", "1M", "2", "2M", "3R"])
def test_five_watts_of_808_nm_are_in_no_low_class(laser_class: str) -> None:
    assert asked(laser_class, 808, 5_000_000)


def test_what_is_asked() -> None:
    assert "500 mW" in (asked("3B", 808, 500_001) or "")
    assert "visible light only" in (asked("2", 808, 500) or "")
    assert "visible light only" in (asked("2M", 808, 500) or "")
    assert "switches itself off" in (asked("1C", 808, 5_000_000) or "")
    assert "times what class 3R may give as a point source" in (asked("3R", 650, 6_000) or "")


@pytest.mark.parametrize(
    ("laser_class", "wave", "uw"),
    [
        ("4", 808, 5_000_000),
        ("4", 650, 1),
        ("3B", 808, 500_000),
        ("1M", 808, 400_000),
        ("2", 650, 1_000),
        ("2M", 650, 400_000),
        ("3R", 650, 5_000),
        ("1C", 808, 600),
    ],
)
def test_nothing_is_asked_where_nothing_speaks_against_it(
    laser_class: str, wave: int, uw: int
) -> None:
    assert asked(laser_class, wave, uw) is None


@given(
    wave=st.integers(500, 1199).filter(lambda nm: nm not in range(1050, 1052)),
    uw=st.integers(1, 2_000_000),
)
def test_the_referee_agrees_on_point_sources(wave: int, uw: int) -> None:
    found = classify(
        LaserSource(wavelength_nm=wave, mode=EmissionMode.CW, power_w=uw * 1e-6)
    ).laser_class
    # The printed limit is rounded to 3.9e-4, the referee's is 10 W/m2 on 7 mm: 3.85e-4.
    for laser_class in ORDER[ORDER.index(found) :]:
        if laser_class == "2" and wave >= 700:
            continue
        assert asked(laser_class, wave, uw) is None
    for laser_class in ORDER[: ORDER.index(found)]:
        if laser_class == "2" and wave >= 700:
            continue
        near = uw * 1e-6 <= 1.02 * {
            "1": class_1_w(wavelength_nm=wave),
            "2": 1e-3,
            "3R": class_3r_w(wavelength_nm=wave),
            "3B": 0.5,
        }[laser_class] and laser_class in ("1", "3R")
        assert near or asked(laser_class, wave, uw)


def test_several_sources_add_up_as_shares() -> None:
    # Half the limit of class 1 each: 0.39 mW at 650 nm, 0.641 mW at 808 nm.
    half = [(Fraction(650), 200), (Fraction(808), 330)]
    assert class_question("1", half[:1]) is None
    assert class_question("1", half[1:]) is None
    assert "1.03 times what class 1" in (class_question("1", half) or "")
