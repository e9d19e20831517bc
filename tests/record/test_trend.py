"""The trend of scores: the same figures as scipy.stats, the independent referee."""

import numpy as np
import pytest
import scipy.stats  # type: ignore[import-untyped]
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from coach.record.trend import trend_of

SCORES = st.lists(st.integers(0, 10), min_size=5, max_size=40)


def agree(days: list[float], scores: list[float]) -> None:
    found = trend_of(days, scores)
    assert found is not None
    with np.errstate(invalid="ignore"):
        lines = scipy.stats.theilslopes(scores, days, alpha=0.95)
    kendall = scipy.stats.kendalltau(days, scores)
    assert found.slope == pytest.approx(lines.slope, abs=1e-12)
    assert found.level == pytest.approx(lines.intercept, abs=1e-9)
    if found.interval is None:
        assert np.isnan(lines.low_slope)
    else:
        both = lines.low_slope, lines.high_slope
        assert found.interval == pytest.approx(both, abs=1e-12)
    assert found.tau == pytest.approx(kendall.statistic, abs=1e-12)
    assert found.p == pytest.approx(kendall.pvalue, rel=1e-9, abs=1e-15)


@settings(max_examples=40)
@given(scores=SCORES, data=st.data())
def test_scores_of_a_whole_number_with_ties_agree_with_scipy(
    scores: list[int], data: st.DataObject
) -> None:
    assume(len(set(scores)) > 1)
    size = len(scores)
    days = data.draw(st.lists(st.integers(0, 400), min_size=size, max_size=size))
    assume(len(set(days)) > 1)
    agree([float(day) for day in sorted(days)], [float(score) for score in scores])


@settings(max_examples=20)
@given(scores=st.lists(st.integers(0, 10**6), min_size=5, max_size=40, unique=True))
def test_totals_that_never_come_twice_agree_with_scipy(scores: list[int]) -> None:
    agree([7.0 * week for week in range(len(scores))], [float(score) for score in scores])


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
