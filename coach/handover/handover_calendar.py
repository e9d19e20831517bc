"""The course of a case on the calendar, as of the moment of its handover. Pure."""

import datetime

from coach.handover.build_info import Made
from coach.handover.dog_case import Case, Session
from coach.plan.calendar import Calendar, due_dates
from coach.plan.due_days import Given
from coach.plan.findings import total_ns
from coach.plan.spots import spots_of
from coach.record.adherence import Adherence, adherence
from coach.reports.calendar_ics import Told, course_ics


def calendar_of(case: Case, made: Made) -> Calendar | None:
    """None without a plan that orders a course, and where earlier sessions were left out."""
    if case.plan is None or not case.plan.plan.course or made.since is not None:
        return None
    at = datetime.datetime.fromisoformat(made.at)
    given = [found for session in case.counted if (found := _given(session)) is not None]
    return due_dates(case.plan.plan, None, given, at.date(), at.tzinfo or datetime.UTC)


def figures_of(case: Case, calendar: Calendar) -> Adherence:
    """How the sessions went against the days, with the windows of the plan."""
    windows = None if case.plan is None else case.plan.plan.calendar
    hours = None if windows is None else windows.window_hours
    return adherence(
        calendar,
        window_days=None if windows is None else windows.window_days,
        window=None if hours is None else datetime.timedelta(hours=float(hours)),
    )


def ics_of(case: Case, made: Made) -> bytes | None:
    """``course.ics``; None where there is no calendar."""
    calendar = calendar_of(case, made)
    if calendar is None or case.plan is None:
        return None
    plan = case.plan.plan
    duration = datetime.timedelta(microseconds=total_ns(spots_of(plan)) // 1000)
    told = Told(prescriber=plan.about.prescriber, duration=duration)
    return course_ics(calendar, told, now=datetime.datetime.fromisoformat(made.at))


def _given(session: Session) -> Given | None:
    tally = session.corrected
    if tally is None or not any(spot.given_ns for spot in tally.spots):
        return None
    ends = [spot.ended_wall for spot in tally.spots if spot.ended_wall is not None]
    return Given(
        number=int(session.stem.split("-")[0]),
        plan_id=tally.plan_id,
        plan_revision=tally.plan_revision,
        began=datetime.datetime.fromisoformat(tally.opened_wall),
        ended=datetime.datetime.fromisoformat(ends[-1]) if ends else None,
        trusted=tally.trust != "unknown",
        share=tally.share,
        complete=tally.share == 1,
    )
