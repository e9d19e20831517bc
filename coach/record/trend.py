"""Which way the owner's own scores go: a slope with its interval, and a rank test. Pure.

The slope is that of Theil (1950) and Sen (J Am Stat Assoc 1968;63:1379, with the interval of its
equation 2.6), the test that of Mann (1945) and Kendall (1975), exact where no score comes twice
and there are at most 33, else by the normal distribution with ties. Held against scipy.stats in
the tests. (Papers second-hand, through scipy's documentation.)

No conclusion is drawn. Owners see a dog on placebo improve (people.md: 39.7 % of owners in
Conzemius and Evans 2012), so what comes out always goes by "the owner's own scores".
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, median

# House rule: with fewer there are at most six slopes, and no interval worth its name.
FEWEST = 5
EXACT_UP_TO = 33
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Scores over days.

    Attributes:
        count: scores.
        slope: points a day.
        interval: the 95 % interval of it; None where too many days and scores come twice.
        level: where the line crosses day 0.
        tau: Kendall's tau-b, from -1 to 1.
        p: two-sided; how often chance alone gives such an order.
    """

    count: int
    slope: float
    interval: tuple[float, float] | None
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
    slope, interval = _theil_sen(days, scores)
    tau, p = _mann_kendall(days, scores)
    return Trend(
        count=len(scores),
        slope=slope,
        interval=interval,
        level=median(scores) - slope * median(days),
        tau=tau,
        p=p,
    )


def _theil_sen(x: Sequence[float], y: Sequence[float]) -> tuple[float, tuple[float, float] | None]:
    n = len(y)
    slopes = sorted(
        (y[j] - y[i]) / (x[j] - x[i]) for i in range(n) for j in range(n) if x[j] > x[i]
    )
    ties = sum(k * (k - 1) * (2 * k + 5) for v in (x, y) for k in Counter(v).values())
    square = (n * (n - 1) * (2 * n + 5) - ties) / 18
    if square < 0:
        return median(slopes), None
    sigma = math.sqrt(square)
    z = NormalDist().inv_cdf(0.5 + CONFIDENCE / 2)
    count = len(slopes)
    upper = min(round((count + z * sigma) / 2), count - 1)
    lower = max(round((count - z * sigma) / 2) - 1, 0)
    return median(slopes), (slopes[lower], slopes[upper])


def _mann_kendall(x: Sequence[float], y: Sequence[float]) -> tuple[float, float]:
    n = len(y)
    pairs = [(x[j] - x[i], y[j] - y[i]) for i in range(n) for j in range(i + 1, n)]
    up = sum(a * b > 0 for a, b in pairs)
    down = sum(a * b < 0 for a, b in pairs)
    whole = len(pairs)
    same_x = sum(a == 0 for a, _ in pairs)
    same_y = sum(b == 0 for _, b in pairs)
    tau = (up - down) / math.sqrt((whole - same_x) * (whole - same_y))
    if same_x == same_y == 0 and n <= EXACT_UP_TO:
        return tau, _exact_p(n, min(up, down))
    tie_x, tie_y = Counter(x).values(), Counter(y).values()

    def pairs_of(ties: Sequence[int]) -> int:
        return sum(k * (k - 1) for k in ties)

    def threes_of(ties: Sequence[int]) -> int:
        return sum(k * (k - 1) * (k - 2) for k in ties)

    def spread_of(ties: Sequence[int]) -> int:
        return sum(k * (k - 1) * (2 * k + 5) for k in ties)

    a, b = [*tie_x], [*tie_y]
    variance = (
        (n * (n - 1) * (2 * n + 5) - spread_of(a) - spread_of(b)) / 18
        + pairs_of(a) * pairs_of(b) / (2 * n * (n - 1))
        + threes_of(a) * threes_of(b) / (9 * n * (n - 1) * (n - 2))
    )
    z = (up - down) / math.sqrt(variance)
    return tau, math.erfc(abs(z) / math.sqrt(2))


def _exact_p(n: int, fewer: int) -> float:
    """How many orders of ``n`` have at most ``fewer`` pairs turned round, both ways, of all."""
    ways = [1]
    for size in range(2, n + 1):
        reach = len(ways) + size - 1
        ways = [sum(ways[max(0, k - size + 1) : k + 1]) for k in range(reach)]
    return min(1.0, 2 * sum(ways[: fewer + 1]) / math.factorial(n))
