"""What the owner is told about a plan before it is taken. Pure."""

import datetime
from collections.abc import Sequence

from coach.handover.changes import changes
from coach.handover.take_plan import SignedBy
from coach.language import _
from coach.plan.model import Plan
from coach.plan.phase_findings import all_findings
from coach.plan.summary_text import FINDING_LINES, finding_lines


def signed_text(signed: SignedBy) -> str:
    """Who signed it, as far as is known here."""
    if signed.state == "known":
        return _("Signed by {name}, whose key is known here.").format(name=signed.name)
    if signed.state == "unknown":
        return _("Signed with a key that is not known here: {key}").format(key=signed.public_key)
    if signed.state == "bad":
        return _("Its signature does not hold.")
    return _("Not signed: nothing shows who wrote it.")


def head_lines(new: Plan, signed: SignedBy) -> list[str]:
    """Which plan it is."""
    about = new.about
    head = _("{dog}: plan {plan}, revision {revision}, from {prescriber}").format(
        dog=new.dog.name, plan=about.id, revision=about.revision, prescriber=about.prescriber
    )
    return [head, signed_text(signed), *filter(None, [second_check_text(new, signed)])]


def second_check_text(new: Plan, signed: SignedBy) -> str:
    """Who else has read the plan, or ""; what is only said is shown as that."""
    about = new.about
    if signed.count > 1:
        return _("A second person has signed it too.")
    if about.checked_by:
        return _("Checked by {name} on {day}: so the plan says, it is not signed.").format(
            name=about.checked_by, day=about.checked_on
        )
    return ""


def change_lines(before: Plan | None, new: Plan, others: Sequence[str]) -> list[str]:
    """What it changes; ``others`` are the dogs that have a plan here, if this one has none."""
    if before is None:
        first = _("It is the first plan of {dog} here.").format(dog=new.dog.name)
        if not others:
            return [first]
        dogs = _("This dog is new here. Known so far: {dogs}").format(dogs=", ".join(others))
        return [dogs, first]
    told = changes(before, new) or [_("Nothing but the number of the revision.")]
    return [_("What changes for you:"), *(f"- {line}" for line in told)]


def second_look_lines(new: Plan, *, today: datetime.date) -> list[str]:
    """What its prescriber should look at again, as ``coach check`` says it; [] for nothing."""
    found = all_findings(new, today=today)
    if not found:
        return []
    return [
        _("Ask your vet to look at this again:"),
        *finding_lines(found, most_lines=FINDING_LINES),
    ]
