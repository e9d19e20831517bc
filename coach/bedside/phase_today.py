"""Which phase of its course a session of today is of, and what is new in it for the owner."""

from dataclasses import replace
from pathlib import Path

from coach.handover.changes import changes
from coach.language import _
from coach.plan.calendar import Calendar
from coach.plan.files import PlanFile
from coach.plan.model import Plan
from coach.plan.phases import begins_phase, has_phases, phase_of_today, plan_in_phase
from coach.record.dog_course import read_course


def phase_today(
    plan_file: PlanFile, *, folder: Path, kept: Path | None, clock_trusted: bool
) -> tuple[PlanFile, tuple[str, ...]]:
    """The plan as it is in today's phase, and what the owner is told about it.

    ``folder`` is the dog's, ``kept`` that of its summaries. A plan whose phases are all alike
    comes back as it is, with its phase.
    """
    plan = plan_file.plan
    if not plan.course:
        return plan_file, ()
    calendar = read_course(plan, folder, kept=kept)
    number = phase_of_today(plan, calendar, clock_trusted=clock_trusted)
    assert number is not None
    today = replace(plan_file, plan=plan_in_phase(plan, number))
    return today, tuple(phase_lines(plan, calendar, number, clock_trusted=clock_trusted))


def phase_lines(plan: Plan, calendar: Calendar, number: int, *, clock_trusted: bool) -> list[str]:
    """Which phase it is and, until a session was given in it, what is new.

    Nothing where all phases are alike.
    """
    if not has_phases(plan):
        return []
    name = plan.course[number].name
    if number == 0 or not begins_phase(plan, calendar, number, clock_trusted=clock_trusted):
        return [_("Part of the course: {phase}.").format(phase=name)]
    new = changes(plan_in_phase(plan, number - 1), plan_in_phase(plan, number))
    return [_("A new part of the course begins: {phase}.").format(phase=name), *new]
