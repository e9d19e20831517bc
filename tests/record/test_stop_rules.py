"""The prescriber's own stop rules. Dogs, people and answers are invented; what counts is counted
by hand."""

import datetime

import pytest

from coach.journal.diary_entries import AfterSession, Skin
from coach.plan.model import Plan
from coach.record.stop_rules import reached_rules, reasons_not_to_start, rule_text
from coach.session.start_rules import Moment, Start, limits_of, may_start
from tests.plan.test_format_2 import PLAN_2
from tests.plan.worlds import changed, problems_of, read

TODAY = datetime.date(2026, 11, 25)
RED = '[[recheck.stop]]\nsign = "red skin"\ntimes = 2\n'


def plan_with(rules: str) -> Plan:
    phone = 'revision = 3\nphone = "030 00"'
    return read(changed(("revision = 3", phone), ("[dog]", f"{rules}\n[dog]"), text=PLAN_2))


def answers(*skins: Skin | None, plan: str = "spine-r3", last: int = 24) -> dict[str, AfterSession]:
    """A session a day, the last on the 24th unless another is said."""
    found = {}
    for number, skin in enumerate(skins):
        day = last - len(skins) + 1 + number
        name = f"{number + 1:06d}-202611{day:02d}T190000-{plan}"
        found[name] = AfterSession(session=name, skin=skin)
    return found


@pytest.mark.parametrize(
    ("skins", "reached"),
    [((), 0), (("red",), 0), (("red", "fine", "red"), 2), (("red", "red", "red"), 3)],
)
def test_a_rule_holds_from_its_count_on(skins: tuple[Skin, ...], reached: int) -> None:
    found = reached_rules(plan_with(RED), answers(*skins), today=TODAY)
    assert [one.count for one in found] == ([reached] if reached else [])
    assert all(one.stops for one in found)


def test_only_sessions_of_this_revision_count() -> None:
    plan = plan_with(RED)
    for other in ("spine-r2", "wound-r3", "spine"):
        assert reached_rules(plan, answers("red", "red", plan=other), today=TODAY) == []


def test_only_the_days_that_the_plan_names_count() -> None:
    plan = plan_with(RED + "within_days = 3\n")
    assert reached_rules(plan, answers("red", "red"), today=TODAY) != []
    assert reached_rules(plan, answers("red", "red", last=22), today=TODAY) == []


def test_what_was_said_last_of_a_session_counts_once() -> None:
    """Hot skin made somebody stop, and the skin was red afterwards: one session, two signs."""
    rules = RED.replace("times = 2", "times = 1") + (
        '[[recheck.stop]]\nsign = "stopped for the dog"\nthen = "call"\n'
    )
    name = "000001-20261124T190000-spine-r3"
    said = AfterSession(session=name, skin="red", stop_reason="hot_skin")
    found = reached_rules(plan_with(rules), {name: said}, today=TODAY)
    assert [(one.rule.sign, one.count, one.stops) for one in found] == [
        ("red skin", 1, True),
        ("stopped for the dog", 1, False),
    ]
    assert rule_text(found[1]) == "1 session was stopped for the dog."


def test_a_session_is_refused_and_the_number_to_call_is_told() -> None:
    plan = plan_with(RED)
    reasons = reasons_not_to_start(plan, answers("red", "red"), today=TODAY)
    assert reasons == (("The skin was red after 2 sessions", "Your vet wants a call then: 030 00"),)
    now = datetime.datetime(2026, 11, 25, 19, tzinfo=datetime.UTC)
    start = Start(
        dog="Juniper",
        chosen_dog=None,
        plan_id="spine",
        plan_revision=3,
        plan_digest="",
        free_bytes=10**9,
        needed_bytes=0,
        stop_rules=reasons,
    )
    moment = Moment(wall=now, trusted=True, mono_ns=0, boot_id="a")
    (reason,) = may_start(start, past=(), limits=limits_of(plan), now=moment)
    assert (reason.code, reason.owner_may) == ("stop_rule", False)
    # A rule that only asks for a call refuses nothing.
    only_call = plan_with(RED + 'then = "call"\n')
    assert reasons_not_to_start(only_call, answers("red", "red"), today=TODAY) == ()


def test_a_rule_that_makes_no_sense_is_a_located_error() -> None:
    text = changed(("[dog]", f"{RED}{RED}[dog]"), text=PLAN_2)
    (problem,) = problems_of(text)
    assert (problem.field, problem.allowed) == ("recheck.stop[2].sign", "each sign only once")
    (problem,) = problems_of(changed(("[dog]", f"{RED}[dog]".replace("red", "blue")), text=PLAN_2))
    assert problem.field == "recheck.stop[1].sign"
