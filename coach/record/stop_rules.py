"""The prescriber's own stop rules: which of them are reached by what the household answered. Pure.

Signs are counted over the sessions of this revision of the plan: a new revision is the vet's answer
to them, and begins anew. A session counts once for a sign, by what was said of it last.
"""

import datetime
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from coach.journal.diary_entries import AfterSession
from coach.language import _, ngettext
from coach.plan.model import Plan
from coach.plan.patient import StopRule, StopSign

# 000012-20261128T085220-spine-r3: number, moment, plan and revision of a session.
_NAME = re.compile(r"\d+-(?P<day>\d{8})T\d{6}-(?P<plan>.+)-r(?P<revision>\d+)")
_FOR_THE_DOG = frozenset({"dog_unhappy", "hot_skin"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachedRule:
    """A rule that holds now: so often was its sign seen."""

    rule: StopRule
    count: int

    @property
    def stops(self) -> bool:
        """Whether no session may be started until the vet says so."""
        return self.rule.then == "stop and call"


def reached_rules(
    plan: Plan, answers: Mapping[str, AfterSession], *, today: datetime.date
) -> list[ReachedRule]:
    """The rules of ``plan`` that hold; ``answers`` are those about each session, by its name."""
    found = []
    for rule in plan.recheck.stop:
        days = [day for day, sign in _signs(plan, answers) if sign == rule.sign]
        if rule.within_days is not None:
            days = [day for day in days if (today - day).days < rule.within_days]
        if len(days) >= rule.times:
            found.append(ReachedRule(rule=rule, count=len(days)))
    return found


def _signs(
    plan: Plan, answers: Mapping[str, AfterSession]
) -> Iterator[tuple[datetime.date, StopSign]]:
    for name, answer in answers.items():
        session = _NAME.fullmatch(name)
        if (
            session is None
            or session["plan"] != plan.about.id
            or int(session["revision"]) != plan.about.revision
        ):
            continue
        try:
            day = datetime.datetime.strptime(session["day"], "%Y%m%d").date()  # noqa: DTZ007
        except ValueError:
            continue
        if answer.skin == "red":
            yield day, "red skin"
        elif answer.skin == "warm":
            yield day, "warm skin"
        if answer.stop_reason in _FOR_THE_DOG:
            yield day, "stopped for the dog"


def rule_text(reached: ReachedRule) -> str:
    """What was seen, as the owner reads it."""
    count = reached.count
    texts: dict[StopSign, str] = {
        "red skin": ngettext(
            "The skin was red after {count} session.",
            "The skin was red after {count} sessions.",
            count,
        ),
        "warm skin": ngettext(
            "The skin was warm after {count} session.",
            "The skin was warm after {count} sessions.",
            count,
        ),
        "stopped for the dog": ngettext(
            "{count} session was stopped for the dog.",
            "{count} sessions were stopped for the dog.",
            count,
        ),
    }
    return texts[reached.rule.sign].format(count=count)


def reasons_not_to_start(
    plan: Plan, answers: Mapping[str, AfterSession], *, today: datetime.date
) -> tuple[tuple[str, str], ...]:
    """What was seen and what to do, for each rule that stops the sessions."""
    return tuple(
        (rule_text(reached).rstrip("."), call_text(plan).rstrip("."))
        for reached in reached_rules(plan, answers, today=today)
        if reached.stops
    )


def call_text(plan: Plan) -> str:
    """What to do, with the number of the plan where it has one."""
    if plan.about.phone:
        return _("Your vet wants a call then: {phone}.").format(phone=plan.about.phone)
    return _("Your vet wants a call then.")
