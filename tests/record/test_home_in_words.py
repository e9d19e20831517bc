"""What home says of a dog, from facts put together by hand: each state, its sentences, its key.

Which fact comes first when several hold is the list in the module; what a session may be started
in is the guard's own list of reasons.
"""

import datetime
from collections.abc import Sequence
from typing import Any

import pytest

from coach import language
from coach.bedside.home_status import Facts, at_home, empty_lines, home_lines
from coach.plan.calendar import Calendar
from coach.plan.due_days import State
from coach.record.session_row import Brief, brief_of
from coach.record.tally import tally_of
from coach.session.start_rules import Code, Reason
from coach.units import NS_PER_S
from tests.plan.courses import DAY, MONDAY, calendar_of, due, session
from tests.worlds import Lines, header_for, spots_for

S = NS_PER_S


def last_session(**changes: Any) -> Brief:
    """A finished session of 42.5 of 60 s in the evening of 28 November."""
    lines = Lines(header_for(spots_for([60])))
    row = brief_of("000001-x.jsonl", 1, tally_of(lines.lines), lines.lines)
    said = {
        "state": "finished",
        "reason": "",
        "opened_wall": "2026-11-28T19:03:59.000+01:00",
        "trust": "synchronised",
        "given_ns": 42_500_000_000,
        "planned_ns": 60 * S,
    }
    return row._replace(**{**said, **changes})


def why(code: Code, *, owner_may: bool = True) -> Reason:
    text = "the laser was used " + code.replace("_", " ")
    return Reason(code=code, text=text, what_to_do="wait for " + code, owner_may=owner_may)


def course(*states: State, today: datetime.date = MONDAY) -> Calendar:
    """One session a day from 30 November on, in these states."""
    return calendar_of(
        *(
            due(number, MONDAY + (number - 1) * DAY, state, held=held(number, state))
            for number, state in enumerate(states, start=1)
        ),
        today=today,
    )


def held(number: int, state: str) -> Any:
    return session(number, MONDAY) if state == "given" else None


def facts(**said: Any) -> Facts:
    return Facts(**{"dog": "Pip", "plan": True, **said})


def state_of(**said: Any) -> tuple[str, str]:
    told = at_home(facts(**said))
    return told.state, told.key


# Which state


def test_each_fact_goes_before_those_below_it() -> None:
    """All at once first, then one taken away after the other."""
    reasons = [
        why("too_soon"),
        why("course_done"),
        why("clock_unsure"),
        why("log_unreadable"),
        why("not_yet_valid", owner_may=False),
        why("expired", owner_may=False),
    ]
    said: dict[str, Any] = {
        "running": "Ada",
        "plan_problem": "it is empty",
        "plan": False,
        "cut_off": "19:03",
        "reasons": reasons,
    }
    assert state_of(**said) == ("running", "")
    assert state_of(**said, calendar=course("due")) == ("running", "")
    del said["running"]
    assert state_of(**said) == ("plan_wrong", "")
    del said["plan_problem"]
    assert state_of(**said) == ("no_plan", "")
    del said["plan"]
    assert state_of(**said) == ("cut_off", "carry_on")
    del said["cut_off"]
    for state, key in (("plan_over", ""), ("plan_early", ""), ("log_damaged", "start")):
        assert state_of(**said) == (state, key)
        reasons.pop()
    assert state_of(**said) == ("clock", "start")
    reasons.pop()
    # No session may be started once the course is over: the key does nothing.
    assert state_of(**said) == ("course_over", "")
    reasons.pop()
    assert state_of(**said) == ("not_now", "start")
    reasons.pop()
    assert state_of(**said) == ("free", "start")


@pytest.mark.parametrize(
    "code",
    ["too_soon", "enough_today", "enough_this_week", "no_space", "older_revision", "other_dog"],
)
def test_what_the_owner_may_not_overrule_takes_the_key_away(code: Code) -> None:
    assert state_of(reasons=[why(code)]) == ("not_now", "start")
    assert state_of(reasons=[why(code, owner_may=False)]) == ("not_now", "")
    # One that is final is enough.
    assert state_of(reasons=[why("clock_unsure"), why(code, owner_may=False)]) == ("clock", "")
    # What was cut off is carried on; whether it may be is asked then.
    told = state_of(cut_off="19:03", reasons=[why(code, owner_may=False)])
    assert told == ("cut_off", "carry_on")


def test_a_clock_that_nobody_can_trust_makes_no_day_today() -> None:
    assert state_of(trusted=False, calendar=course("due"), last=last_session())[0] == "clock"
    assert state_of(trusted=False, reasons=[why("too_soon")])[0] == "clock"
    assert state_of(trusted=False, reasons=[why("expired", owner_may=False)])[0] == "plan_over"


