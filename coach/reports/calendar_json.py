"""A course as data for ``json.dumps``; ``calendar.schema.json`` is its schema. Pure."""

from typing_extensions import TypedDict

from coach.plan.calendar import Calendar, Given
from coach.record.adherence import Adherence
from coach.units import rounded

FORMAT = 2


class GivenJson(TypedDict):
    """A session; ``journal`` is the number of its journal, ``day`` null where nobody can tell."""

    journal: int
    plan_revision: int
    began: str | None
    day: str | None


class DueJson(TypedDict):
    """A session of the course; days are local, ``at`` is null where the plan sets no time."""

    number: int
    phase: str
    planned_on: str
    day: str
    at: str | None
    state: str
    given: GivenJson | None


class AdherenceJson(TypedDict):
    """:class:`coach.record.adherence.Adherence`; ``planned`` is ``due`` by its older name.

    ``in_part`` are shares of 1, smallest first.
    """

    planned: int
    due: int
    begun: int
    complete: int
    in_part: list[float]
    too_little: int
    extra: int
    behind: int
    beyond: int
    given: int
    whole_course: int
    on_the_day: int
    in_window: int | None
    day_unknown: int
    longest_gap_days: int | None


class CourseCalendarJson(TypedDict):
    """What ``coach course --json`` prints."""

    format: int
    dog: str
    plan: str
    plan_revision: int
    today: str
    clock_trusted: bool
    start: str
    assumed: bool
    missed: str
    not_before: str | None
    sessions: list[DueJson]
    extra: list[GivenJson]
    part: list[GivenJson]
    before: list[GivenJson]
    other_plans: int
    adherence: AdherenceJson


def course_json(
    calendar: Calendar, figures: Adherence, *, clock_trusted: bool
) -> CourseCalendarJson:
    """``calendar`` and its ``figures``; ``clock_trusted``: today is known for sure."""
    soonest = calendar.not_before
    return {
        "format": FORMAT,
        "dog": calendar.dog,
        "plan": calendar.plan_id,
        "plan_revision": calendar.plan_revision,
        "today": calendar.today.isoformat(),
        "clock_trusted": clock_trusted,
        "start": calendar.start.isoformat(),
        "assumed": calendar.assumed,
        "missed": calendar.rule,
        "not_before": None if soonest is None else soonest.isoformat(),
        "sessions": [
            {
                "number": due.number,
                "phase": due.phase,
                "planned_on": due.planned_on.isoformat(),
                "day": due.day.isoformat(),
                "at": None if due.at is None else due.at.isoformat(),
                "state": due.state,
                "given": None if due.given is None else _given(due.given),
            }
            for due in calendar.dues
        ],
        "extra": [_given(session) for session in calendar.extra],
        "part": [_given(session) for session in calendar.part],
        "before": [_given(session) for session in calendar.before],
        "other_plans": calendar.others,
        "adherence": {
            "planned": figures.due,
            "due": figures.due,
            "begun": figures.begun,
            "complete": figures.complete,
            "in_part": [float(rounded(share, 6)) for share in figures.in_part],
            "too_little": figures.too_little,
            "extra": figures.extra,
            "behind": figures.behind,
            "beyond": figures.beyond,
            "given": figures.given,
            "whole_course": figures.whole_course,
            "on_the_day": figures.on_the_day,
            "in_window": figures.in_window,
            "day_unknown": figures.day_unknown,
            "longest_gap_days": figures.longest_gap_days,
        },
    }


def _given(session: Given) -> GivenJson:
    return {
        "journal": session.number,
        "plan_revision": session.plan_revision,
        "began": None if session.began is None else session.began.isoformat(),
        "day": None if session.day is None else session.day.isoformat(),
    }
