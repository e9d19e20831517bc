"""``[[course]]`` and ``[calendar]``: how often, how long, what a missed session means. Pure.

A phase says how often in one of three ways: so many times a week, every so many days, or on
dates. The phases follow each other; the first session starts the course unless the plan dates it.
"""

import datetime
import re
from decimal import Decimal
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field

from coach.plan.fields import FORMAT_2, Line, Seconds, Table, between, refuse, usual, whole

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)
DAYS_A_WEEK = 7

Missed = Literal["shift", "drop", "ask"]

_TIME = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")


def _clock(value: Any) -> str:
    if not isinstance(value, str) or not _TIME.fullmatch(value):
        raise refuse('a time of day in quotes, such as "19:00"')
    return value


class PhaseRegion(Table):
    """``[[course.regions]]``: what a phase orders otherwise for a region of the plan.

    A dose stated here takes the place of every dose that ``[[regions]]`` states for it.
    """

    region: str = Field(examples=["lumbar"])
    leave_out: bool = False
    spots: Annotated[int | None, whole(1, 60)] = Field(default=None, examples=[2])
    seconds_each_spot: Seconds | None = None
    joules_each_spot: Annotated[Decimal | None, between("0.01", "300", "J")] = None
    joules_per_cm2_each_spot: Annotated[Decimal | None, between("0.01", "2000", "J/cm2")] = None
    seconds_each_area: Seconds | None = None
    joules_each_area: Annotated[Decimal | None, usual("energy_j")] = None
    joules_per_cm2_over_area: Annotated[Decimal | None, usual("swept_fluence_j_cm2")] = None


class CoursePhase(Table):
    """``[[course]]``: one phase. Exactly one of times_a_week, every_days and dates is there."""

    name: Line = Field(examples=["induction"])
    times_a_week: Annotated[int | None, whole(1, 14)] = Field(default=None, examples=[3])
    every_days: Annotated[int | None, whole(1, 84, "days")] = Field(default=None, examples=[2])
    weeks: Annotated[int | None, whole(1, 104)] = Field(default=None, examples=[2])
    dates: Annotated[list[datetime.date], Field(min_length=1, max_length=100)] | None = Field(
        default=None, examples=[[datetime.date(2026, 12, 1)]]
    )
    starts_on: datetime.date | None = Field(default=None, examples=[datetime.date(2026, 11, 30)])
    rest_days: Annotated[list[Weekday], Field(min_length=1, max_length=6)] | None = Field(
        default=None, examples=[["sunday"]]
    )
    regions: Annotated[list[PhaseRegion], Field(max_length=40)] = Field(
        default=[], json_schema_extra=FORMAT_2
    )

    @property
    def sessions(self) -> int:
        """Sessions of this phase."""
        if self.dates is not None:
            return len(self.dates)
        if self.every_days is not None:
            return -(-self.days // self.every_days)
        return (self.times_a_week or 0) * (self.weeks or 0)

    @property
    def days(self) -> int:
        """Days from its first to its last, both counted; whole weeks unless it has dates."""
        if self.dates is not None:
            return (self.dates[-1] - self.dates[0]).days + 1
        return DAYS_A_WEEK * (self.weeks or 0)

    @property
    def first_day(self) -> datetime.date | None:
        """The day that the plan sets for its start, or None."""
        return self.dates[0] if self.dates is not None else self.starts_on

    @property
    def rest(self) -> frozenset[int]:
        """Its rest days as ``date.weekday()`` has them: Monday is 0."""
        return frozenset(WEEKDAYS.index(day) for day in self.rest_days or ())


class CalendarRules(Table):
    """``[calendar]``: what becomes of a missed session, and how near to its day one is in time.

    ``missed``: the rest of the course moves on (shift), the session is left out (drop), or the
    prescriber is to be asked (ask).
    """

    missed: Missed = "ask"
    at: (
        Annotated[list[Annotated[str, BeforeValidator(_clock)]], Field(min_length=1, max_length=2)]
        | None
    ) = Field(default=None, examples=[["19:00"]])
    window_days: Annotated[int | None, whole(0, 6, "days")] = None
    window_hours: Annotated[Decimal | None, between("0.5", "72", "hours")] = None
    least_days_between: Annotated[int | None, whole(1, 84, "days")] = None
    phases_by: Literal["sessions", "dates"] | None = Field(default=None, json_schema_extra=FORMAT_2)
    keep_distance: bool = Field(default=True, json_schema_extra=FORMAT_2)
    # Half: common practice, no source.
    counts_from_percent: Annotated[int, whole(1, 100, "%")] = Field(
        default=50, json_schema_extra=FORMAT_2
    )

    @property
    def times(self) -> tuple[datetime.time, ...]:
        """Times of day of the sessions of a day; () where the plan leaves that open."""
        return tuple(datetime.time.fromisoformat(text) for text in self.at or ())