def test_the_calendar_says_which_day_it_is() -> None:
    before = last_session()
    assert state_of(calendar=course("given"), last=before) == ("course_over", "")
    assert state_of(calendar=course(), last=before) == ("free", "start")
    assert state_of(calendar=None, last=before) == ("free", "start")
    assert state_of(calendar=course("due")) == ("first_day", "start")
    assert state_of(calendar=course("due"), last=before) == ("due", "start")
    assert state_of(calendar=course("late", today=MONDAY + DAY), last=before) == ("late", "start")
    ahead = course("given", "to_come", today=MONDAY)
    assert state_of(calendar=ahead, last=before) == ("not_due", "start")
    assert state_of(calendar=ahead) == ("not_due", "start")
    # Due today, since it was missed and moved on.
    moved = calendar_of(due(1, MONDAY, "due", planned=MONDAY - DAY))
    assert state_of(calendar=moved, last=before)[0] == "late"
    # A window that is still open, on the very day.
    assert state_of(calendar=course("late"), last=before)[0] == "late"


# What is said


def said_of(**said: Any) -> tuple[str, str, str]:
    told = at_home(facts(**said))
    assert told.dog == "Pip"
    return told.sign, told.text, told.todo


def test_each_state_is_told_with_what_to_do_about_it() -> None:
    before = last_session()
    assert said_of(running="Ada") == (
        "RUNNING",
        "A session of Pip is being held now.",
        "Wait until it is over.",
    )
    assert said_of(cut_off="19:03") == (
        "CUT OFF",
        "The last session was cut off at 19:03.",
        "SPACE carries on with it where it ended.",
    )
    assert said_of(plan=False) == (
        "NO PLAN",
        "There is no plan for Pip here.",
        "Ask your prescriber for the plan file. Then type: coach take FILE",
    )
    assert said_of(plan_problem="it is empty") == (
        "BAD PLAN",
        "The plan of Pip cannot be used: it is empty",
        "Show your prescriber what this says: coach check",
    )
    assert said_of(calendar=course("given", "missed")) == (
        "ALL DONE",
        "All sessions of the course are behind Pip.",
        "Ask your prescriber how to go on. coach handover makes the record for them.",
    )
    assert said_of() == ("READY", "The plan does not say how often.", "SPACE starts a session.")
    assert said_of(calendar=course("due", "to_come")) == (
        "DAY ONE",
        "Today may be the first of 2 sessions.",
        "SPACE starts it. R goes through it first, with the laser off.",
    )
    assert said_of(calendar=course("given", "due", today=MONDAY + DAY), last=before) == (
        "DUE",
        "Session 2 of 2 is due today.",
        "SPACE starts it.",
    )
    moved = calendar_of(due(1, MONDAY, "due", planned=MONDAY - DAY), due(2, MONDAY, "to_come"))
    assert said_of(calendar=moved, last=before) == (
        "DUE",
        "Session 1 of 2 was due on Su 2026-11-29 and may be given today.",
        "SPACE starts it.",
    )
    assert said_of(calendar=course("given", "given", "to_come"), last=before) == (
        "NOT DUE",
        "Next: session 3 of 3, on We 2026-12-02.",
        "Nothing is to be done today.",
    )


@pytest.mark.parametrize(
    ("code", "sign"),
    [
        ("expired", "PLAN OVER"),
        ("not_yet_valid", "NOT YET"),
        ("log_unreadable", "BAD LOG"),
        ("too_soon", "NOT NOW"),
        ("no_space", "NOT NOW"),
    ],
)
def test_what_the_guard_says_becomes_sentences(code: Code, sign: str) -> None:
    # The one that decides is told, whatever stands before it.
    reasons = [why("course_done"), why(code), why("enough_today")]
    if sign == "NOT NOW":
        reasons = reasons[1:]
    words = code.replace("_", " ")
    assert said_of(reasons=reasons) == (
        sign,
        f"The laser was used {words}.",
        f"Wait for {code}.",
    )


def test_of_the_clock_the_guard_knows_more_than_home_does() -> None:
    todo = "Set the clock, or start only if you are sure that a session is due."
    unknown = "The clock of this computer cannot be trusted, so the day is not known."
    assert said_of(trusted=False) == ("NO CLOCK", unknown, todo)
    assert said_of(trusted=False, reasons=[why("too_soon")]) == ("NO CLOCK", unknown, todo)
    both = [why("too_soon"), why("clock_unsure")]
    assert said_of(reasons=both) == ("NO CLOCK", "The laser was used clock unsure.", todo)


# The last session


def last_of(**changes: Any) -> str:
    return at_home(facts(last=last_session(**changes))).last


