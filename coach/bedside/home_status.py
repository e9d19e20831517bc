"""What the home screen says of a dog: facts in, state out. Pure.

A dog is in one state, the first of this list that fits; nothing is said that the facts do not
bear out. A clock that nobody can trust makes no day "today", and a log that nobody can read
makes no session "the last one".

    running       a session of the dog is being held
    cut_off       one was cut off and may be carried on
    no_plan, plan_wrong, plan_over, plan_early
    log_damaged   a log that cannot be read may be the newest
    clock         the wall clock cannot be trusted
    course_over   every session of the course is behind
    not_now       the plan or the disk does not let one start now
    first_day     the first session may be today
    due, late     a session is due today, or was due before
    free          the plan does not say how often
    not_due       the next one is on another day
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from coach.language import N_, _, ngettext, number
from coach.plan.calendar import Calendar
from coach.record.session_row import Brief
from coach.reports.calendar_text import day_text
from coach.reports.session_text import REASON_WORDS, STATE_WORDS
from coach.session.start_rules import Code, Reason
from coach.units import rounded, s_from_ns

State = Literal[
    "running",
    "cut_off",
    "no_plan",
    "plan_wrong",
    "plan_over",
    "plan_early",
    "log_damaged",
    "clock",
    "course_over",
    "not_now",
    "first_day",
    "due",
    "late",
    "free",
    "not_due",
]

# For block letters on a small screen: two short words at most.
SIGNS: dict[State, str] = {
    "running": N_("RUNNING"),
    "cut_off": N_("CUT OFF"),
    "no_plan": N_("NO PLAN"),
    "plan_wrong": N_("BAD PLAN"),
    "plan_over": N_("PLAN OVER"),
    "plan_early": N_("NOT YET"),
    "log_damaged": N_("BAD LOG"),
    "clock": N_("NO CLOCK"),
    "course_over": N_("ALL DONE"),
    "not_now": N_("NOT NOW"),
    "first_day": N_("DAY ONE"),
    "due": N_("DUE"),
    "late": N_("DUE"),
    "free": N_("READY"),
    "not_due": N_("NOT DUE"),
}
# In these a session may be begun; the guard asks once more when it is.
STARTS: frozenset[State] = frozenset(
    {"cut_off", "log_damaged", "clock", "not_now", "first_day", "due", "late", "free", "not_due"}
)
# What the guard says, and which state that is.
OF_CODE: dict[Code, State] = {
    "expired": "plan_over",
    "not_yet_valid": "plan_early",
    "log_unreadable": "log_damaged",
    "clock_unsure": "clock",
    "course_done": "course_over",
}
ORDER: tuple[State, ...] = ("plan_over", "plan_early", "log_damaged", "clock", "course_over")


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is known of a dog at this moment.

    Attributes:
        dog: its name, or that of its folder.
        plan: whether it has a plan file; ``plan_problem`` what is wrong with it, or "".
        trusted: whether the wall clock may be relied upon.
        calendar: its course, or None without a plan that can be used.
        reasons: what speaks against a start now.
        running: who holds a session of it, or "".
        cut_off: when the session that may be carried on was cut off, or ""; one for which it is
            too late is closed at the next start.
        last: the newest session that counts, or None; ``newer_unread``: there is a newer log
            that cannot be read.
        odd: names of logs that are damaged or cannot be read.
        score_due: whether the plan asks for a score today.
    """

    dog: str
    plan: bool
    plan_problem: str = ""
    trusted: bool = True
    calendar: Calendar | None = None
    reasons: Sequence[Reason] = ()
    running: str = ""
    cut_off: str = ""
    last: Brief | None = None
    newer_unread: bool = False
    odd: Sequence[str] = ()
    score_due: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AtHome:
    """What is shown: a sign of a word or two, what is so, what to do, and the last session.

    ``key`` is what the one big key does: ``start``, ``carry_on`` or "" for nothing.
    """

    dog: str
    state: State
    sign: str
    text: str
    todo: str
    key: Literal["start", "carry_on", ""]
    last: str
    notes: tuple[str, ...]


def at_home(facts: Facts) -> AtHome:
    """The state of a dog, in words."""
    state = _state(facts)
    key: Literal["start", "carry_on", ""] = ""
    if state in STARTS and all(reason.owner_may for reason in facts.reasons):
        key = "start"
    if state == "cut_off":
        key = "carry_on"
    text, todo = _words(state, facts)
    return AtHome(
        dog=facts.dog,
        state=state,
        sign=_(SIGNS[state]),
        text=text,
        todo=todo,
        key=key,
        last=_last(facts),
        notes=tuple(_notes(state, facts)),
    )


def _state(facts: Facts) -> State:
    if facts.running:
        return "running"
    if facts.plan_problem:
        return "plan_wrong"
    if not facts.plan:
        return "no_plan"
    if facts.cut_off:
        return "cut_off"
    told = {OF_CODE.get(reason.code, "not_now") for reason in facts.reasons}
    if not facts.trusted:
        told.add("clock")
    calendar = facts.calendar
    if calendar is not None and calendar.dues and calendar.next is None:
        told.add("course_over")
    for state in ORDER:
        if state in told:
            return state
    if told:
        return "not_now"
    if calendar is None or not calendar.dues:
        return "free"
    due = calendar.due_today
    if due is None:
        return "not_due"
    if facts.last is None:
        return "first_day"
    return "late" if due.state == "late" or due.planned_on < calendar.today else "due"


