"""What a careful colleague would remark on a course. Pure."""

import datetime
from collections.abc import Iterator

from coach.plan.model import Plan
from coach.plan.week_pattern import most_in_a_week


def days_apart(plan: Plan) -> int:
    """Least days from one session to the next at the same time of day; 0: twice a day may be.

    By ``least_hours_between`` under [limits] and ``least_days_between`` under [calendar].
    """
    hours = plan.limits.least_hours_between
    by_hours = 0 if hours is None or hours <= 12 else -int(-hours // 24)
    return max(by_hours, plan.calendar.least_days_between or 0)


def course_findings(plan: Plan) -> Iterator[tuple[str, str]]:
    """Field and text of each remark: does the course fit into the plan's days and gaps?"""
    course_days = sum(phase.days for phase in plan.course)
    valid_days = (plan.about.valid_until - plan.about.prescribed_on).days + 1
    first = plan.course[0].first_day if plan.course else None
    if first is not None:
        last_phase = plan.course[-1]
        last = first + datetime.timedelta(days=course_days - 1)
        if last_phase.first_day is not None:
            last = last_phase.first_day + datetime.timedelta(days=last_phase.days - 1)
        if first < plan.about.prescribed_on or last > plan.about.valid_until:
            yield (
                "course",
                f"the course goes from {first} to {last}, the plan is valid from "
                f"{plan.about.prescribed_on} to {plan.about.valid_until}",
            )
    elif course_days > valid_days:
        yield (
            "plan.valid_until",
            f"the course takes {course_days} days, the plan is valid for {valid_days}",
        )
    apart = days_apart(plan)
    for number, phase in enumerate(plan.course, start=1):
        most = most_in_a_week(rest=phase.rest, apart=apart)
        every = phase.every_days
        times = phase.times_a_week or 0
        if times > most or (every is not None and every < apart):
            yield (
                f"course[{number}]",
                "with the least time between sessions and the rest days of this plan that is "
                "more often than can be; the course will take longer",
            )
