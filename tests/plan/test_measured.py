"""Spots from this dog's own measures, and what is remarked about them.

Check values (regions and proportions of one open, Apache-2.0 mesh of a dog): neck 23.9 cm and
back 41.6 cm give thoracic 19.1, lumbar 17.5, sacrum 5.0 cm; ceil(17.5 / 3.0) = 6; 18 / 3 = 6.
"""

from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.plan.spots import spots_of
from coach.plan.write import write_plan
from tests.plan.test_summary import as_data, told
from tests.plan.worlds import PLAN, changed, plain_findings, problems_of, read

TAPED = ("weight_kg = 9.5", "weight_kg = 9.5\nneck_cm = 23.9\nback_cm = 41.6")
BY_TAPE = ("spots = 4", "spacing_cm = 3.0\nmost_spots = 8")
FOOTPRINT = ("beam_area_cm2 = 0.5", "beam_area_cm2 = 0.5\nhead_footprint_cm = 3.0")


def each(text: str, region: str = "lumbar") -> int:
    plan = read(text)
    spots = [spot for spot in spots_of(plan) if spot.region == region and spot.side == "left"]
    assert [spot.number for spot in spots] == list(range(1, len(spots) + 1))
    assert {spot.of for spot in spots} == {len(spots)}
    return len(spots)


def remarks(text: str) -> list[tuple[str, str]]:
    return [(finding.field, finding.text) for finding in plain_findings(read(text))]


@pytest.mark.parametrize(
    ("region", "spots"),
    [
        # 19.1 / 3, 17.5 / 3, 5.0 / 3, and half of 23.9 is 11.95, / 3
        ("thoracic", 7),
        ("lumbar", 6),
        ("sacrum", 2),
        ("neck_upper", 4),
        ("neck_lower", 4),
    ],
)
def test_check_values_of_the_proportions(region: str, spots: int) -> None:
    text = changed(TAPED, BY_TAPE, ('region = "lumbar"', f'region = "{region}"'))
    assert each(text, region) == spots


def test_a_whole_number_of_spacings_gives_no_spot_more() -> None:
    # 18 / 3 = 6, by the loin tape
    assert each(changed((TAPED[0], TAPED[1] + "\nloin_cm = 18.0"), BY_TAPE)) == 6
    assert each(changed((TAPED[0], TAPED[1] + "\nloin_cm = 18.1"), BY_TAPE)) == 7


@settings(deadline=None)
@given(st.integers(20, 800), st.integers(2, 300), st.integers(1, 60))
def test_the_count_is_the_exact_ceiling_and_the_cap_holds(
    loin_mm: int, spacing_mm: int, most: int
) -> None:
    loin, spacing = Decimal(loin_mm) / 10, Decimal(spacing_mm) / 10
    text = changed(
        (TAPED[0], f"{TAPED[1]}\nloin_cm = {loin}"),
        ("spots = 4", f"spacing_cm = {spacing}\nmost_spots = {most}"),
    )
    exact = ceil(Fraction(loin) / Fraction(spacing))
    plan = read(text)
    assert plan.spots_each(plan.regions[0]) == min(most, max(1, exact))
    assert read(write_plan(plan)) == plan


def test_spacing_comes_from_the_region_then_the_session_then_the_head() -> None:
    without = changed(TAPED, ("spots = 4", "most_spots = 20"))
    head = changed(FOOTPRINT, text=without)
    session = changed(("move_seconds = 8", "move_seconds = 8\nspacing_cm = 2.0"), text=head)
    region = changed(("most_spots = 20", "most_spots = 20\nspacing_cm = 5.0"), text=session)
    # 17.5 cm: / 3 (the head), / 2, / 5
    assert [each(head), each(session), each(region)] == [6, 9, 4]


def test_the_plans_own_number_rules_whatever_was_taped() -> None:
    assert each(changed(TAPED, FOOTPRINT)) == 4
    assert each(PLAN) == 4


def test_a_junction_or_joint_without_a_number_has_one_spot_on_each_side_and_face() -> None:
    text = changed(("spots = 1\n", ""))
    assert len([spot for spot in spots_of(read(text)) if spot.region == "hip"]) == 2


