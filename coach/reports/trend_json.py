"""The owner's own scores as JSON; ``trend.schema.json`` is made from these types. Pure.

Keys may be added; none is taken away or changes its meaning while ``trend`` stays 2.
2 added ``coverage``.
"""

from collections.abc import Sequence

# Comes with pydantic, which makes the schema; typing's own would do from Python 3.12 on.
from typing_extensions import TypedDict

from coach.reports.trend_text import Dose, Series

FORMAT = 2


class PointJson(TypedDict):
    """One score: when (RFC 3339) and its value as decimal text."""

    at: str
    value: str


class FiguresJson(TypedDict):
    """``slope`` and ``interval`` in points a day; ``coverage``: in what part of all cases the
    interval covers the slope, at least 0.95; ``p`` two-sided."""

    slope: float
    interval: list[float] | None
    coverage: float | None
    tau: float
    p: float


class SeriesJson(TypedDict):
    """Scores of one kind; ``scale`` worst and best, null for the total of a form. ``figures`` is
    null where it is too early to say."""

    name: str
    scale: list[int] | None
    points: list[PointJson]
    figures: FiguresJson | None


class DoseJson(TypedDict):
    """What was given in a session, in femtojoules; coached, not measured."""

    at: str
    given_fj: int


class TrendJson(TypedDict):
    """The owner's own scores of one dog, and the sessions."""

    trend: int
    owners_own_scores: bool
    dog: str
    series: list[SeriesJson]
    sessions: list[DoseJson]


def trend_json(dog: str, series: Sequence[Series], doses: Sequence[Dose]) -> TrendJson:
    """Everything."""
    return {
        "trend": FORMAT,
        "owners_own_scores": True,
        "dog": dog,
        "series": [_series(one) for one in series],
        "sessions": [{"at": when.isoformat(), "given_fj": energy} for when, energy in doses],
    }


def _series(one: Series) -> SeriesJson:
    trend = one.trend
    return {
        "name": one.name,
        "scale": None if one.scale is None else list(one.scale),
        "points": [{"at": at.isoformat(), "value": f"{value:f}"} for at, value in one.points],
        "figures": None
        if trend is None
        else {
            "slope": trend.slope,
            "interval": None if trend.interval is None else list(trend.interval),
            "coverage": trend.coverage,
            "tau": trend.tau,
            "p": trend.p,
        },
    }
