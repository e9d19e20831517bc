"""The trend of scores against referees: scipy.stats, pymannkendall, all permutations."""

import math
import random
from itertools import permutations

import numpy as np
import pymannkendall  # type: ignore[import-untyped]
import pytest
import scipy.stats  # type: ignore[import-untyped]
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from coach.record.trend import EXACT_UP_TO, Trend, trend_of

SCORES = st.lists(st.integers(0, 10), min_size=5, max_size=40)


def found(days: list[float], scores: list[float]) -> Trend:
    """The trend, after what does not depend on how many there are was held against scipy."""
    trend = trend_of(days, scores)
    assert trend is not None
    with np.errstate(invalid="ignore"):
        lines = scipy.stats.theilslopes(scores, days, alpha=0.95)
    kendall = scipy.stats.kendalltau(days, scores)
    assert trend.slope == pytest.approx(lines.slope, abs=1e-12)
    assert trend.level == pytest.approx(lines.intercept, abs=1e-9)
    assert trend.tau == pytest.approx(kendall.statistic, abs=1e-12)
    if trend.interval is not None:
        assert trend.coverage is not None
        assert trend.coverage >= 0.95
        assert trend.interval[0] <= trend.slope <= trend.interval[1]
        if len(days) > EXACT_UP_TO and len(set(days)) == len(days):
            # scipy rounds to the nearest slope, we to the outside.
            assert trend.interval[0] <= lines.low_slope + 1e-12
            assert trend.interval[1] >= lines.high_slope - 1e-12
    return trend


@settings(max_examples=40)
@given(scores=SCORES, data=st.data())
def test_scores_of_a_whole_number_agree_with_scipy(scores: list[int], data: st.DataObject) -> None:
    assume(len(set(scores)) > 1)
    size = len(scores)
    days = data.draw(st.lists(st.integers(0, 400), min_size=size, max_size=size))
    assume(len(set(days)) > 1)
    found([float(day) for day in sorted(days)], [float(score) for score in scores])


@settings(max_examples=20)
@given(scores=st.lists(st.integers(0, 10**6), min_size=5, max_size=33, unique=True))
def test_p_of_totals_that_never_come_twice_is_that_of_scipy(scores: list[int]) -> None:
    days = [7.0 * week for week in range(len(scores))]
    exact = scipy.stats.kendalltau(days, scores, method="exact").pvalue
    assert found(days, list(map(float, scores))).p == pytest.approx(exact, rel=1e-9)


@settings(max_examples=15, deadline=None)
@given(
    scores=st.lists(st.integers(0, 4), min_size=5, max_size=7),
    days=st.lists(st.integers(0, 5), min_size=7, max_size=7),
)
def test_p_of_few_scores_is_that_of_all_permutations(scores: list[int], days: list[int]) -> None:
    on = sorted(days[: len(scores)])
    assume(len(set(scores)) > 1 and len(set(on)) > 1)

    def signs(order: tuple[int, ...]) -> int:
        return sum(
            (order[j] > order[i]) - (order[j] < order[i])
            for j in range(len(on))
            for i in range(j)
            if on[j] > on[i]
        )

    least = abs(signs(tuple(scores)))
    far = sum(abs(signs(order)) >= least for order in permutations(scores))
    p = found(list(map(float, on)), list(map(float, scores))).p
    assert p == pytest.approx(far / math.factorial(len(scores)))


@settings(max_examples=20)
@given(scores=st.lists(st.integers(0, 10), min_size=11, max_size=40))
def test_p_of_more_scores_with_ties_is_that_of_pymannkendall(scores: list[int]) -> None:
    assume(1 < len(set(scores)) < len(scores))
    days = [float(day) for day in range(len(scores))]
    p = pymannkendall.original_test(scores).p
    assert found(days, list(map(float, scores))).p == pytest.approx(p, rel=1e-6, abs=1e-12)


def test_six_scores_with_ties_are_no_longer_called_clear() -> None:
    scores = [1.0, 1.0, 1.0, 2.0, 4.0, 3.0]
    days = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
    normal = scipy.stats.kendalltau(days, scores, method="asymptotic").pvalue
    assert normal == pytest.approx(0.044, abs=5e-4)
    # 48 of all 720 permutations, counted; pymannkendall says 0.070.
    assert found(days, scores).p == pytest.approx(48 / 720)


@pytest.mark.parametrize(
    ("size", "runs"),
    [(5, 300), (12, 300)]
    + [pytest.param(size, 3000, marks=pytest.mark.long) for size in range(5, 13)],
)
@pytest.mark.parametrize("whole", [False, True])
def test_the_interval_covers_what_it_says(size: int, runs: int, whole: bool) -> None:
    """Chance alone: 0 lies in the interval as often as is told, and at least where scores tie."""
    dice = random.Random(size)
    inside, told = 0, 0.95
    for _ in range(runs):
        scores = [float(dice.randint(0, 10)) if whole else dice.random() for _ in range(size)]
        trend = trend_of([float(day) for day in range(size)], scores)
        if trend is None:
            # All the same: a slope of 0.
            inside += 1
            continue
        assert trend.interval is not None
        assert trend.coverage is not None
        told = trend.coverage
        inside += trend.interval[0] <= 0 <= trend.interval[1]
    rate, spread = inside / runs, math.sqrt(told * (1 - told) / runs)
    assert rate >= told - 4 * spread
    assert whole or rate <= told + 4 * spread
    assert 0.95 <= told < 0.99


@pytest.mark.parametrize(
    ("days", "scores"),
    [
        ([0, 1, 2, 3], [1, 2, 3, 4]),  # fewer than five
        ([3, 3, 3, 3, 3], [1, 2, 3, 4, 5]),  # all of one day
        ([0, 1, 2, 3, 4], [4, 4, 4, 4, 4]),  # all the same
        ([], []),
    ],
)
def test_too_few_to_say(days: list[float], scores: list[float]) -> None:
    assert trend_of(days, scores) is None


def test_days_and_scores_go_in_pairs() -> None:
    with pytest.raises(ValueError, match="2 days and 1 scores"):
        trend_of([1, 2], [3])
