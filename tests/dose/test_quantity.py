"""Quantities as people write them: what is read, and what is refused with a helpful word."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.dose.quantity import (
    BOUNDS,
    Ambiguous,
    BadQuantity,
    Quantity,
    WrongUnit,
    bound_problem,
    minutes_point_seconds,
    parse,
    plain,
    unit_hint,
)

QUANTITIES: list[Quantity] = list(BOUNDS)


@pytest.mark.parametrize(
    ("quantity", "text", "expected"),
    [
        ("mean_power_mw", "800mW", 800),
        ("mean_power_mw", "0.5 W", 500),
        ("mean_power_mw", " 0.5   W ", 500),
        ("mean_power_mw", "2.5e2 mW", 250),
        ("mean_power_mw", "39900 uW", Fraction("39.9")),
        ("duration_s", "90s", 90),
        ("duration_s", "1:30", 90),
        ("duration_s", "0:45", 45),
        ("duration_s", "1:59", 119),
        ("duration_s", "1:59:59", 7199),
        ("duration_s", "1:02:03", 3723),
        ("duration_s", "2 min", 120),
        ("duration_s", "1 min 34 s", 94),
        ("duration_s", "80.4 s", Fraction("80.4")),
        ("energy_j", "4 J", 4),
        ("fluence_j_cm2", "4J/cm2", 4),
        ("fluence_j_cm2", "4 J/cm²", 4),
        ("fluence_j_cm2", "4 J/cm^2", 4),
        ("fluence_j_cm2", "40000 J/m2", 4),
        ("irradiance_mw_cm2", "0.7 W/cm2", 700),
        ("beam_area_cm2", "0.5 cm2", Fraction("0.5")),
        ("beam_area_cm2", "50 mm2", Fraction("0.5")),
        ("diameter_mm", "1 cm", 10),
        ("wavelength_nm", "808 nm", 808),
        ("frequency_hz", "9.5 kHz", 9500),
        ("pulse_width_us", "60 ns", Fraction("0.06")),
        ("pulse_width_us", "200 µs", 200),
        ("pulse_width_us", "200 μs", 200),  # the Greek letter, which keyboards also give
        ("pulse_width_us", "3 ms", 3000),
        ("duty_cycle_percent", "50 %", 50),
    ],
)
def test_a_quantity_is_read_exactly(quantity: Quantity, text: str, expected: Fraction) -> None:
    assert parse(quantity, text) == expected


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        # dosimetry: "1.34 min" is not 1 min 34 s.
        ("1.34 min", ["80.4 s", "1 min 34 s", "94 s"]),
        ("2.5 min", ["150 s", "2 min 50 s"]),
        ("1.75 min", ["105 s"]),
        ("1:5", ["1:05", "1:50"]),
    ],
)
def test_a_time_with_two_readings_is_refused_and_both_are_shown(
    text: str, readings: list[str]
) -> None:
    with pytest.raises(Ambiguous) as caught:
        parse("duration_s", text)
    for reading in readings:
        assert reading in caught.value.hint
    assert text in caught.value.found
    assert caught.value.quantity == "duration_s"
    assert "mm:ss" in caught.value.allowed
    assert str(caught.value) == (
        f"duration: found {caught.value.found}; allowed: {caught.value.allowed} "
        f"({caught.value.hint})"
    )


@pytest.mark.parametrize("quantity", QUANTITIES)
@pytest.mark.parametrize(
    "number", ["0", "-5", "nan", "inf", "-inf", "10^30", "1e30", "1e999999999", "", "five", "٥"]
)
def test_what_is_no_number_of_ours_is_refused(quantity: Quantity, number: str) -> None:
    unit = BOUNDS[quantity].unit
    with pytest.raises(BadQuantity) as caught:
        parse(quantity, f"{number} {unit}")
    assert number in caught.value.found
    assert unit in caught.value.allowed


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_a_missing_unit_is_refused_and_the_units_are_offered(quantity: Quantity) -> None:
    with pytest.raises(BadQuantity) as caught:
        parse(quantity, "500")
    offered = " or ".join(f"500 {unit}" for unit in BOUNDS[quantity].units)
    assert caught.value.hint == f"the unit is missing: {offered}?"


@pytest.mark.parametrize("text", ["1:60", "1:60:00", "0:123", "1:00:75"])
def test_no_clock_shows_sixty_seconds(text: str) -> None:
    with pytest.raises(BadQuantity) as caught:
        parse("duration_s", text)
    assert caught.value.hint == "seconds go from 00 to 59"
    assert caught.value.allowed.endswith("(s, ms, us, ns, min, h) or mm:ss")
    assert parse("duration_s", "75:00") == 4500


def test_only_a_time_may_be_written_as_a_clock() -> None:
    with pytest.raises(BadQuantity) as caught:
        parse("energy_j", "1:30")
    assert caught.value.allowed == "a number above zero with its unit (J, mJ, kJ)"


@pytest.mark.parametrize("text", ["0,5 W", "1,000 mW", ",5 W"])
def test_a_decimal_comma_is_refused(text: str) -> None:
    with pytest.raises(BadQuantity) as caught:
        parse("mean_power_mw", text)
    assert "0.5, not 0,5" in caught.value.hint


def test_millions_of_watts_are_not_taken_for_milliwatts() -> None:
    with pytest.raises(BadQuantity) as caught:
        parse("mean_power_mw", "800 MW")
    assert "800 mW" in caught.value.hint


@pytest.mark.parametrize("text", ["10^3 mW", "5² W", "1_000 mW", "1 000 mW", "1.5.2 W", "5 W W"])
def test_digits_are_never_glued_together(text: str) -> None:
    with pytest.raises(BadQuantity):
        parse("mean_power_mw", text)


@pytest.mark.parametrize(
    ("quantity", "text", "meant"),
    [
        ("wavelength_nm", "0.808 nm", "um"),
        ("wavelength_nm", "808 um", "nm written as um"),
        ("mean_power_mw", "800 W", "mW written as W"),
        ("beam_area_cm2", "5000 cm2", "mm2"),
        ("duration_s", "90000 s", "ms"),
        ("duty_cycle_percent", "150 %", "100 %"),
    ],
)
def test_an_impossible_number_is_refused_with_what_was_meant(
    quantity: Quantity, text: str, meant: str
) -> None:
    with pytest.raises(WrongUnit) as caught:
        parse(quantity, text)
    assert meant in caught.value.hint
    assert BOUNDS[quantity].unit in caught.value.allowed


@pytest.mark.parametrize(
    ("quantity", "value", "meant"),
    [
        ("mean_power_mw", "0.5", "watts"),
        ("duration_s", "0.5", "minutes"),
        ("beam_area_cm2", "500", "mm2"),
        ("wavelength_nm", "0.9", "um"),
    ],
)
def test_an_unusual_number_says_which_unit_it_looks_like(
    quantity: Quantity, value: str, meant: str
) -> None:
    problem = bound_problem(quantity, Decimal(value))
    assert problem is not None
    assert meant in problem
    assert value in problem
    assert meant in unit_hint(quantity, Decimal(value))


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_bounds_are_nested_and_silent_inside(quantity: Quantity) -> None:
    bounds = BOUNDS[quantity]
    assert 0 < bounds.lowest <= bounds.usual_low < bounds.usual_high <= bounds.highest
    assert bound_problem(quantity, bounds.usual_low) is None
    assert bound_problem(quantity, bounds.usual_high) is None
    assert unit_hint(quantity, bounds.usual_low) == unit_hint(quantity, bounds.usual_high) == ""
    assert bound_problem(quantity, bounds.usual_low * Fraction(99, 100)) is not None
    assert bound_problem(quantity, bounds.usual_high * Fraction(101, 100)) is not None


@pytest.mark.parametrize("value", [0, -1])
def test_zero_and_less_are_no_unit_slip(value: int) -> None:
    assert bound_problem("mean_power_mw", value) is not None
    assert unit_hint("mean_power_mw", value) == ""


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[Fraction]:
    return pint.UnitRegistry(non_int_type=Fraction)


# Source of the sizes of units: the SI, as pint (an independent library) has them.
@pytest.mark.parametrize(
    ("quantity", "unit"), [(q, unit) for q in QUANTITIES for unit in BOUNDS[q].units]
)
def test_pint_agrees_on_the_size_and_the_dimension_of_every_unit(
    registry: pint.UnitRegistry[Fraction], quantity: Quantity, unit: str
) -> None:
    def in_pint(name: str) -> str:
        return name.replace("%", "percent").replace("m2", "m**2")

    size = registry.Quantity(Fraction(1), in_pint(unit)).to(in_pint(BOUNDS[quantity].unit))
    assert size.magnitude == BOUNDS[quantity].units[unit]


@given(quantity=st.sampled_from(QUANTITIES), share=st.fractions(0, 1, max_denominator=1000))
def test_what_is_shown_can_be_typed_back(quantity: Quantity, share: Fraction) -> None:
    bounds = BOUNDS[quantity]
    value = bounds.usual_low + share * (bounds.usual_high - bounds.usual_low)
    text = plain(value, digits=9)
    assert parse(quantity, f"{text} {bounds.unit}") == Fraction(text)


@given(st.text(max_size=60), st.sampled_from(QUANTITIES))
def test_any_text_is_a_number_or_a_clear_refusal(text: str, quantity: Quantity) -> None:
    try:
        value = parse(quantity, text)
    except BadQuantity:
        return
    assert BOUNDS[quantity].lowest <= value <= BOUNDS[quantity].highest


@pytest.mark.parametrize(
    ("minutes", "seconds"), [("1.34", 94), ("2.05", 125), ("1.75", None), ("1.345", None)]
)
def test_minutes_with_a_point_read_as_minutes_and_seconds(
    minutes: str, seconds: int | None
) -> None:
    assert minutes_point_seconds(Fraction(minutes)) == seconds


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Fraction(0), "0"),
        (Fraction(2, 3), "0.666667"),
        (Fraction(1, 8), "0.125"),
        (Fraction(350, 6), "58.3333"),
        (Fraction(10123456, 10**6), "10.1235"),
        (Fraction(1200), "1200"),
        (Fraction(123456789), "123456789"),
        (Fraction(51408, 10**7), "0.0051408"),
        (Fraction(-5, 2), "-2.5"),
        (Fraction(9999999, 10000000), "1"),
    ],
)
def test_numbers_are_shown_without_exponent_and_without_noise(value: Fraction, text: str) -> None:
    assert plain(value) == text
