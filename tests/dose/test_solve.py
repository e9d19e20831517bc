"""The calculator: round trips, what does not close, what has no answer, and its JSON."""

import json
from fractions import Fraction
from importlib.resources import files
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from coach.dose import energy
from coach.dose.quantity import BOUNDS, Quantity, parse
from coach.dose.relations import COHERENT, RELATIONS, closure
from coach.dose.solve import RULE, CannotSolve, DoseJson, Solution, solve, to_json

SCHEMA = TypeAdapter(DoseJson)

powers_uw = st.integers(min_value=1_000, max_value=30_000_000)
durations_ns = st.integers(min_value=1_000_000, max_value=1_800_000_000_000)
areas_um2 = st.integers(min_value=100_000, max_value=10**10)


def asked(given: dict[Quantity, str], **counts: int) -> Solution:
    return solve({name: parse(name, text) for name, text in given.items()}, **counts)


@given(power_uw=powers_uw, duration_ns=durations_ns)
def test_time_to_energy_to_time_is_exact(power_uw: int, duration_ns: int) -> None:
    dose_fj = energy.energy_fj(power_uw=power_uw, duration_ns=duration_ns)
    assert energy.duration_ns(energy_fj=dose_fj, power_uw=power_uw) == duration_ns


@given(power_uw=powers_uw, energy_fj=st.integers(min_value=10**12, max_value=10**18))
def test_energy_to_time_to_energy_is_off_by_half_a_nanosecond_at_most(
    power_uw: int, energy_fj: int
) -> None:
    duration = energy.duration_ns(energy_fj=energy_fj, power_uw=power_uw)
    again = energy.energy_fj(power_uw=power_uw, duration_ns=duration)
    assert 2 * abs(again - energy_fj) <= power_uw
    assert energy.duration_ns(energy_fj=again, power_uw=power_uw) == duration


@given(power_uw=powers_uw, duration_ns=durations_ns, area_um2=areas_um2)
def test_the_solver_goes_from_time_to_fluence_and_back_exactly(
    power_uw: int, duration_ns: int, area_um2: int
) -> None:
    power, area = Fraction(power_uw, 1000), Fraction(area_um2, 10**8)
    there = solve(
        {
            "mean_power_mw": power,
            "duration_s": Fraction(duration_ns, 10**9),
            "beam_area_cm2": area,
        }
    )
    assert there.energy_fj == power_uw * duration_ns
    back = solve(
        {
            "mean_power_mw": power,
            "beam_area_cm2": area,
            "fluence_j_cm2": there.values["fluence_j_cm2"],
        }
    )
    assert back.duration_ns == duration_ns
    assert back.mean_power_uw == power_uw
    assert back.beam_area_um2 == area_um2
    assert back.energy_fj == there.energy_fj
    assert dict(back.values) == dict(there.values)


@given(
    fluence=st.fractions(Fraction(1, 100), 2000, max_denominator=1000),
    area_um2=areas_um2,
    power_uw=powers_uw,
)
def test_fluence_to_energy_to_fluence_is_exact_to_the_femtojoule(
    fluence: Fraction, area_um2: int, power_uw: int
) -> None:
    dose_fj = energy.energy_for_fluence_fj(fluence_j_cm2=fluence, beam_area_um2=area_um2)
    again = energy.fluence_j_cm2(energy_fj=dose_fj, beam_area_um2=area_um2)
    assert energy.energy_for_fluence_fj(fluence_j_cm2=again, beam_area_um2=area_um2) == dose_fj
    assert abs(again - fluence) <= Fraction(1, 2 * 10**15) / Fraction(area_um2, 10**8)


# Source: dimensional analysis by pint, an independent library.
@pytest.mark.parametrize("relation", RELATIONS)
def test_every_relation_has_the_right_dimensions_and_factors(
    relation: tuple[Quantity, Quantity, Quantity],
) -> None:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()

    def one(quantity: Quantity) -> Any:
        unit = BOUNDS[quantity].unit.replace("%", "percent").replace("m2", "m**2")
        return registry.Quantity(3.0, unit)

    product, left, right = relation
    values = closure({left: Fraction(3), right: Fraction(3)}).values
    expected = (one(left) * one(right)).to(one(product).units).magnitude
    assert float(values[product]) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("relation", RELATIONS)
def test_any_two_of_a_relation_give_the_third(
    relation: tuple[Quantity, Quantity, Quantity],
) -> None:
    product, left, right = relation
    whole = closure({left: Fraction(7), right: Fraction(11)}).values
    for wanted in relation:
        others = {name: whole[name] for name in (product, left, right) if name != wanted}
        assert closure(others).values[wanted] == whole[wanted]


