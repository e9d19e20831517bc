"""Findings for every phase of a course: what one phase orders is looked at like the rest. Pure."""

from collections.abc import Callable, Sequence

from coach.plan.findings import Finding
from coach.plan.model import Plan
from coach.plan.phases import has_phases, phase_plans
from coach.plan.spots import Spot, spots_of

Find = Callable[[Plan, Sequence[Spot]], list[Finding]]


def findings_in_phases(plan: Plan, find: Find) -> list[Finding]:
    """What ``find`` remarks on the plan, and what more it remarks on a session of each phase."""
    found = find(plan, spots_of(plan))
    if not has_phases(plan):
        return found
    known = {finding.text for finding in found}
    for inner in phase_plans(plan):
        assert inner.phase is not None
        for finding in find(inner, spots_of(inner)):
            if finding.text in known:
                continue
            known.add(finding.text)
            place = f"course[{inner.phase + 1}]"
            name = plan.course[inner.phase].name
            found.append(Finding(field=place, text=f"in the phase {name}: {finding.text}"))
    return found
