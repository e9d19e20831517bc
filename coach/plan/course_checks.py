"""Checks of a course: phases that overlap or say nothing, and rules that contradict each other."""

import datetime
from collections.abc import Collection, Sequence
from itertools import pairwise

from coach.plan.course import CalendarRules, CoursePhase
from coach.plan.problems import Path, Report, show
from coach.plan.week_pattern import most_in_a_week

HOW_OFTEN = ("times_a_week", "every_days", "dates")


def check_calendar(report: Report, rules: CalendarRules) -> None:
    """Windows that cannot be told."""
    if rules.window_hours is not None and rules.at is None:
        report.add(
            ("calendar", "at"),
            "nothing",
            'the time of day that window_hours is counted from, such as at = ["19:00"]',
        )
    if rules.window_hours is not None and rules.window_days is not None:
        report.add(("calendar", "window_days"), show(rules.window_days), "only one of both windows")
    if rules.times and rules.times[-1] < rules.times[0]:
        report.add(("calendar", "at"), show(rules.at), "the earlier time first")


def check_course(
    report: Report,
    phases: Sequence[tuple[CoursePhase, Collection[str]] | None],
    rules: CalendarRules | None,
) -> None:
    """Each phase by itself and against the one before; ``None`` and fields told are skipped.

    A phase comes with the names of its fields that have been reported.
    """
    apart = 0 if rules is None else rules.least_days_between or 0
    whole = True
    for number, phase in enumerate(phases):
        if phase is None or phase[1]:
            whole = False
            continue
        whole &= _check_phase(report, ("course", number), phase[0], apart)
    if whole:
        _check_order(report, [phase[0] for phase in phases if phase is not None])


def _check_phase(report: Report, here: Path, phase: CoursePhase, apart: int) -> bool:
    stated = [name for name in HOW_OFTEN if getattr(phase, name) is not None]
    if not stated:
        allowed = "this field must be there, such as times_a_week = 3; or every_days; or dates"
        report.add((*here, "times_a_week"), "nothing", allowed)
    for name in stated[1:]:
        report.add((*here, name), f"beside {stated[0]}", "only one of " + ", ".join(HOW_OFTEN))
    if phase.dates is not None:
        for name in ("weeks", "starts_on", "rest_days"):
            if getattr(phase, name) is not None:
                report.add((*here, name), show(getattr(phase, name)), "not beside dates")
        if any(b <= a for a, b in pairwise(phase.dates)):
            report.add((*here, "dates"), show(phase.dates), "each later than the one before")
            return False
        if any((b - a).days < apart for a, b in pairwise(phase.dates)):
            report.add((*here, "dates"), show(phase.dates), _least(apart))
    elif phase.weeks is None:
        report.add((*here, "weeks"), "nothing", "this field must be there, such as weeks = 2")
        return False
    rest = phase.rest_days or []
    if len(set(rest)) < len(rest):
        report.add((*here, "rest_days"), show(rest), "each only once")
    if phase.every_days is not None and phase.every_days < apart:
        report.add((*here, "every_days"), show(phase.every_days), _least(apart))
    if phase.times_a_week is not None and not stated[1:]:
        most = most_in_a_week(rest=phase.rest, apart=apart)
        if phase.times_a_week > most:
            allowed = f"at most {most}, with the rest days and least_days_between of this plan"
            if most == 0:
                allowed = f"every_days = {apart} or more instead (least_days_between)"
            report.add((*here, "times_a_week"), show(phase.times_a_week), allowed)
    return len(stated) == 1


def _least(apart: int) -> str:
    return f"at least {apart} days from one to the next (least_days_between under [calendar])"


def _check_order(report: Report, phases: Sequence[CoursePhase]) -> None:
    """Phases follow each other: none may begin before the one before it has ended."""
    over: datetime.date | None = None
    for number, phase in enumerate(phases):
        field = ("course", number, "starts_on" if phase.dates is None else "dates")
        first = phase.first_day
        if first is not None and number and over is None:
            report.add(
                field,
                show(first),
                "a date only where the phases before it have one too: starts_on in [[course]]",
            )
            return
        if first is not None and over is not None and first < over:
            report.add(
                field,
                f"{show(first)}, in the middle of {show(phases[number - 1].name)}",
                f"{over} or later: phases do not overlap",
            )
            return
        begin = first or over
        over = None if begin is None else begin + datetime.timedelta(days=phase.days)
