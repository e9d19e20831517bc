"""What a careful colleague would remark on a plan that can be used."""

import pytest

from tests.plan.worlds import PLAN, changed, plain_findings, read


def remarks(text: str) -> list[tuple[str, str]]:
    return [(finding.field, finding.text) for finding in plain_findings(read(text))]


def test_nothing_to_remark() -> None:
    assert remarks(PLAN) == []


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("spots = 4", "spots = 60", "regions", "over half an hour"),
        ("seconds_each_spot = 40", "seconds_each_spot = 4", "regions[1]", "less than 5 s a spot"),
        (
            "seconds_each_spot = 40",
            "seconds_each_spot = 40\njoules_each_spot = 4",
            "regions[1]",
            "the seconds rule",
        ),
        ("beam_area_cm2 = 0.5\n", "", "laser.beam_area_cm2", "J/cm2 stays blank"),
        # Class 3B, mean output 5-500 mW: WALT 2010, read second-hand.
        (
            "mean_power_mw = 100\n",
            "mean_power_mw = 501\n",
            "laser.mean_power_mw",
            "501 mW is more than a laser of class 3B may give (500 mW)",
        ),
        # 61 days are valid, both ends counted; nine weeks are 63.
        ("weeks = 2", "weeks = 9", "plan.valid_until", "takes 63 days, the plan is valid for 61"),
        (
            'region = "hip"\nsides = ["right"]\naspects = ["lateral", "cranial"]',
            'region = "lumbar"\nsides = ["right"]',
            "regions",
            "lumbar right is ordered 2 times",
        ),
    ],
)
def test_a_remark(old: str, new: str, field: str, words: str) -> None:
    ((found_field, text),) = remarks(changed((old, new)))
    assert found_field == field
    assert words in text


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("mean_power_mw = 100\n", "mean_power_mw = 500\n"),
        ("seconds_each_spot = 40", "seconds_each_spot = 5"),
        ("weeks = 2", "weeks = 8"),
        ('laser_class = "3B"', 'laser_class = "4"'),
    ],
)
def test_no_remark_on_the_right_side_of_the_line(old: str, new: str) -> None:
    assert remarks(changed((old, new))) == []