@pytest.mark.parametrize(
    ("given", "slip"),
    [
        # Each stated value is worked out by hand from the slip that its row names.
        ({"mean_power_mw": "20 W", "duration_s": "60 s", "energy_j": "1.2 J"}, "mW written as W"),
        ({"mean_power_mw": "5 mW", "duration_s": "60 s", "energy_j": "300 J"}, "W written as mW"),
        (
            {
                "mean_power_mw": "6 W",
                "duty_cycle_percent": "50 %",
                "duration_s": "10 s",
                "energy_j": "30 J",
            },
            "peak power taken for the mean power",
        ),
        (
            {
                "mean_power_mw": "3 W",
                "peak_power_mw": "6 W",
                "duration_s": "10 s",
                "energy_j": "60 J",
            },
            "mean power taken for the peak power",
        ),
        # 1.34 min is 80.4 s; 1 min 34 s is 94 s.
        (
            {"mean_power_mw": "1 W", "duration_s": "80.4 s", "energy_j": "94 J"},
            "1.34 min is 80.4 s, 1 min 34 s is 94 s",
        ),
        (
            {"mean_power_mw": "1 W", "duration_s": "1:34", "energy_j": "80.4 J"},
            "1 min 34 s is 94 s, 1.34 min is 80.4 s",
        ),
        (
            {"mean_power_mw": "1 W", "duration_s": "2 s", "energy_j": "120 J"},
            "minutes written as seconds",
        ),
        (
            {"mean_power_mw": "1 W", "duration_s": "120 s", "energy_j": "2 J"},
            "seconds written as minutes",
        ),
        (
            {
                "mean_power_mw": "60 mW",
                "duration_s": "50 s",
                "beam_area_cm2": "0.5 cm2",
                "aperture_area_cm2": "0.05 cm2",
                "fluence_j_cm2": "60 J/cm2",
            },
            "aperture area taken for the beam area",
        ),
        (
            {
                "mean_power_mw": "3.5 W",
                "duration_s": "120 s",
                "beam_area_cm2": "5 cm2",
                "swept_area_cm2": "30 cm2",
                "fluence_j_cm2": "14 J/cm2",
            },
            "beam area at the skin and swept area mixed up",
        ),
        (
            {
                "mean_power_mw": "50 mW",
                "duration_s": "100 s",
                "beam_area_cm2": "50 cm2",
                "fluence_j_cm2": "10 J/cm2",
            },
            "mm2 written as cm2",
        ),
        (
            {
                "mean_power_mw": "50 mW",
                "duration_s": "100 s",
                "beam_area_cm2": "1 cm2",
                "fluence_j_cm2": "1.25 J/cm2",
            },
            "radius taken for the diameter",
        ),
        (
            {"energy_j": "2 J", "beam_area_cm2": "1 cm2", "fluence_j_cm2": "0.002 J/cm2"},
            "mJ written as J",
        ),
    ],
)
def test_what_does_not_close_names_the_likely_slip(given: dict[Quantity, str], slip: str) -> None:
    found = asked(given).not_closing
    assert any(slip in text for finding in found for text in finding.slips), found


@pytest.mark.parametrize(
    ("stated", "closes"),
    [("95.3 J", True), ("95.2 J", False), ("105.2 J", True), ("105.3 J", False)],
)
def test_five_percent_is_measured_against_what_is_stated(stated: str, closes: bool) -> None:
    # |P t - E| / E with P t = 100 J: 100/95.3 = 1.0493, 100/95.2 = 1.0504,
    # 100/105.2 = 0.9506, 100/105.3 = 0.9497.
    solution = asked({"mean_power_mw": "1 W", "duration_s": "100 s", "energy_j": stated})
    assert (solution.not_closing == ()) is closes
    assert solution.values["energy_j"] == 100


def test_the_arithmetic_shows_every_step_on_the_way() -> None:
    # D10 (Fukuda 2011, quoted by Fangel 2019, R2): 60 mW for 50 s over 0.5 cm2 is 3 J, 6 J/cm2.
    found = closure(
        {
            "mean_power_mw": Fraction(60),
            "duration_s": Fraction(50),
            "beam_area_cm2": Fraction("0.5"),
        }
    )
    assert found.arithmetic("fluence_j_cm2") == (
        "energy = mean power × duration = 0.06 W × 50 s = 3 J; "
        "fluence = energy / beam area = 3 J / 0.5 cm2 = 6 J/cm2"
    )
    assert found.arithmetic("duration_s") == ""


def test_time_and_power_rule_over_a_stated_dose() -> None:
    solution = asked(
        {
            "energy_j": "10 J",
            "mean_power_mw": "100 mW",
            "duration_s": "50 s",
            "fluence_j_cm2": "8 J/cm2",
        }
    )
    assert solution.values["energy_j"] == 5
    # The fluence is no second opinion on the energy: with it the beam area follows.
    assert solution.values["beam_area_cm2"] == Fraction(5, 8)
    assert [finding.quantity for finding in solution.not_closing] == ["energy_j"]