def _words(state: State, facts: Facts) -> tuple[str, str]:
    """What is so, and what to do next."""
    dog = facts.dog
    if state in ("plan_over", "plan_early", "log_damaged", "not_now"):
        reason = next(
            reason for reason in facts.reasons if OF_CODE.get(reason.code, "not_now") == state
        )
        return _sentence(reason.text), _sentence(reason.what_to_do)
    match state:
        case "running":
            return (
                _("A session of {dog} is being held now.").format(dog=dog),
                _("Wait until it is over."),
            )
        case "cut_off":
            return (
                _("The last session was cut off at {time}.").format(time=facts.cut_off),
                _("SPACE carries on with it where it ended."),
            )
        case "no_plan":
            return (
                _("There is no plan for {dog} here.").format(dog=dog),
                _("Ask your prescriber for the plan file. Then type: coach take FILE"),
            )
        case "plan_wrong":
            return (
                _("The plan of {dog} cannot be used: {problem}").format(
                    dog=dog, problem=facts.plan_problem
                ),
                _("Show your prescriber what this says: coach check"),
            )
        case "clock":
            reason_texts = [r for r in facts.reasons if r.code == "clock_unsure"]
            return (
                _sentence(reason_texts[0].text)
                if reason_texts
                else _("The clock of this computer cannot be trusted, so the day is not known."),
                _("Set the clock, or start only if you are sure that a session is due."),
            )
        case "course_over":
            return (
                _("All sessions of the course are behind {dog}.").format(dog=dog),
                _("Ask your prescriber how to go on. coach handover makes the record for them."),
            )
        case "free":
            return (
                _("The plan does not say how often."),
                _("SPACE starts a session."),
            )
    calendar = facts.calendar
    assert calendar is not None
    due = calendar.next
    assert due is not None
    values = {"number": due.number, "of": len(calendar.dues), "day": day_text(due.day)}
    match state:
        case "first_day":
            return (
                _("Today may be the first of {of} sessions.").format(**values),
                _("SPACE starts it. R goes through it first, with the laser off."),
            )
        case "late":
            return (
                _("Session {number} of {of} was due on {planned} and may be given today.").format(
                    planned=day_text(due.planned_on), **values
                ),
                _("SPACE starts it."),
            )
        case "due":
            return (
                _("Session {number} of {of} is due today.").format(**values),
                _("SPACE starts it."),
            )
    return (
        _("Next: session {number} of {of}, on {day}.").format(**values),
        _("Nothing is to be done today."),
    )


def _last(facts: Facts) -> str:
    """The last session in one line."""
    last = facts.last
    if facts.newer_unread:
        return _("The log of the last session cannot be read.")
    if last is None:
        return _("No session yet.")
    how = _("its log is damaged") if last.damage else _(STATE_WORDS[last.state])
    if last.state == "stopped" and last.reason:
        how += f" ({_(REASON_WORDS.get(last.reason, last.reason))})"
    line = _("Last session: {when}, {how}, {given} of {planned} s.").format(
        when=last.opened_wall[:16].replace("T", " "),
        how=how,
        given=_seconds(last.given_ns),
        planned=_seconds(last.planned_ns),
    )
    if last.trust == "unknown":
        line += " " + _("(The clock could not be trusted then.)")
    return line


def _notes(state: State, facts: Facts) -> Sequence[str]:
    found = []
    if facts.odd:
        found.append(
            ngettext(
                "{count} log is damaged: {name}. What can be read counts. coach verify tells more.",
                "{count} logs are damaged, {name} first. What can be read counts. "
                "coach verify tells more.",
                len(facts.odd),
            ).format(count=len(facts.odd), name=facts.odd[0])
        )
    shown = {"plan_over", "plan_early", "log_damaged", "not_now", "clock"}
    told = [r for r in facts.reasons if OF_CODE.get(r.code, "not_now") != state]
    if state in shown or state == "course_over":
        found += [_sentence(reason.text) for reason in told if reason.code != "course_done"]
    calendar = facts.calendar
    if calendar is not None and calendar.count("ask") and state not in ("no_plan", "plan_wrong"):
        found.append(_("A session was missed: ask your prescriber what to do."))
    if facts.score_due:
        found.append(_("The plan asks how {dog} is doing: press S.").format(dog=facts.dog))
    return found


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _seconds(duration_ns: int) -> str:
    exact = s_from_ns(duration_ns)
    return number(rounded(exact, 0 if exact.denominator == 1 else 1))


def home_lines(homes: Sequence[AtHome], *, now: datetime.datetime) -> list[str]:
    """The home screen line by line."""
    lines = [f"{now:%Y-%m-%d %H:%M}"]
    if not homes:
        return [*lines, *empty_lines()]
    for home in homes:
        lines += ["", f"{home.dog}: {home.sign}", f"  {home.text}", f"  {home.todo}"]
        lines += [f"  {home.last}", *(f"  {note}" for note in home.notes)]
    return lines


def empty_lines() -> tuple[str, ...]:
    """What is said where no dog is known."""
    return (
        _("No dog has a plan here yet."),
        _("Ask your prescriber for the plan file. Then type: coach take FILE"),
        _("To try the coach with the laser off: coach rehearse"),
    )
