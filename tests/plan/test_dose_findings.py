"""Findings about laser and dose: bands quoted with source and status, the output check."""

import datetime

import pytest

from coach.plan.dose_findings import dose_findings
from coach.plan.spots import spots_of
from tests.plan.test_laser import AREA, TWO, with_laser
from tests.plan.worlds import TODAY, changed, read


def found(text: str, today: datetime.date = TODAY) -> list[tuple[str, str]]:
    plan = read(text)
    return [(f.field, f.text) for f in dose_findings(plan, spots_of(plan), today=today)]


def about_bands(text: str) -> list[tuple[str, str]]:
    return [(field, words) for field, words in found(text) if "published for" in words]


def region(key: str, lines: str, *, laser: tuple[str, str] = (AREA, AREA)) -> str:
    head, _, _ = changed(laser).partition("[[regions]]")
    return f'{head}[[regions]]\nregion = "{key}"\n{lines}\n'


# WALT 2010, 780-860 nm, lumbar spine: 4-8 points, 16 J, min 4 J a point, 20-300 s (R2). Textbook
# 2019 p. 107, 4-15 J/cm2 (R), p. 118, spine of a large dog 8-20 J/cm2 (R); AJVR 2024, 3-10 (R).
LUMBAR = 'sides = ["left", "right"]\nspots = 2\n'


def test_a_plan_inside_every_band_has_no_finding() -> None:
    # Four points of 4 J in 40 s at 100 mW: 16 J in all, 8 J/cm2 over 0.5 cm2.
    assert found(region("lumbar", f"{LUMBAR}seconds_each_spot = 40")) == []


def test_a_row_is_quoted_with_source_status_and_for_whom_and_the_prescriber_decides() -> None:
    # 36 s at 100 mW: 3.6 J a spot, 14.4 J in all, 7.2 J/cm2.
    texts = [text for _, text in about_bands(region("lumbar", f"{LUMBAR}seconds_each_spot = 36"))]
    (total,) = (text for text in texts if text.startswith("14.4 J in all"))
    for words in ("WALT 2010", "16 J in total", "made for people", "second-hand"):
        assert words in total
    assert all(text.endswith("the prescriber decides") for text in texts)
    assert any(text.startswith("3.6 J a spot") for text in texts)


@pytest.mark.parametrize("word", ["should", "must", "raise", "lower the", "increase", "recommend "])
def test_no_finding_proposes_a_dose(word: str) -> None:
    for seconds in (5, 36, 300, 1800):
        for _, text in found(region("lumbar", f"{LUMBAR}seconds_each_spot = {seconds}")):
            assert word not in text


def test_the_sides_of_the_spine_are_one_site_and_those_of_a_joint_are_two() -> None:
    # Hip: 2-4 points, 12 J, min 6 J a point (R2). Two faces of each hip with 60 s at 100 mW are
    # 2 points and 12 J for each joint: inside. All together would be 4 points and 24 J.
    hip = 'aspects = ["lateral", "cranial"]\nspots = 1\nseconds_each_spot = 60'
    both = about_bands(region("hip", f'sides = ["left", "right"]\n{hip}'))
    assert not [text for _, text in both if "WALT" in text]
    # One face of each is 1 point for each joint.
    one = hip.replace(', "cranial"', "")
    walt = [t for _, t in about_bands(region("hip", f'sides = ["left", "right"]\n{one}'))]
    assert any(text.startswith("1 spots; published for hip") for text in walt)


def test_a_region_ordered_in_two_parts_is_one_site() -> None:
    left = 'sides = ["left"]\nspots = 2\nseconds_each_spot = 40\n'
    right = left.replace("left", "right")
    assert found(region("lumbar", f'{left}\n[[regions]]\nregion = "lumbar"\n{right}')) == []


def test_a_wavelength_without_a_row_gets_no_row_of_another() -> None:
    text = region("lumbar", f"{LUMBAR}seconds_each_spot = 36", laser=("808", "650"))
    assert not [words for _, words in about_bands(text) if "WALT" in words]


def test_every_wavelength_of_a_head_is_compared() -> None:
    head, _, _ = with_laser(TWO, power="").partition("[[regions]]")
    text = f'{head}[[regions]]\nregion = "lumbar"\n{LUMBAR}seconds_each_spot = 10\n'
    words = " ".join(words for _, words in about_bands(text))
    assert "780-860 nm" in words
    assert "904 nm" in words


def checked(lines: str) -> str:
    return with_laser(f"\n[laser.output_check]\n{lines}\n")


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("valid_days = 90", "no check is recorded"),
        # 1 August to 25 November is 116 days.
        ("measured_mw = 100\non = 2026-08-01\nvalid_days = 90", "116 days ago; the plan allows 90"),
        ("measured_mw = 100\non = 2026-12-24", "after today"),
    ],
)
def test_the_output_check_is_remarked_on(lines: str, says: str) -> None:
    (text,) = (t for field, t in found(checked(lines)) if field == "laser.output_check")
    assert says in text


def test_a_doubtful_check_shows_both_times_until_the_prescriber_says_which_rules() -> None:
    # (75 - 100) / 100 = -25 %, over 20 %. The hip is ordered as 4 J: 40 s at 100 mW, 53.3 s at 75.
    texts = [
        t for field, t in found(checked("measured_mw = 75\non = 2026-11-20")) if "check" in field
    ]
    drift, times = texts
    assert "-25.0 % from the stated 100.0 mW" in drift
    assert "the larger, the 100 mW stated" in times
    assert "regions[2] 40 s, not 53.3 s" in times
    assert "regions[1]" not in times
    assert "seconds_by" in times


@pytest.mark.parametrize(
    "lines",
    [
        # Exactly -20 % and exactly 116 days are allowed.
        "measured_mw = 80\non = 2026-11-20",
        "measured_mw = 120\non = 2026-11-20",
        "measured_mw = 100\non = 2026-08-01\nvalid_days = 116",
        "measured_mw = 100\non = 2020-01-01",
    ],
)
def test_a_check_that_holds_is_not_remarked_on(lines: str) -> None:
    assert not [text for field, text in found(checked(lines)) if field == "laser.output_check"]


def test_an_opening_as_large_as_the_beam_is_asked_about() -> None:
    fields = [field for field, _ in found(with_laser("aperture_area_cm2 = 0.5\n"))]
    assert "laser.aperture_area_cm2" in fields
    fields = [field for field, _ in found(with_laser("aperture_area_cm2 = 0.1\n"))]
    assert "laser.aperture_area_cm2" not in fields