def test_a_diameter_beside_another_area_is_compared() -> None:
    solution = asked({"diameter_mm": "10 mm", "beam_area_cm2": "3.14 cm2", "energy_j": "1 J"})
    (finding,) = solution.not_closing
    # pi/4 x (1 cm)^2 = 0.7854 cm2; 3.14 cm2 is a radius taken for a diameter.
    assert float(finding.computed) == pytest.approx(0.7854, rel=1e-4)
    assert "10 mm" in finding.arithmetic
    assert str(finding).startswith("beam area: stated 3.14 cm2, but beam area = pi/4")
    assert finding.slips == ()


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"mean_power_mw": "500 mW"},
        {"energy_j": "4 J", "frequency_hz": "100 Hz"},
        {"mean_power_mw": "500 mW", "aperture_area_cm2": "1 cm2"},
    ],
)
def test_too_little_is_refused_and_says_what_would_do(given: dict[Quantity, str]) -> None:
    with pytest.raises(CannotSolve, match="any two of mean power, time and energy"):
        asked(given)


@pytest.mark.parametrize(
    "given",
    [
        {"mean_power_mw": "18 W", "peak_power_mw": "12 W"},
        {"pulse_width_us": "20 ms", "frequency_hz": "100 Hz"},
    ],
)
def test_a_head_that_is_on_for_over_all_the_time_is_refused(given: dict[Quantity, str]) -> None:
    with pytest.raises(CannotSolve, match="over 100 %"):
        asked(given)


@pytest.mark.parametrize(
    ("given", "counts"),
    [
        ({"energy_j": Fraction(0), "mean_power_mw": Fraction(1)}, {}),
        ({"energy_j": Fraction(1), "mean_power_mw": Fraction(-1)}, {}),
        ({"energy_j": Fraction(1), "wavelength_nm": Fraction(808)}, {}),
        ({"energy_j": Fraction(1), "mean_power_mw": Fraction(1)}, {"spots": 0}),
        ({"energy_j": Fraction(1), "mean_power_mw": Fraction(1)}, {"sessions": -1}),
    ],
)
def test_a_wrong_call_is_refused(given: dict[Quantity, Fraction], counts: dict[str, int]) -> None:
    with pytest.raises(ValueError, match=r"must be more than zero|no part of a dose|at least 1"):
        solve(given, **counts)


def test_unusual_numbers_are_remarked_on_whether_given_or_computed() -> None:
    # 3 J at 0.5 mW take 6000 s: the power looks like watts.
    solution = asked({"energy_j": "3 J", "mean_power_mw": "0.5 mW"})
    assert any("mean power" in text and "watts" in text for text in solution.remarks)
    assert any("6000 s" in text for text in solution.remarks)


@given(
    st.dictionaries(
        st.sampled_from(RULE),
        st.fractions(Fraction(1, 1000), 1000, max_denominator=1000),
        max_size=len(RULE),
    )
)
def test_whatever_is_given_is_answered_or_refused_and_nothing_rules_twice(
    given: dict[Quantity, Fraction],
) -> None:
    try:
        solution = solve(given)
    except CannotSolve:
        return
    values = solution.values
    for product, left, right in RELATIONS:
        if {product, left, right} <= values.keys():
            size = {name: values[name] * COHERENT[name][1] for name in (product, left, right)}
            assert size[product] == size[left] * size[right]
    for name, stated in given.items():
        off = abs(values[name] - stated) / stated
        flagged = name in {finding.quantity for finding in solution.not_closing}
        assert flagged is (off > Fraction(5, 100))
    SCHEMA.validate_python(to_json(solution), strict=True)


def test_the_json_has_every_value_and_keeps_to_its_schema() -> None:
    solution = asked(
        {"mean_power_mw": "60 mW", "duration_s": "50 s", "beam_area_cm2": "0.5 cm2"},
        spots=9,
        sessions=6,
    )
    # D10 (Fukuda 2011, quoted by Fangel 2019, R2): 3 J a spot, 27 J for 9 points.
    plain_json = json.loads(json.dumps(to_json(solution), allow_nan=False))
    assert plain_json["values"]["energy_j"] == 3
    assert plain_json["exact"]["energy_fj"] == 3 * 10**15
    assert plain_json["exact"]["duration_ns"] == 50 * 10**9
    assert plain_json["session_energy_j"] == 27
    assert plain_json["course_energy_j"] == 162
    assert plain_json["values"]["peak_power_mw"] is None
    assert set(plain_json["values"]) == set(COHERENT)
    assert plain_json["closes"] is True


def test_the_schema_in_the_project_is_the_one_of_the_code() -> None:
    text = (files("coach.dose") / "dose.schema.json").read_text(encoding="utf-8")
    assert json.loads(text) == SCHEMA.json_schema()
