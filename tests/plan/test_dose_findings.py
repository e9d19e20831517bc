"""Findings about laser and dose: bands quoted with source and status, the output check."""

import datetime

import pytest

from coach.plan.dose_findings import dose_findings
from tests.plan.test_laser import AREA, TWO, with_laser
from tests.plan.worlds import TODAY, changed, read


def found(text: str, today: datetime.date = TODAY) -> list[tuple[str, str]]:
    return [(f.field, f.text) for f in dose_findings(read(text), today=today)]


def about_bands(text: str) -> list[tuple[str, str]]:
    return [(field, words) for field, words in found(text) if "published for" in words]


def region(key: str, lines: str, *changes: tuple[str, str]) -> str:
    head, _, _ = changed(("seconds_each_side = 30", "leave_out = true"), *changes).partition(
        "[[regions]]"
    )
    return f'{head}[[regions]]\nregion = "{key}"\n{lines}\n'


# WALT 2010, 780-820 nm, seen as an excerpt: lumbar spine 4-8 points, 16 J, min 4 J a point; hip 2-4
# points, 12 J, min 6 J a point; 20-300 s, 5-500 mW.
LUMBAR = 'sides = ["left", "right"]\nspots = 2\n'
HIP = 'aspects = ["lateral", "cranial"]\nspots = 1\n'
POWER = ("mean_power_mw = 100\n", "mean_power_mw = {}\n")


def power(mw: int | str) -> tuple[str, str]:
    return POWER[0], POWER[1].format(mw)


def test_a_plan_inside_every_row_has_no_finding() -> None:
    # Four points of 4 J in 40 s at 100 mW: 16 J in all.
    assert found(region("lumbar", f"{LUMBAR}seconds_each_spot = 40")) == []


@pytest.mark.parametrize("area", ["0.03", "0.0053", "0.5", "5"])
def test_a_plan_at_its_row_is_silent_however_small_its_spot(area: str) -> None:
    """Two points of 6 J under 0.03 cm2 are 200 J/cm2, and no mean over an area."""
    text = region(
        "hip",
        f'sides = ["left"]\n{HIP}joules_each_spot = 6',
        (AREA, f"beam_area_cm2 = {area}\n"),
        power(200),
    )
    assert about_bands(text) == []


@pytest.mark.parametrize(
    "changes",
    [
        (("weight_kg = 9.5", "weight_kg = 2.8"),),
        (("weight_kg = 9.5", "weight_kg = 38"),),
    ],
)
def test_a_row_over_an_area_waits_until_a_plan_states_one(changes: tuple[tuple[str, str]]) -> None:
    for key in ("hip", "elbow"):
        text = region(key, f'sides = ["left"]\n{HIP}joules_each_spot = 20', *changes, power(200))
        assert not [words for _, words in about_bands(text) if "over the area" in words]


def test_a_region_is_one_finding_with_row_source_status_and_who_decides() -> None:
    # 30 s at 100 mW: 3 J a point, 12 J in all.
    (finding,) = dose_findings(
        read(region("lumbar", f"{LUMBAR}seconds_each_spot = 30")), today=TODAY
    )
    assert finding.field == "regions[1]"
    assert finding.text.startswith("12 J in all and 3 J a point; published for lumbar spine: ")
    for words in ("WALT 2010", "at least 16 J in all", "made for people", "seen as an excerpt"):
        assert words in finding.text
    assert finding.text.endswith("the prescriber decides")
    assert finding.short == (
        "12 J in all and 3 J a point; published: 4 to 8 points, at least 16 J in all, at least "
        "4 J a point (WALT 2010, made for people); the prescriber decides"
    )


@pytest.mark.parametrize("word", ["should", "must", "raise", "lower the", "increase", "recommend "])
def test_no_finding_proposes_a_dose(word: str) -> None:
    for seconds in (5, 36, 300, 1800):
        for _, text in found(region("lumbar", f"{LUMBAR}seconds_each_spot = {seconds}")):
            assert word not in text


def test_the_sides_of_the_spine_are_one_site_and_those_of_a_joint_are_two() -> None:
    # Two faces of each hip with 60 s at 100 mW are 2 points and 12 J for each joint: inside. All
    # together would be 4 points and 24 J.
    hip = f"{HIP}seconds_each_spot = 60"
    assert about_bands(region("hip", f'sides = ["left", "right"]\n{hip}')) == []
    # One face of each is 1 point and 6 J for each joint, and one finding for both.
    one = hip.replace(', "cranial"', "")
    ((field, text),) = about_bands(region("hip", f'sides = ["left", "right"]\n{one}'))
    assert field == "regions[1]"
    assert text.startswith("6 J in all and 1 point; published for hip")


def test_a_region_ordered_in_two_parts_is_one_site() -> None:
    left = 'sides = ["left"]\nspots = 2\nseconds_each_spot = 40\n'
    right = left.replace("left", "right")
    assert found(region("lumbar", f'{left}\n[[regions]]\nregion = "lumbar"\n{right}')) == []
    less = right.replace("40", "30")
    ((field, text),) = found(region("lumbar", f'{left}\n[[regions]]\nregion = "lumbar"\n{less}'))
    # 2 x 4 J and 2 x 3 J.
    assert field == "regions[1], regions[2]"
    assert text.startswith("14 J in all and 3 J a point")