def test_the_last_session_is_told_in_one_line() -> None:
    begun = "Last session: 2026-11-28 19:03, "
    assert last_of() == begun + "finished, 42.5 of 60 s."
    assert last_of(given_ns=1_000_000, planned_ns=1_250 * S) == begun + "finished, 0.0 of 1250 s."
    assert last_of(state="stopped", reason="no_time") == (
        begun + "stopped early (no time left), 42.5 of 60 s."
    )
    assert last_of(state="stopped") == begun + "stopped early, 42.5 of 60 s."
    # A reason belongs to a stop.
    assert last_of(state="cut_off", reason="no_time") == (
        begun + "not closed: cut off, or still running, 42.5 of 60 s."
    )
    assert last_of(damage="line 4") == begun + "its log is damaged, 42.5 of 60 s."
    assert last_of(trust="rtc") == begun + "finished, 42.5 of 60 s."
    assert last_of(trust="unknown") == (
        begun + "finished, 42.5 of 60 s. (The clock could not be trusted then.)"
    )
    assert at_home(facts()).last == "No session yet."
    unread = "The log of the last session cannot be read."
    assert at_home(facts(newer_unread=True)).last == unread
    assert at_home(facts(newer_unread=True, last=last_session())).last == unread


def test_a_reason_of_a_newer_program_is_told_as_it_stands() -> None:
    # Its name is no text of the catalogue, on which the tests insist otherwise.
    language.use(language.ENGLISH)
    assert "stopped early (moonlight), " in last_of(state="stopped", reason="moonlight")


# Notes


def notes(**said: Any) -> Sequence[str]:
    return at_home(facts(**said)).notes


def test_damaged_logs_are_counted_and_one_is_named() -> None:
    assert notes(odd=["b.jsonl"]) == (
        "1 log is damaged: b.jsonl. What can be read counts. coach verify tells more.",
    )
    assert notes(odd=["b.jsonl", "a.jsonl", "c.jsonl"]) == (
        "3 logs are damaged, b.jsonl first. What can be read counts. coach verify tells more.",
    )


def test_other_reasons_are_noted_beside_the_one_that_decides() -> None:
    soon, done, unsure = why("too_soon"), why("course_done"), why("clock_unsure")
    early = why("not_yet_valid", owner_may=False)
    over = why("expired", owner_may=False)
    unread = why("log_unreadable")
    soon_words = "The laser was used too soon."
    every = [soon, done, unsure, unread, early, over]
    rest = (
        soon_words,
        "The laser was used clock unsure.",
        "The laser was used log unreadable.",
        "The laser was used not yet valid.",
    )
    # That the course is over is told by the calendar, which is on the same screen.
    assert notes(reasons=every) == rest
    for kept, state in ((5, "plan_early"), (4, "log_damaged"), (3, "clock"), (2, "course_over")):
        assert at_home(facts(reasons=every[:kept])).state == state
        assert notes(reasons=every[:kept]) == rest[: max(1, kept - 2)]
    assert notes(cut_off="19:03", reasons=[soon]) == ()


def test_a_missed_session_and_a_score_are_asked_for() -> None:
    missed = "A session was missed: ask your prescriber what to do."
    calendar = course("ask", "due", today=MONDAY + DAY)
    assert notes(calendar=calendar) == (missed,)
    assert notes(calendar=calendar, plan=False) == ()
    assert notes(calendar=calendar, plan_problem="x") == ()
    assert notes(calendar=course("missed", "due")) == ()
    assert notes(calendar=calendar, score_due=True, odd=["x"])[1:] == (
        missed,
        "The plan asks how Pip is doing: press S.",
    )


# Line by line


def test_home_is_told_line_by_line() -> None:
    now = datetime.datetime(2026, 11, 30, 7, 5, tzinfo=datetime.UTC)
    nobody = (
        "No dog has a plan here yet.",
        "Ask your prescriber for the plan file. Then type: coach take FILE",
        "To try the coach with the laser off: coach rehearse",
    )
    assert empty_lines() == nobody
    assert home_lines([], now=now) == ["2026-11-30 07:05", *nobody]
    dogs = [at_home(facts(score_due=True)), at_home(Facts(dog="Rex", plan=False))]
    assert home_lines(dogs, now=now) == [
        "2026-11-30 07:05",
        "",
        "Pip: READY",
        "  The plan does not say how often.",
        "  SPACE starts a session.",
        "  No session yet.",
        "  The plan asks how Pip is doing: press S.",
        "",
        "Rex: NO PLAN",
        "  There is no plan for Rex here.",
        "  Ask your prescriber for the plan file. Then type: coach take FILE",
        "  No session yet.",
    ]
