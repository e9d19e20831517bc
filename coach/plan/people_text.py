"""Who is treated, why, who has checked the plan, and when it is looked at again: lines. Pure."""

from collections.abc import Iterator

from coach.plan.formatting import counted
from coach.plan.model import Plan


def people_lines(plan: Plan) -> Iterator[tuple[str, str]]:
    """A label and a text for each thing that the plan says."""
    patient, reason, about = plan.patient, plan.reason, plan.about
    facts = [
        f"no. {patient.number}" if patient.number else "",
        f"chip {patient.chip}" if patient.chip else "",
        patient.breed,
        patient.sex or "",
        f"born {patient.born}" if patient.born else "",
        " ".join(filter(None, (patient.coat, patient.coat_colour, "coat")))
        if patient.coat or patient.coat_colour
        else "",
    ]
    if any(facts):
        yield "Patient", ", ".join(filter(None, facts))
    if patient.owner_name or patient.owner_phone:
        yield "Owner", ", ".join(filter(None, (patient.owner_name, patient.owner_phone)))
    for label, text in (
        ("Problem", reason.problem),
        ("Goal", reason.goal),
        ("Precautions", reason.precautions),
        ("Consent", _said(reason.consent_by, reason.consent_on)),
        ("Instructed", _said(reason.instructions_by, reason.instructions_on)),
    ):
        if text:
            yield label, text
    if about.checked_by:
        yield "Checked", f"by {about.checked_by} on {about.checked_on} (said, not signed)"
    if about.phone:
        yield "Phone", about.phone
    recheck = plan.recheck
    visit = [
        f"on {recheck.on}" if recheck.on else "",
        f"after {counted(recheck.after_sessions, 'session')}" if recheck.after_sessions else "",
        recheck.note,
    ]
    if any(visit):
        yield "Recheck", ", ".join(filter(None, visit))
    for rule in recheck.stop:
        often = (
            f"after {rule.times}"
            if rule.within_days is None
            else (f"after {rule.times} in {counted(rule.within_days, 'day')}")
        )
        yield "Stop rule", f"{rule.sign}, {often}: {rule.then}"


def _said(by: str, on: object) -> str:
    return " ".join(filter(None, (by, f"on {on}" if on else "")))
