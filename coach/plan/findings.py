"""What a careful colleague would remark on a plan that can be used. Never advice about dose."""

import datetime
from collections import Counter
from collections.abc import Iterator, Sequence

from coach.body import region
from coach.plan.course_findings import course_findings
from coach.plan.dose_findings import dose_findings
from coach.plan.finding import Finding as Finding
from coach.plan.model import Plan
from coach.plan.spots import SETTLE_REGION, Spot
from coach.plan.sweep import sweep_findings
from coach.plan.tape_findings import measure_remarks
from coach.plan.unstated import unstated
from coach.units import NS_PER_S, clock_text

# Common practice, no source: an owner and a dog seldom keep still for longer.
LONG_SESSION_S = 30 * 60
SHORT_HOLD_S = 5


def total_ns(spots: Sequence[Spot]) -> int:
    """How long a session takes if nothing interferes: every move and every hold."""
    return sum(spot.move_ns + spot.hold_ns for spot in spots)


def findings(plan: Plan, spots: Sequence[Spot], *, today: datetime.date) -> list[Finding]:
    """Everything worth a second look, for the prescriber to decide; the worst first.

    ``spots`` are those of one whole session of ``plan``.
    """
    found = [Finding(field=one.field, text=one.text, rank=2) for one in unstated(plan)]
    total_s = total_ns(spots) // NS_PER_S
    if total_s > LONG_SESSION_S:
        found.append(
            Finding(
                field="regions",
                text=f"a session takes {clock_text(total_s)}: over half an hour is hard to keep "
                "still for, and long plans are given up",
            )
        )
    for field, hold_ns in _holds(plan):
        if hold_ns < SHORT_HOLD_S * NS_PER_S:
            found.append(
                Finding(field=field, text=f"less than {SHORT_HOLD_S} s a spot: is the unit right?")
            )
    for number, order in enumerate(plan.regions, start=1):
        if order.seconds_each_spot is not None and (
            order.joules_each_spot is not None or order.joules_per_cm2_each_spot is not None
        ):
            found.append(
                Finding(
                    field=f"regions[{number}]",
                    text="seconds and a target are both stated; they agree, and the seconds rule",
                )
            )
    found += [Finding(field=field, text=text) for field, text in course_findings(plan)]
    if plan.laser.beam_area_um2 is None:
        found.append(
            Finding(
                field="laser.beam_area_cm2",
                text="no beam area at the skin: J/cm2 stays blank in every record",
            )
        )
    found += _sweeps(plan)
    found += _ordered_twice(plan)
    found += _news_cleared(plan)
    found += [Finding(field=field, text=text) for field, text in measure_remarks(plan)]
    found += dose_findings(plan, today=today)
    return sorted(found, key=lambda finding: finding.rank)


def _sweeps(plan: Plan) -> Iterator[Finding]:
    swept = {
        number: (order, plan.hold_ns(order))
        for number, order in enumerate(plan.regions, start=1)
        if order.technique == "swept"
    }
    for field, text in sweep_findings(plan.laser, swept):
        yield Finding(field=field, text=text)


def _holds(plan: Plan) -> Iterator[tuple[str, int]]:
    """Each hold of the plan with its place there."""
    if plan.settle.each_side_ns:
        yield "settle", plan.settle.each_side_ns
    for number, order in enumerate(plan.regions, start=1):
        yield f"regions[{number}]", plan.hold_ns(order)


def _news_cleared(plan: Plan) -> list[Finding]:
    """What has not happened yet cannot be allowed in advance."""
    return [
        Finding(
            field="care.clearances",
            text=f"{name} is news, not a standing fact: it cannot be cleared in advance, and the "
            "owner is asked before each session",
        )
        for name in plan.care.news_cleared
    ]


def _ordered_twice(plan: Plan) -> Iterator[Finding]:
    opening = {(SETTLE_REGION, side, "") for side in region(SETTLE_REGION).sides}
    places = Counter(opening if plan.settle.each_side_ns else ())
    places.update(
        (order.region, side, aspect)
        for order in plan.regions
        for side in order.sides
        for aspect in order.aspects or [""]
    )
    for place, times in places.items():
        if times > 1:
            where = " ".join(part for part in place if part)
            field = "settle, regions" if place in opening else "regions"
            yield Finding(field=field, text=f"{where} is ordered {times} times")
