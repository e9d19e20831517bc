"""What a plan of format 1 leaves unsaid is never a dose, and the prescriber hears of it."""

import pytest

from coach.plan.findings import findings
from coach.plan.spots import all_ordered, spots_of
from coach.plan.unstated import unstated
from coach.plan.write import write_plan
from tests.plan.worlds import PLAN, TODAY, changed, plain_findings, read

SETTLE = "[settle]\nseconds_each_side = 30\n\n"
REPEATS = "repeats_allowed = 1\n"
STARTS = 'starts = "stays on"\n'
# 10 W through a beam of 0.5 cm2: 30 s are 300 J and 600 J/cm2 (E = P t, H = E / A; BC
# Tendinopathy Task Force toolkit, appendix B).
TEN_WATTS = (
    ('laser_class = "3B"', 'laser_class = "4"'),
    ("mean_power_mw = 100\n", "mean_power_mw = 10000\n"),
    ("joules_each_spot = 4", "seconds_each_spot = 40"),
)


def fields_of(text: str) -> list[str]:
    return [one.field for one in unstated(read(text))]


def remarks(text: str) -> dict[str, str]:
    return {one.field: one.text for one in plain_findings(read(text))}


def test_a_plan_that_says_it_all_leaves_nothing_unsaid() -> None:
    assert fields_of(PLAN) == []


@pytest.mark.parametrize("settle", ["", "[settle]\n\n", "[settle]\nleave_out = false\n\n"])
def test_no_light_is_given_that_nobody_ordered(settle: str) -> None:
    text = changed((SETTLE, settle), *TEN_WATTS)
    spots = spots_of(read(text))
    assert not [spot for spot in spots if spot.settle or spot.region == "atlas"]
    assert {spot.region for spot in spots} == {"lumbar", "hip"}
    assert fields_of(text) == ["settle"]
    assert "left out" in remarks(text)["settle"]


def test_left_out_on_purpose_is_said() -> None:
    assert fields_of(changed(("seconds_each_side = 30", "leave_out = true"))) == []


def test_no_spot_is_given_again_where_the_plan_is_silent() -> None:
    text = changed((REPEATS, ""))
    assert read(text).rules.repeats_allowed == 0
    assert fields_of(text) == ["session.repeats_allowed"]
    assert "no spot may be given again" in remarks(text)["session.repeats_allowed"]
    assert read(changed((REPEATS, "repeats_allowed = 0\n"))).rules.repeats_allowed == 0
    assert fields_of(changed((REPEATS, "repeats_allowed = 0\n"))) == []


def test_a_laser_of_which_nothing_is_said_is_taken_to_stay_on() -> None:
    text = changed((STARTS, ""))
    assert read(text).laser.starts == "stays on"
    assert fields_of(text) == ["laser.starts"]
    assert "stays on" in remarks(text)["laser.starts"]


def test_what_is_unsaid_stays_unsaid_when_a_plan_is_written() -> None:
    text = changed((SETTLE, ""), (REPEATS, ""), (STARTS, ""))
    assert fields_of(text) == ["settle", "session.repeats_allowed", "laser.starts"]
    again = write_plan(read(text))
    assert "[settle]" not in again
    assert fields_of(again) == fields_of(text)
    assert read(again) == read(text)


def test_a_finding_sees_the_opening_as_well() -> None:
    # 31 s at 10 W are 310 J, more than joules_each_spot may be.
    plan = read(changed(("seconds_each_side = 30", "seconds_each_side = 31"), *TEN_WATTS))
    told = findings(plan, spots_of(plan), today=TODAY)
    assert [one for one in told if one.field == "settle" and "310 J on each spot" in one.text]
    short = remarks(changed(("seconds_each_side = 30", "seconds_each_side = 4")))
    assert "less than 5 s" in short["settle"]
    twice = changed(
        ('region = "lumbar"\nsides = ["left", "right"]', 'region = "atlas"\nsides = ["left"]')
    )
    assert "atlas left is ordered 2 times" in remarks(twice)["settle, regions"]


def test_a_session_begun_before_has_a_spot_that_the_plan_does_not_order() -> None:
    with_opening = spots_of(read(PLAN))
    assert all_ordered(read(PLAN), with_opening)
    assert all_ordered(read(PLAN), with_opening[3:5])
    silent = read(changed((SETTLE, "")))
    assert not all_ordered(silent, with_opening)
    assert all_ordered(silent, with_opening[2:])
    assert not all_ordered(
        read(changed(("seconds_each_spot = 40", "seconds_each_spot = 41"))), with_opening
    )
