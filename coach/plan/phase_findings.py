"""Findings for every phase of a course: what one phase orders is looked at like the rest. Pure."""

import datetime
from collections.abc import Callable, Sequence
from dataclasses import replace

from coach.plan.findings import Finding, findings
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
            found.append(
                replace(
                    finding,
                    field=place,
                    text=f"in the phase {name}: {finding.text}",
                    short=f"in the phase {name}: {finding.line}",
                )
            )
    return sorted(found, key=lambda finding: finding.rank)


def all_findings(plan: Plan, *, today: datetime.date) -> list[Finding]:
    """Everything worth a second look in ``plan`` and its phases, the worst first.

    The same for ``coach check``, the desk, a draft, a plan that is taken and a rehearsal.
    """
    return findings_in_phases(plan, lambda inner, spots: findings(inner, spots, today=today))
