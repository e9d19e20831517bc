"""Integer base units: exact sums, one rounding in, one rounding out."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach import units

decimals = st.decimals(
    min_value=0, max_value=10**6, places=12, allow_nan=False, allow_infinity=False
)


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[Fraction]:
    return pint.UnitRegistry(non_int_type=Fraction)


# Source of every factor: the SI, as pint (an independent library) has it.
@pytest.mark.parametrize(
    ("convert", "from_unit", "to_unit"),
    [
        (units.ns_from_s, "s", "ns"),
        (units.uw_from_mw, "mW", "uW"),
        (units.um2_from_cm2, "cm**2", "um**2"),
        (units.fj_from_j, "J", "fJ"),
    ],
)
def test_going_in_pint_agrees(
    registry: pint.UnitRegistry[Fraction],
    convert: Callable[[Decimal], int],
    from_unit: str,
    to_unit: str,
) -> None:
    expected = registry.Quantity(Fraction("1.25"), from_unit).to(to_unit).magnitude
    assert convert(Decimal("1.25")) == expected


def test_a_femtojoule_is_a_microwatt_for_a_nanosecond(
    registry: pint.UnitRegistry[Fraction],
) -> None:
    energy = registry.Quantity(Fraction(1), "uW * ns")
    assert energy.to("fJ").magnitude == 1


@given(value=decimals)
def test_there_and_back_loses_at_most_half_a_base_unit(value: Decimal) -> None:
    exact = Fraction(value)
    half = Fraction(1, 2)
    assert abs(units.s_from_ns(units.ns_from_s(value)) - exact) <= half / units.NS_PER_S
    assert abs(units.mw_from_uw(units.uw_from_mw(value)) - exact) <= half / units.UW_PER_MW
    assert abs(units.cm2_from_um2(units.um2_from_cm2(value)) - exact) <= half / units.UM2_PER_CM2
    assert abs(units.j_from_fj(units.fj_from_j(value)) - exact) <= half / units.FJ_PER_J


@given(whole=st.integers(min_value=0, max_value=10**18))
def test_a_whole_number_of_base_units_comes_back_exactly(whole: int) -> None:
    assert units.ns_from_s(units.s_from_ns(whole)) == whole
    assert units.uw_from_mw(units.mw_from_uw(whole)) == whole
    assert units.um2_from_cm2(units.cm2_from_um2(whole)) == whole
    assert units.fj_from_j(units.j_from_fj(whole)) == whole


@pytest.mark.parametrize(
    ("value", "places", "shown"),
    [
        # Half to even, the tie rule of IEEE 754 and of Decimal's ROUND_HALF_EVEN.
        ("0.5", 0, "0"),
        ("1.5", 0, "2"),
        ("2.5", 0, "2"),
        ("0.125", 2, "0.12"),
        ("0.135", 2, "0.14"),
        ("15", 1, "15.0"),
        ("-0.125", 2, "-0.12"),
    ],
)
def test_one_rounding_rule_at_display(value: str, places: int, shown: str) -> None:
    assert str(units.rounded(Fraction(value), places)) == shown


def test_no_float_residue_in_fifteen_joules() -> None:
    # 0.1 s steps at 500 mW: in floats 300 of them give 14.999999999999943 J.
    step = units.uw_from_mw(500) * units.ns_from_s(Decimal("0.1"))
    assert units.j_from_fj(sum([step] * 300)) == 15


@pytest.mark.parametrize(
    ("duration_ns", "seconds"),
    [(0, 0), (1, 1), (10**9, 1), (10**9 + 1, 2), (59_999_999_999, 60)],
)
def test_a_countdown_is_rounded_up(duration_ns: int, seconds: int) -> None:
    assert units.ceil_s(duration_ns) == seconds


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0"),
        (45, "45"),
        (59, "59"),
        (60, "1:00"),
        (65, "1:05"),
        (3600, "1:00:00"),
        (3723, "1:02:03"),
    ],
)
def test_seconds_as_on_a_clock(seconds: int, text: str) -> None:
    assert units.clock_text(seconds) == text


@given(st.integers(1, 600), st.floats(0, 1))
def test_what_was_given_and_what_is_left_make_the_whole(hold_s: int, share: float) -> None:
    hold_ns = hold_s * units.NS_PER_S
    given_ns = int(hold_ns * share)
    assert units.floor_s(given_ns) + units.ceil_s(hold_ns - given_ns) == hold_s
