"""Which days of a week have a session: spread as evenly as they can be. Pure."""

from collections.abc import Collection, Sequence
from functools import cache
from itertools import combinations, pairwise

from coach.plan.course import DAYS_A_WEEK


def most_in_a_week(*, rest: Collection[int], apart: int) -> int:
    """The most sessions a week with these rest days, ``apart`` days between any two.

    Twice a day at most, and only where ``apart`` is 0.
    """
    days = tuple(day for day in range(DAYS_A_WEEK) if day not in rest)
    if apart <= 1:
        return len(days) * (2 - apart)
    counts = range(len(days), 0, -1)
    return next((n for n in counts if _spread(n, days, apart) is not None), 0)


def week_pattern(times: int, *, rest: Collection[int], apart: int) -> tuple[int, ...]:
    """Days from the start of the week, 0 to 6, in order, of ``times`` sessions (1 to 14).

    ``rest`` are days in the same count that have none. Where the week repeats, any two sessions
    are at least ``apart`` days from each other; where that cannot be, as far as it can be.
    """
    days = tuple(day for day in range(DAYS_A_WEEK) if day not in rest)
    if not 1 <= times <= 2 * len(days):
        raise ValueError(f"{times} sessions in a week: 1 to {2 * len(days)} can be")
    if times > len(days):
        return tuple(sorted((*days, *week_pattern(times - len(days), rest=rest, apart=1))))
    for least in range(min(apart, DAYS_A_WEEK), 0, -1):
        found = _spread(times, days, least)
        if found is not None:
            return found
    spread = _spread(times, days, 0)
    assert spread is not None
    return spread


@cache
def _spread(times: int, days: tuple[int, ...], least: int) -> tuple[int, ...] | None:
    """The most even choice, the earliest of equals; None if all come nearer than ``least``."""
    choices = [c for c in combinations(days, times) if min(_gaps(c)) >= least]
    return min(choices, key=lambda c: (sum(gap * gap for gap in _gaps(c)), c), default=None)


def _gaps(days: Sequence[int]) -> list[int]:
    return [b - a for a, b in pairwise((*days, days[0] + DAYS_A_WEEK))]
