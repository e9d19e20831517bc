"""Each usual slip by itself: what is asked, and what the number would be if it had been meant.

Sizes of units from the SI; 60 s to the minute; a circle of twice the diameter is four times as
large. Which slips are usual: Jenkins & Carroll 2011, doi 10.1089/pho.2011.9895, and common
practice.
"""

from fractions import Fraction

import pytest

from coach.dose.quantity import Quantity
from coach.dose.slips import slips
from coach.dose.solve import NotClosing


def asked(values: dict[Quantity, str]) -> dict[str, dict[Quantity, Fraction]]:
    """Every slip by its question, with the values that it changes."""
    given = {name: Fraction(text) for name, text in values.items()}
    return {
        words: {name: value for name, value in meant.items() if value != given.get(name)}
        for words, meant in slips(given)
    }


def test_a_power() -> None:
    assert asked({"mean_power_mw": "500"}) == {
        "mW written as W? 0.5 mW for 0.5 W": {"mean_power_mw": Fraction("0.5")},
        "W written as mW? 500 W for 500 mW": {"mean_power_mw": 500_000},
    }


def test_a_power_beside_a_duty_cycle() -> None:
    found = asked({"mean_power_mw": "600", "duty_cycle_percent": "25"})
    assert found["peak power taken for the mean power?"] == {"mean_power_mw": 150}
    assert found["mean power taken for the peak power?"] == {"mean_power_mw": 2400}


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [
        (
            "80.4",
            {
                "minutes with a point? 1.34 min is 80.4 s, 1 min 34 s is 94 s": 94,
                "minutes written as seconds? 80.4 min": 4824,
                "seconds written as minutes? 1.34 s": Fraction("1.34"),
            },
        ),
        (
            "94",
            {
                "minutes with a point? 1 min 34 s is 94 s, 1.34 min is 80.4 s": Fraction("80.4"),
                "minutes written as seconds? 94 min": 5640,
                "seconds written as minutes? 1.56667 s": Fraction(47, 30),
            },
        ),
        (
            "120",
            {
                "minutes written as seconds? 120 min": 7200,
                "seconds written as minutes? 2 s": 2,
            },
        ),
        (
            "30.5",
            {
                "minutes written as seconds? 30.5 min": 1830,
                "seconds written as minutes? 0.508333 s": Fraction("30.5") / 60,
            },
        ),
    ],
)
def test_a_time(seconds: str, expected: dict[str, Fraction]) -> None:
    found = asked({"duration_s": seconds})
    assert found == {words: {"duration_s": meant} for words, meant in expected.items()}


def test_an_area() -> None:
    assert asked({"beam_area_cm2": "2", "aperture_area_cm2": "0.05"}) == {
        "aperture area taken for the beam area at the skin?": {"beam_area_cm2": Fraction("0.05")},
        "mm2 written as cm2?": {"beam_area_cm2": Fraction("0.02")},
        "cm2 written as mm2?": {"beam_area_cm2": 200},
        "radius taken for the diameter?": {"beam_area_cm2": 8},
        "diameter taken for the radius?": {"beam_area_cm2": Fraction("0.5")},
    }


def test_a_beam_area_and_a_swept_area() -> None:
    found = asked({"beam_area_cm2": "2", "swept_area_cm2": "30"})
    assert found["beam area at the skin and swept area mixed up?"] == {
        "beam_area_cm2": 30,
        "swept_area_cm2": 2,
    }


def test_an_energy() -> None:
    assert asked({"energy_j": "4"}) == {
        "mJ written as J?": {"energy_j": Fraction("0.004")},
        "J written as mJ?": {"energy_j": 4000},
    }


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        ((), "energy: stated 1.2 J, but P t: 1000 times as much"),
        (("a?",), "energy: stated 1.2 J, but P t: 1000 times as much (a?)"),
        (("a?", "b?"), "energy: stated 1.2 J, but P t: 1000 times as much (a?; or b?)"),
    ],
)
def test_what_does_not_close_is_told_with_what_would_explain_it(
    found: tuple[str, ...], expected: str
) -> None:
    stated, computed = Fraction("1.2"), Fraction(1200)
    finding = NotClosing(
        quantity="energy_j",
        stated=stated,
        computed=computed,
        deviation=(computed - stated) / stated,
        arithmetic="P t",
        slips=found,
    )
    assert str(finding) == expected