def test_the_prescribers_cap_holds_and_that_is_said() -> None:
    text = changed(TAPED, ("spots = 4", "spacing_cm = 3.0\nmost_spots = 5"))
    assert each(text) == 5
    assert ("regions[1].most_spots", "the tape gives 6 spots; the prescriber's 5 hold") in remarks(
        text
    )


def test_a_slip_of_the_tape_cannot_add_dose_without_a_cap() -> None:
    (problem,) = problems_of(changed(TAPED, ("spots = 4", "spacing_cm = 3.0")))
    assert (problem.field, problem.found) == (
        "regions[1].most_spots",
        "nothing, and the tape gives 6 spots",
    )
    (problem,) = problems_of(changed(("spots = 4", "spots = 4\nmost_spots = 3")))
    assert (problem.field, problem.found) == ("regions[1].spots", "4")


@pytest.mark.parametrize(
    ("lines", "field", "found"),
    [
        ("neck_cm = 23.9", "dog.back_cm", "nothing"),
        ("loin_cm = 12", "dog.neck_cm", "nothing"),
        ("neck_cm = 239\nback_cm = 41.6", "dog.neck_cm", "239"),
        ("neck_cm = 23.95\nback_cm = 41.6", "dog.neck_cm", "23.95"),
        ("measured_on = 2026-11-26", "dog.measured_on", "2026-11-26"),
    ],
)
def test_measures_that_cannot_be(lines: str, field: str, found: str) -> None:
    problems = problems_of(changed((TAPED[0], f"{TAPED[0]}\n{lines}")))
    assert (field, found) in [(problem.field, problem.found) for problem in problems]


def test_inches_for_centimetres_are_asked_about() -> None:
    # A beagle of 8.5 kg measures about 50 cm (ACVS 2022, abstract): 20 are inches.
    text = changed((TAPED[0], "weight_kg = 8.5\nneck_cm = 8\nback_cm = 12"))
    ((field, words),) = remarks(text)
    assert field == "dog"
    assert "were these inches?" in words
    assert "50.0 cm" in words
    assert remarks(changed((TAPED[0], "weight_kg = 8.5\nneck_cm = 20\nback_cm = 30"))) == []


def test_parts_that_do_not_add_up_to_the_back_are_asked_about() -> None:
    # 19.1 + 12.0 + 5.0 = 36.1 of 41.6 cm: more than 10 % apart (house rule).
    ((_, words),) = remarks(changed((TAPED[0], TAPED[1] + "\nloin_cm = 12")))
    assert "tape all of them once more" in words
    assert remarks(changed((TAPED[0], TAPED[1] + "\nloin_cm = 17.5\nrib_cm = 19"))) == []


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        # Over 10 % (common practice, no source): 9.5 kg from 8.6 is 10.5 %.
        ("weight_when_measured_kg = 8.6", "over 10 %"),
        ("growing = true", "still growing"),
        ("measured_on = 2026-10-31", "new plan"),
    ],
)
def test_when_to_take_the_tape_again(lines: str, words: str) -> None:
    ((field, text),) = remarks(changed((TAPED[0], f"{TAPED[1]}\n{lines}")))
    assert field == "dog"
    assert text.startswith("take the tape again")
    assert words in text


def test_no_reason_to_take_the_tape_again() -> None:
    lines = "weight_when_measured_kg = 8.7\nmeasured_on = 2026-11-01"
    assert remarks(changed((TAPED[0], f"{TAPED[1]}\n{lines}"))) == []


def test_overlaps_and_gaps_are_remarked_and_coverage_is_told() -> None:
    # 17.5 cm and a head of 3 cm: four spots cover 12 cm, 69 %; two leave 5.75 cm between them
    # (8.75 - 3); ten overlap by 1.25 cm (3 - 1.75).
    four = changed(TAPED, FOOTPRINT)
    assert remarks(four) == []
    assert "17.5 cm (14.9 to 20.1), 69 % of it under the head" in " ".join(told(four).split())
    row = as_data(four)["regions"][1]
    assert (row["length_cm"], row["covered"]) == (17.5, 0.685714)
    ((field, words),) = remarks(changed(("spots = 4", "spots = 2"), text=four))
    assert field == "regions[1]"
    assert "gaps of 58 mm" in words
    ((_, words),) = remarks(changed(("spots = 4", "spots = 10"), text=four))
    assert "overlap by 12 mm" in words
