"""A course in words for the prescriber. Pure."""

from collections.abc import Mapping

from coach.plan.course import CoursePhase, Missed
from coach.plan.formatting import counted

MISSED_WORDS: Mapping[Missed, str] = {
    "shift": "a missed session: the rest moves on",
    "drop": "a missed session is left out",
    "ask": "a missed session: ask the prescriber",
}


def often_text(phase: CoursePhase) -> str:
    """``3 times a week for 2 weeks``, with dates and rest days as the plan states them."""
    if phase.dates is not None:
        return "on " + ", ".join(date.isoformat() for date in phase.dates)
    often = f"every {phase.every_days} days"
    if phase.every_days == 1:
        often = "every day"
    elif phase.times_a_week is not None:
        often = "once a week" if phase.times_a_week == 1 else f"{phase.times_a_week} times a week"
    text = f"{often} for {counted(phase.weeks or 0, 'week')}"
    if phase.starts_on is not None:
        text += f" from {phase.starts_on}"
    if phase.rest_days:
        text += f", never on {', '.join(day.capitalize() for day in phase.rest_days)}"
    return text
