"""Which way the owner's own scores go: a slope with its interval, and a rank test. Pure.

The slope is that of Theil (1950) and Sen (J Am Stat Assoc 1968;63:1379); the test that of Mann
(1945) and Kendall (1975). Its p is exact where it can be counted: for up to ten scores by all
permutations, ties or not, and for up to 33 where no score and no day comes twice; for others by the
normal distribution with ties and a correction for continuity. The interval goes from one of the
sorted slopes to another (Sen's equation 2.6): the narrowest pair that covers at least 95 %, by the
exact distribution for up to 33 scores, so that its true coverage can be told. Held against
scipy.stats, pymannkendall and simulation in the tests. (Papers second-hand, through scipy's
documentation.)

No conclusion is drawn. Owners see a dog on placebo improve (people.md: 39.7 % of owners in
Conzemius and Evans 2012), so what comes out always goes by "the owner's own scores".
"""

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist, median

# House rule: with fewer there are at most six slopes, and no interval worth its name.
FEWEST = 5
COUNTED_UP_TO = 10
EXACT_UP_TO = 33
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Scores over days.

    Attributes:
        count: scores.
        slope: points a day.
        interval: an interval that covers it in at least 95 of 100 cases; None where there is none.
        coverage: in what part of all cases it does; None without an interval.
        level: where the line crosses day 0.
        tau: Kendall's tau-b, from -1 to 1.
        p: two-sided; how often chance alone gives such an order.
    """

    count: int
    slope: float
    interval: tuple[float, float] | None
    coverage: float | None
    level: float
    tau: float
    p: float


def trend_of(days: Sequence[float], scores: Sequence[float]) -> Trend | None:
    """The trend of ``scores`` over ``days``; None when it is too early to say.

    That is with fewer than five scores, when all are of one day, or when all are the same.
    """
    if len(days) != len(scores):
        raise ValueError(f"{len(days)} days and {len(scores)} scores")
    if len(scores) < FEWEST or len(set(days)) < 2 or len(set(scores)) < 2:
        return None
    slopes = sorted(
        (scores[j] - scores[i]) / (days[j] - days[i])
        for i in range(len(days))
        for j in range(len(days))
        if days[j] > days[i]
    )
    slope, found = median(slopes), _interval(days, slopes)
    tau, p = _mann_kendall(days, scores)
    return Trend(
        count=len(scores),
        slope=slope,
        interval=None if found is None else found[:2],
        coverage=None if found is None else found[2],
        level=median(scores) - slope * median(days),
        tau=tau,
        p=p,
    )


def _interval(days: Sequence[float], slopes: Sequence[float]) -> tuple[float, float, float] | None:
    """The narrowest pair of sorted slopes that covers at least 95 %, and what it covers."""
    n = len(days)
    ties = sorted(Counter(days).values())
    if n <= EXACT_UP_TO:
        ways = _turned(ties)
        total = sum(ways)
        outside, best = 0, None
        for rank, count in enumerate(ways[: (len(slopes) + 1) // 2]):
            outside += 2 * count
            if total - outside < CONFIDENCE * total:
                break
            best = rank, 1 - outside / total
        if best is None:
            return None
        return slopes[best[0]], slopes[-1 - best[0]], best[1]
    square = (n * (n - 1) * (2 * n + 5) - _spread(ties)) / 18
    z = NormalDist().inv_cdf(0.5 + CONFIDENCE / 2)
    # Rounded to the outside, by one for the step from whole numbers to the normal distribution.
    rank = math.floor((len(slopes) - z * math.sqrt(square) - 1) / 2)
    return None if rank < 0 else (slopes[rank], slopes[-1 - rank], CONFIDENCE)


def _turned(ties: Sequence[int]) -> list[int]:
    """How many orders of distinct scores have 0, 1, 2 ... pairs turned round, over days of which
    ``ties`` come so often: the coefficients of n!_q over the product of the t!_q."""
    ways = [1]
    size = 0
    for tie in ties:
        for step in range(1, tie + 1):
            size += 1
            ways = _times(ways, size)
            ways = _over(ways, step)
    return ways


def _times(ways: Sequence[int], size: int) -> list[int]:
    """``ways`` times 1 + q + ... + q^(size - 1)."""
    reach = len(ways) + size - 1
    return [sum(ways[max(0, k - size + 1) : k + 1]) for k in range(reach)]


def _over(ways: Sequence[int], size: int) -> list[int]:
    """``ways`` over 1 + q + ... + q^(size - 1); it goes in without rest."""
    found: list[int] = []
    for k in range(len(ways) - size + 1):
        found.append(ways[k] - sum(found[max(0, k - size + 1) : k]))
    return found


def _spread(ties: Iterable[int]) -> int:
    return sum(k * (k - 1) * (2 * k + 5) for k in ties)


def _mann_kendall(x: Sequence[float], y: Sequence[float]) -> tuple[float, float]:
    n = len(y)
    pairs = [(x[j] - x[i], y[j] - y[i]) for i in range(n) for j in range(i + 1, n)]
    up = sum(a * b > 0 for a, b in pairs)
    down = sum(a * b < 0 for a, b in pairs)
    whole = len(pairs)
    same_x = sum(a == 0 for a, _ in pairs)
    same_y = sum(b == 0 for _, b in pairs)
    tau = (up - down) / math.sqrt((whole - same_x) * (whole - same_y))
    if n <= COUNTED_UP_TO:
        return tau, _counted_p(x, y, abs(up - down))
    if same_x == same_y == 0 and n <= EXACT_UP_TO:
        ways = _turned([1] * n)
        return tau, min(1.0, 2 * sum(ways[: min(up, down) + 1]) / math.factorial(n))
    tie_x, tie_y = Counter(x).values(), Counter(y).values()

    def pairs_of(ties: Sequence[int]) -> int:
        return sum(k * (k - 1) for k in ties)

    def threes_of(ties: Sequence[int]) -> int:
        return sum(k * (k - 1) * (k - 2) for k in ties)

    a, b = [*tie_x], [*tie_y]
    variance = (
        (n * (n - 1) * (2 * n + 5) - _spread(a) - _spread(b)) / 18
        + pairs_of(a) * pairs_of(b) / (2 * n * (n - 1))
        + threes_of(a) * threes_of(b) / (9 * n * (n - 1) * (n - 2))
    )
    z = max(0, abs(up - down) - 1) / math.sqrt(variance)
    return tau, math.erfc(z / math.sqrt(2))


def _counted_p(x: Sequence[float], y: Sequence[float], least: int) -> float:
    """In what part of all permutations of ``y`` the sum of signs is at least ``least`` from 0.

    The days are gone through in order; what is known of a permutation so far is how many of each
    score are used, and the sum of signs.
    """
    values = sorted(set(y))
    counts = [list(y).count(value) for value in values]
    states: dict[tuple[int, ...], Counter[int]] = {(0,) * len(values): Counter({0: 1})}
    for _, size in sorted(Counter(x).items()):
        after: dict[tuple[int, ...], Counter[int]] = {}
        for used, sums in states.items():
            left = [count - taken for count, taken in zip(counts, used, strict=True)]
            for chosen in _choices(left, size):
                ways = math.prod(map(math.comb, left, chosen))
                sign = sum(
                    chosen[a] * (sum(used[:a]) - sum(used[a + 1 :])) for a in range(len(values))
                )
                then = tuple(map(sum, zip(used, chosen, strict=True)))
                into = after.setdefault(then, Counter())
                for total, count in sums.items():
                    into[total + sign] += count * ways
        states = after
    (sums,) = states.values()
    far = sum(count for total, count in sums.items() if abs(total) >= least)
    return far / sum(sums.values())


def _choices(left: Sequence[int], size: int) -> Iterable[tuple[int, ...]]:
    """How ``size`` can be taken out of ``left`` of each."""
    if not left:
        if size == 0:
            yield ()
        return
    for first in range(min(left[0], size) + 1):
        for rest in _choices(left[1:], size - first):
            yield (first, *rest)