@pytest.mark.parametrize(
    ("dose", "mw"),
    [
        # 6 J at 70 mW take 85.714 s: held 85.7 s, which would be 5.999 J.
        ("joules_each_spot = 6", "70"),
        # 12 J/cm2 over 0.5 cm2 are 6 J.
        ("joules_per_cm2_each_spot = 12", "70"),
        ("joules_each_spot = 6", "130"),
    ],
)
def test_what_was_ordered_is_compared_and_not_the_seconds_it_is_rounded_to(
    dose: str, mw: str
) -> None:
    assert found(region("hip", f'sides = ["left"]\n{HIP}{dose}', power(mw))) == []


def test_a_row_speaks_of_its_wavelengths_and_powers_only() -> None:
    weak = f"{LUMBAR}seconds_each_spot = 30"
    assert about_bands(region("lumbar", weak))
    for change in (
        ("wavelength_nm = 808", "wavelength_nm = 650"),
        ("wavelength_nm = 808", "wavelength_nm = 850"),
    ):
        assert about_bands(region("lumbar", weak, change)) == []
    strong = ('laser_class = "3B"', 'laser_class = "4"')
    assert about_bands(region("lumbar", f"{LUMBAR}seconds_each_spot = 1", strong, power(501))) == []


def test_every_wavelength_of_a_head_is_compared() -> None:
    head, _, _ = with_laser(TWO, power="").partition("[[regions]]")
    text = f'{head}[[regions]]\nregion = "lumbar"\n{LUMBAR}seconds_each_spot = 10\n'
    words = " ".join(words for _, words in about_bands(text))
    assert "WALT 2010 dose recommendations, class 3B" in words
    assert "904 nm" in words


# 300 J and 2000 J/cm2 a spot are what joules_each_spot and joules_per_cm2_each_spot may be.
@pytest.mark.parametrize(
    ("seconds", "mw", "area", "says"),
    [
        (30, 10_000, "5", None),
        (31, 10_000, "5", "310 J on each spot: more than the 300 J"),
        (1800, 100, "0.5", None),
        (300, 1000, "0.15", None),
        (300, 1000, "0.149", "2013.42 J/cm2 on each spot: more than the 2000 J/cm2"),
        # 300 J under a beam of 0.01 cm2, of which a draft said nothing.
        (300, 1000, "0.01", "30000 J/cm2 on each spot"),
    ],
)
def test_the_ceilings_hold_for_the_result_whichever_way_it_is_stated(
    seconds: int, mw: int, area: str, says: str | None
) -> None:
    changes = (
        ('laser_class = "3B"', 'laser_class = "4"'),
        power(mw),
        (AREA, f"beam_area_cm2 = {area}\n"),
    )
    told = found(region("lumbar", f"{LUMBAR}seconds_each_spot = {seconds}", *changes))
    ceilings = [text for _, text in told if "on each spot: more than" in text]
    if says is None:
        assert ceilings == []
    else:
        assert [text.startswith(says) for text in ceilings] == [True]


def test_the_opening_is_seen_like_any_spot() -> None:
    text = changed(
        ("seconds_each_side = 30", "seconds_each_side = 31"),
        ('laser_class = "3B"', 'laser_class = "4"'),
        ("joules_each_spot = 4", "seconds_each_spot = 4"),
        ("seconds_each_spot = 40", "seconds_each_spot = 4"),
        power(10_000),
    )
    assert [field for field, words in found(text) if "more than the 300 J" in words] == ["settle"]


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


# Skin from 10 s on: 0.2·C_A W/cm2, C_A 1.64437 at 808 nm (S01, S07; read). Averaged over 3.5 mm,
# 0.09621 cm2, where the beam is narrower.
@pytest.mark.parametrize(
    ("mw", "area", "laser_class", "says"),
    [
        (100, "0.5", "3B", None),
        (164, "0.5", "3B", None),
        # 500 mW/cm2 / 328.874 mW/cm2 = 1.52.
        (250, "0.5", "3B", "500 mW/cm2 under the beam: 1.5 times the skin limit set for people"),
        # 0.1 W / 0.09621 cm2 = 1.0394 W/cm2: 3.16 times, though the beam itself has 3333 mW/cm2.
        (100, "0.03", "3B", "3333 mW/cm2 under the beam: 3.2 times"),
        # 10 W / 5 cm2 = 2 W/cm2: 6.08 times.
        (10_000, "5", "4", "2000 mW/cm2 under the beam: 6.1 times"),
    ],
)
def test_irradiance_is_held_against_the_skin_limit_set_for_people(
    mw: int, area: str, laser_class: str, says: str | None
) -> None:
    text = region(
        "lumbar",
        f"{LUMBAR}seconds_each_spot = 25",
        (AREA, f"beam_area_cm2 = {area}\n"),
        ('laser_class = "3B"', f'laser_class = "{laser_class}"'),
        power(mw),
    )
    texts = [words for field, words in found(text) if field == "laser.beam_area_cm2"]
    if says is None:
        assert texts == []
        return
    (words,) = texts
    assert words.startswith(says)
    assert words.endswith("the prescriber decides")
    assert ("a head of this power is usually moved" in words) is (mw > 500)


@pytest.mark.parametrize("laser_class", ["1", "1C", "1M", "2", "2M", "3R", "3B"])
def test_a_class_that_cannot_be_is_asked_about(laser_class: str) -> None:
    text = region(
        "lumbar",
        f"{LUMBAR}seconds_each_spot = 5",
        power(5000),
        ('laser_class = "3B"', f'laser_class = "{laser_class}"'),
    )
    assert next(field for field, _ in found(text)) == "laser.laser_class"
