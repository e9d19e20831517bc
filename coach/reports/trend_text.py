"""The owner's own scores beside dates and dose: a picture in characters, and words. Pure."""

import datetime
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coach.body.raster import Look
from coach.journal.diary_entries import BEST, EASIEST, HARDEST, WORST, Entry, FunctionScore
from coach.language import _, ngettext, number
from coach.record.session_row import Brief
from coach.record.trend import FEWEST, Trend, trend_of
from coach.reports.format import percent
from coach.reports.session_text import WIDTH
from coach.units import rounded

MONTH_DAYS = 30
LABEL_COLUMNS = 6
MOST_ROWS = 11
SIGNS: Mapping[Look, str] = {"colour": "●", "console": "*"}
BARS: Mapping[Look, str] = {"colour": " ▁▂▃▄▅▆▇█", "console": " .:#"}

# The smallest change of a total that mattered to owners (people.md: LOAD -4, COI -14; PMC10511076).
# Only told where the prescriber asks for that form; on both of them less is better.
MATTERED: Mapping[str, int] = {"load": -4, "coi": -14}
MATTERED_SOURCE = "PMC10511076"


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Scores of one kind. ``scale`` is its worst and best, None for the total of a form.

    ``asked``: the prescriber asks for this form.
    """

    name: str
    scale: tuple[int, int] | None
    points: tuple[tuple[datetime.datetime, Decimal], ...]
    asked: bool = False

    @property
    def trend(self) -> Trend | None:
        """Which way they go; None when there are too few to say."""
        began = self.points[0][0]
        days = [(when - began) / datetime.timedelta(days=1) for when, _value in self.points]
        return trend_of(days, [float(value) for _when, value in self.points])


Dose = tuple[datetime.datetime, int]


def series_of(
    said: Iterable[tuple[str, str, Entry]], *, dog: str, instrument: str = ""
) -> tuple[list[Series], int]:
    """All scores by kind, and how many had to be left out because of the clock.

    ``said`` are wall clock (RFC 3339), its trust, and the entry; ``instrument`` is the form for
    whose total the prescriber asks.
    """
    found: dict[tuple[str, tuple[int, int] | None], list[tuple[datetime.datetime, Decimal]]] = {}
    left_out = 0
    for wall, trust, entry in said:
        if not isinstance(entry, FunctionScore):
            continue
        if trust == "unknown":
            left_out += 1
            continue
        when = datetime.datetime.fromisoformat(wall)
        if entry.score_0_10 is not None:
            name = _("How well {dog} gets about, 0 to 10").format(dog=dog)
            found.setdefault((name, (WORST, BEST)), []).append((when, Decimal(entry.score_0_10)))
        for activity, mark in entry.activities.items():
            name = _("{activity}, 0 to 4").format(activity=activity)
            found.setdefault((name, (HARDEST, EASIEST)), []).append((when, Decimal(mark)))
        if entry.total is not None:
            key = (entry.total.instrument, None)
            found.setdefault(key, []).append((when, entry.total.value))
    series = [
        Series(
            name=name,
            scale=scale,
            points=tuple(sorted(points)),
            asked=scale is None and bool(instrument) and name.casefold() == instrument.casefold(),
        )
        for (name, scale), points in found.items()
    ]
    return series, left_out


def trend_lines(
    series: Sequence[Series],
    doses: Sequence[Dose],
    *,
    left_out: int = 0,
    width: int = WIDTH,
    look: Look = "colour",
) -> list[str]:
    """Every series as a picture over the dose (given J, by day), and in words."""
    none = _("No scores yet. coach score asks for them.")
    lines = [] if series else _wrapped(none, width)
    for one in series:
        heading = _("{name}: the owner's own scores").format(name=one.name)
        lines += [*_wrapped(heading, width), *plot(one, doses, width=width, look=look)]
        lines += [*_said(one, width), ""]
    if left_out:
        lines += _wrapped(
            ngettext(
                "{count} score is left out: the clock could not be trusted then.",
                "{count} scores are left out: the clock could not be trusted then.",
                left_out,
            ).format(count=left_out),
            width,
        )
    return lines + _wrapped(
        _("These are the owner's own scores. They tell how it looks at home, not why."), width
    )


def plot(one: Series, doses: Sequence[Dose], *, width: int, look: Look) -> list[str]:
    """Scores over time, and below them what was given in the same days. At most ``width`` wide."""
    columns = max(10, width - LABEL_COLUMNS)
    whens = [when for when, _value in one.points] + [when for when, _fj in doses]
    first, last = min(whens), max(whens)

    def column(when: datetime.datetime) -> int:
        span = (last - first) / datetime.timedelta(seconds=1)
        into = (when - first) / datetime.timedelta(seconds=1)
        return round(into / span * (columns - 1)) if span else 0

    low, high = one.scale or _reach(one)
    rows = min(MOST_ROWS, high - low + 1)
    grid = [[" "] * columns for _row in range(rows)]
    for when, value in one.points:
        up = round((value - low) / (high - low) * (rows - 1))
        grid[rows - 1 - up][column(when)] = SIGNS[look]
    lines = []
    for row, cells in enumerate(grid):
        level = high - Decimal(row * (high - low)) / (rows - 1)
        label = number(rounded(level, 0)) if row % 2 == (rows - 1) % 2 else ""
        lines.append(f"{label:>4} |{''.join(cells)}".rstrip())
    lines += _dose_row(doses, column, columns, look)
    days = f"{first:%Y-%m-%d}", f"{last:%Y-%m-%d}"
    gap = columns - len(days[0]) - len(days[1])
    lines.append(" " * LABEL_COLUMNS + days[0] + (" " * gap + days[1] if gap > 0 else ""))
    return lines


def _dose_row(
    doses: Sequence[Dose],
    column: Callable[[datetime.datetime], int],
    columns: int,
    look: Look,
) -> list[str]:
    given = [0] * columns
    for when, energy in doses:
        given[column(when)] += energy
    most = max(given)
    if most == 0:
        return [f"{'':4} +{'-' * columns}"]
    bars = BARS[look]
    steps = len(bars) - 1
    cells = "".join(bars[-(-energy * steps // most)] for energy in given)
    return [f"{'':4} +{'-' * columns}", f"{_('J'):>4}  {cells}".rstrip()]


def _reach(one: Series) -> tuple[int, int]:
    """Whole numbers below and above all values, at least ten apart."""
    values = [value for _when, value in one.points]
    low = int(min(values))
    return low, max(low + 10, int(max(values)) + 1)


def _said(one: Series, width: int) -> list[str]:
    count = len(one.points)
    lines = [
        ngettext("{count} score.", "{count} scores.", count).format(count=count),
    ]
    trend = one.trend
    if count < FEWEST:
        lines.append(_("Too few to say which way they go (fewer than {few}).").format(few=FEWEST))
    elif trend is None:
        lines.append(_("All of one day or all the same: no way to say which way they go."))
    else:
        slope = _("Slope: {slope} points in {days} days.").format(
            slope=_signed(trend.slope), days=MONTH_DAYS
        )
        if trend.interval is not None:
            slope = _(
                "Slope: {slope} points in {days} days ({share} interval: {low} to {high})."
            ).format(
                slope=_signed(trend.slope),
                days=MONTH_DAYS,
                share=percent(Fraction(trend.coverage or 0)),
                low=_signed(trend.interval[0]),
                high=_signed(trend.interval[1]),
            )
        lines.append(slope)
        lines.append(
            _("Theil-Sen; Mann-Kendall: tau {tau}, p {p}.").format(
                tau=number(Decimal(f"{trend.tau:.2f}")), p=number(Decimal(f"{trend.p:.3f}"))
            )
        )
    mattered = MATTERED.get(one.name.casefold())
    if one.asked and mattered is not None:
        lines.append(
            _(
                "A change of {points} points is the smallest that mattered to owners in a "
                "published study ({source})."
            ).format(points=mattered, source=MATTERED_SOURCE)
        )
    return [row for line in lines for row in _wrapped(line, width)]


def _signed(a_day: float) -> str:
    text = f"{a_day * MONTH_DAYS:+.2f}"
    return "0" if float(text) == 0 else text.replace(".", number(Decimal("0.0"))[1])


def doses_of(briefs: Iterable[Brief]) -> list[Dose]:
    """What was given when, of sessions whose clock could be trusted."""
    return [
        (datetime.datetime.fromisoformat(brief.opened_wall), brief.given_fj)
        for brief in briefs
        if brief.trust != "unknown"
    ]


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent="  ") or [""]
