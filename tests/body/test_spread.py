"""Spots along a region: count, places, coverage, and what is worth a remark."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.body.spread import coverage, places, spot_count


# By hand: 17.5 / 3.0 = 5.83 and 18 / 3 = 6 exactly. In floating point 4.2 / 1.4 and 2.1 / 0.7
# come out above 3: a ceiling of floats gives 4 spots there.
@pytest.mark.parametrize(
    ("length_mm", "spacing_mm", "count"),
    [(175, 30, 6), (180, 30, 6), (181, 30, 7), (42, 14, 3), (21, 7, 3), (0, 30, 1), (1, 30, 1)],
)
def test_count(length_mm: int, spacing_mm: int, count: int) -> None:
    assert spot_count(length_mm=length_mm, spacing_mm=spacing_mm) == count


@given(st.integers(0, 2000), st.integers(1, 300))
def test_count_is_the_least_that_keeps_the_spacing(length_mm: int, spacing_mm: int) -> None:
    count = spot_count(length_mm=length_mm, spacing_mm=spacing_mm)
    assert count * spacing_mm >= length_mm
    assert count == 1 or (count - 1) * spacing_mm < length_mm


def test_the_cap_always_holds() -> None:
    assert spot_count(length_mm=600, spacing_mm=30, cap=8) == 8
    assert spot_count(length_mm=60, spacing_mm=30, cap=8) == 2


@given(st.integers(1, 60))
def test_places_are_even_and_mirror_each_other(count: int) -> None:
    found = places(count)
    assert len(found) == count
    assert all(b - a == Fraction(1, count) for a, b in pairwise(found))
    assert found[0] == 1 - found[-1] == Fraction(1, 2 * count)


# By hand: 6 spots of 20 mm on 180 mm cover 120 mm, with 10 mm between them.
def test_coverage_by_hand() -> None:
    found = coverage(length_mm=180, count=6, footprint_mm=20)
    assert found.covered == Fraction(2, 3)
    assert found.gap_mm == 10
    assert found.overlap_mm == 0
    assert found.remark == ""


@pytest.mark.parametrize(
    ("length_mm", "count", "footprint_mm", "remark"),
    [
        (180, 6, 30, ""),  # they just touch
        (175, 6, 30, ""),  # the count was rounded up: 0.8 mm shared
        (90, 6, 30, "overlap by 15 mm"),
        (180, 2, 30, "gaps of 60 mm"),
        (120, 2, 30, ""),  # the gap is as wide as the head
        (121, 2, 30, "gaps of 30 mm"),
        (10, 1, 30, ""),
    ],
)
def test_remarks(length_mm: int, count: int, footprint_mm: int, remark: str) -> None:
    found = coverage(length_mm=length_mm, count=count, footprint_mm=footprint_mm).remark
    assert remark in found
    assert bool(found) == bool(remark)


@given(st.integers(1, 1000), st.integers(1, 40), st.integers(1, 100))
def test_coverage_agrees_with_laying_the_head_down(
    length_mm: int, count: int, footprint_mm: int
) -> None:
    """The union of the intervals, cut at both ends of the region, counted one by one."""
    half = Fraction(footprint_mm, 2)
    covered, reached = Fraction(0), Fraction(0)
    for place in places(count):
        start = max(place * length_mm - half, reached)
        end = min(place * length_mm + half, Fraction(length_mm))
        covered += max(Fraction(0), end - start)
        reached = max(reached, end)
    found = coverage(length_mm=length_mm, count=count, footprint_mm=footprint_mm)
    assert found.covered == covered / length_mm


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: spot_count(length_mm=-1, spacing_mm=30), "length_mm: -1 found"),
        (lambda: spot_count(length_mm=1, spacing_mm=0), "spacing_mm: 0 found"),
        (lambda: spot_count(length_mm=1, spacing_mm=1, cap=0), "cap: 0 found"),
        (lambda: places(0), "count: 0 found"),
        (lambda: coverage(length_mm=0, count=1, footprint_mm=1), "length_mm: 0 found"),
        (lambda: coverage(length_mm=1, count=1, footprint_mm=0), "footprint_mm: 0 found"),
    ],
)
def test_nonsense_is_refused_by_name(call: object, words: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=words):
        call()
