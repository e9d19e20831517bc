"""May we start, and may we carry on? Facts in, reasons out. Pure; decides nothing by itself.

A reason is either final (``owner_may`` is False) or one that the owner may overrule, with a word
why, that is then logged. Which ones the owner may overrule is the prescriber's to say; the
exceptions are a clock that nobody can trust and a log that nobody can read, where the owner is
always asked instead of a guess.

How long ago a session ended is known from the monotonic clock within one boot, or from two wall
clocks that can both be trusted. Everything else is "not known".
"""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from coach.language import _, ngettext
from coach.plan.model import Plan
from coach.units import NS_PER_S, clock_text, ns_from_s

MINUTE_NS = 60 * NS_PER_S
DAY_NS = 24 * 60 * MINUTE_NS

Code = Literal[
    "other_dog",
    "older_revision",
    "plan_changed",
    "not_yet_valid",
    "expired",
    "too_soon",
    "enough_today",
    "enough_this_week",
    "course_done",
    "clock_unsure",
    "log_unreadable",
    "no_space",
    "cut_too_long_ago",
    "stop_rule",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A moment by every clock. ``wall`` has an offset; ``trusted``: it may be relied upon."""

    wall: datetime.datetime
    trusted: bool
    mono_ns: int
    boot_id: str

    def __post_init__(self) -> None:
        if self.wall.tzinfo is None:
            raise ValueError("a wall clock time needs an offset")


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """One earlier session of this dog that counts; ``ended`` is None if its log does not tell."""

    number: int
    plan_id: str
    plan_revision: int
    plan_digest: str
    ended: Moment | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the plan sets; None where it sets nothing.

    Attributes:
        valid_from, valid_until: first and last day of the plan.
        between_ns: least time from the end of a session to the start of the next.
        a_day, a_week: most sessions on one day, and on seven days in a row.
        sessions: sessions of the whole course.
        owner_decides: reasons that the prescriber lets the owner overrule.
    """

    valid_from: datetime.date
    valid_until: datetime.date
    between_ns: int | None = None
    a_day: int | None = None
    a_week: int | None = None
    sessions: int | None = None
    owner_decides: frozenset[Code] = frozenset()


# What the prescriber can leave to the owner: when and how often, never which dog or plan.
OWNERS: frozenset[Code] = frozenset({"too_soon", "enough_today", "enough_this_week", "course_done"})
ASKED: frozenset[Code] = frozenset({"clock_unsure", "log_unreadable"})


def limits_of(plan: Plan) -> Limits:
    """The limits that a plan sets."""
    limits = plan.limits
    hours = limits.least_hours_between
    return Limits(
        valid_from=plan.about.prescribed_on,
        valid_until=plan.about.valid_until,
        between_ns=None if hours is None else ns_from_s(hours * 3600),
        a_day=limits.most_a_day,
        a_week=limits.most_a_week,
        sessions=sum(phase.sessions for phase in plan.course) if plan.course else None,
        owner_decides=OWNERS if limits.owner_may_overrule else frozenset(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What is to be started. ``chosen_dog`` is the dog that the owner named, or None.

    ``stop_rules``: the prescriber's rules that forbid it, each as what was seen and what to do.
    """

    dog: str
    chosen_dog: str | None
    plan_id: str
    plan_revision: int
    plan_digest: str
    free_bytes: int
    needed_bytes: int
    stop_rules: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why not, what to do about it, and whether the owner may go on all the same."""

    code: Code
    text: str
    what_to_do: str
    owner_may: bool


def since_ns(before: Moment, now: Moment) -> int | None:
    """Time from ``before`` to ``now``, or None if no clock can tell."""
    if before.boot_id and before.boot_id == now.boot_id:
        passed_ns = now.mono_ns - before.mono_ns
    elif before.trusted and now.trusted:
        passed_ns = (now.wall - before.wall) // datetime.timedelta(microseconds=1) * 1000
    else:
        return None
    # A clock that went back tells nothing.
    return passed_ns if passed_ns >= 0 else None


def may_start(
    start: Start, *, past: Sequence[Past], limits: Limits, now: Moment
) -> tuple[Reason, ...]:
    """Every reason why this session should not start now; empty when it may.

    ``past`` are the earlier sessions of this dog that count, in order of their number.
    """
    stopped: list[_Found] = [("stop_rule", text, what) for text, what in start.stop_rules]
    found = [
        *stopped,
        *_plan_reasons(start, past),
        *_time_reasons(start, past, limits, now),
    ]
    owner_may = ASKED | limits.owner_decides
    reasons = [
        Reason(code=code, text=text, what_to_do=what, owner_may=code in owner_may)
        for code, text, what in found
    ]
    space = no_space(start.free_bytes, start.needed_bytes)
    return tuple(reasons if space is None else [*reasons, space])


def no_space(free_bytes: int, needed_bytes: int) -> Reason | None:
    """Why the log may not fit on the disk; None when it does."""
    if free_bytes >= needed_bytes:
        return None
    return Reason(
        code="no_space",
        text=_("the disk has {free} KiB left; the log of a session may need {needed} KiB").format(
            free=free_bytes // 1024, needed=needed_bytes // 1024
        ),
        what_to_do=_("make room on the disk first"),
        owner_may=False,
    )


_Found = tuple[Code, str, str]


def _plan_reasons(start: Start, past: Sequence[Past]) -> Iterable[_Found]:
    if start.chosen_dog is not None and start.chosen_dog != start.dog:
        yield (
            "other_dog",
            _("the plan is for {dog}, not for {chosen}").format(
                dog=start.dog, chosen=start.chosen_dog
            ),
            _("take the plan of {dog}").format(dog=start.chosen_dog),
        )
    same = [session for session in past if session.plan_id == start.plan_id]
    newest = max((session.plan_revision for session in same), default=0)
    if newest > start.plan_revision:
        yield (
            "older_revision",
            _("revision {newest} of this plan was used before; this is revision {this}").format(
                newest=newest, this=start.plan_revision
            ),
            _("take the newest revision, or ask the prescriber"),
        )
    digests = {
        session.plan_digest for session in same if session.plan_revision == start.plan_revision
    }
    if digests and start.plan_digest not in digests:
        yield (
            "plan_changed",
            _("the plan file was changed, but still says revision {revision}").format(
                revision=start.plan_revision
            ),
            _("ask the prescriber for a new revision"),
        )


def _time_reasons(
    start: Start, past: Sequence[Past], limits: Limits, now: Moment
) -> Iterable[_Found]:
    today = now.wall.date()
    if not limits.valid_from <= today <= limits.valid_until and not now.trusted:
        yield (
            "clock_unsure",
            _(
                "the clock is not to be trusted; it says {today}, and the plan holds from {first} "
                "to {last}"
            ).format(today=today, first=limits.valid_from, last=limits.valid_until),
            _("start only if you are sure that the plan holds today"),
        )
    elif today < limits.valid_from:
        yield (
            "not_yet_valid",
            _("the plan begins on {day}").format(day=limits.valid_from),
            _("wait until then"),
        )
    elif today > limits.valid_until:
        yield (
            "expired",
            _("the plan ended on {day}").format(day=limits.valid_until),
            _("ask the prescriber for a new one"),
        )
    of_plan = [session for session in past if session.plan_id == start.plan_id]
    if limits.sessions is not None and len(of_plan) >= limits.sessions:
        yield (
            "course_done",
            ngettext(
                "the one session of the course has been held",
                "all {count} sessions of the course have been held",
                limits.sessions,
            ).format(count=limits.sessions),
            _("show the record to the prescriber and ask how to go on"),
        )
    yield from _spacing(past, limits, now)


def _spacing(past: Sequence[Past], limits: Limits, now: Moment) -> Iterable[_Found]:
    unsure = _unsure(past, limits, now)
    if unsure is not None:
        number = unsure.number
        what = _("start only if you are sure that the plan allows a session now")
        if unsure.ended is None:
            yield (
                "log_unreadable",
                _(
                    "the log of session number {number} cannot be read, so nobody can tell how "
                    "long ago it was"
                ).format(number=number),
                what,
            )
        else:
            yield (
                "clock_unsure",
                _("the clock cannot tell how long ago session number {number} was").format(
                    number=number
                ),
                what,
            )
    passed_ns = _passed_ns(past[-1], now) if past else None
    if passed_ns is not None and limits.between_ns is not None:
        left_ns = limits.between_ns - passed_ns
        whole_ns = passed_ns - passed_ns % MINUTE_NS
        if left_ns > 0:
            yield (
                "too_soon",
                _(
                    "the last session ended {passed} ago; the plan asks for {between} between "
                    "sessions"
                ).format(passed=_span(whole_ns), between=_span(limits.between_ns)),
                _("wait another {time}").format(time=_span(left_ns)),
            )
    ages = [age for session in past if (age := _age_days(session, now)) is not None]
    today, week = sum(age < 1 for age in ages), sum(age < 7 for age in ages)
    if limits.a_day is not None and today >= limits.a_day:
        yield (
            "enough_today",
            ngettext(
                "{count} session today; the plan allows at most {most}",
                "{count} sessions today; the plan allows at most {most}",
                today,
            ).format(count=today, most=limits.a_day),
            _("go on tomorrow"),
        )
    if limits.a_week is not None and week >= limits.a_week:
        yield (
            "enough_this_week",
            ngettext(
                "{count} session in seven days; the plan allows at most {most}",
                "{count} sessions in seven days; the plan allows at most {most}",
                week,
            ).format(count=week, most=limits.a_week),
            _("go on on the next day that the plan allows"),
        )


def _unsure(past: Sequence[Past], limits: Limits, now: Moment) -> Past | None:
    """The newest session whose age nobody knows, if a limit may hang on it."""
    reach_ns = limits.between_ns or 0
    if limits.a_day is not None or limits.a_week is not None:
        days = 1 if limits.a_week is None else 7
        reach_ns = max(reach_ns, days * DAY_NS)
    else:
        past = past[-1:]
    if reach_ns == 0:
        return None
    for session in reversed(past):
        passed_ns = _passed_ns(session, now)
        if passed_ns is None:
            return session
        if passed_ns >= reach_ns:
            # What has a lower number is older still, whatever the clock said then.
            return None
    return None


def _passed_ns(session: Past, now: Moment) -> int | None:
    return None if session.ended is None else since_ns(session.ended, now)


def _age_days(session: Past, now: Moment) -> int | None:
    """How many local days ago; None if no clock can tell."""
    passed_ns = _passed_ns(session, now)
    if passed_ns is None:
        return None
    if not now.trusted:
        # Nobody knows when the day began: the last 24 hours count as today.
        return passed_ns // DAY_NS
    # Counted back from now, so that a wall clock that was wrong then does not matter.
    then = now.wall - datetime.timedelta(microseconds=passed_ns // 1000)
    return (now.wall.date() - then.date()).days


def _span(duration_ns: int) -> str:
    minutes = -(-duration_ns // MINUTE_NS)
    if minutes < 60:
        return _("{minutes} min").format(minutes=minutes)
    if minutes < 48 * 60:
        return _("{hours} h").format(hours=clock_text(minutes * 60)[:-3])
    return _("{days} days").format(days=minutes // (24 * 60))


def may_carry_on(*, ended: Moment, now: Moment, within_s: int) -> Reason | None:
    """Why a session that was cut off at ``ended`` should not be carried on; None when it may."""
    passed_ns = since_ns(ended, now)
    if passed_ns is None:
        return Reason(
            code="clock_unsure",
            text=_("the clock cannot tell how long ago the session was cut off"),
            what_to_do=_("carry on only if it was less than {time} ago").format(
                time=_span(within_s * NS_PER_S)
            ),
            owner_may=True,
        )
    if passed_ns > within_s * NS_PER_S:
        return Reason(
            code="cut_too_long_ago",
            text=_(
                "the session was cut off {passed} ago; the plan lets it be carried on within {time}"
            ).format(passed=_span(passed_ns), time=_span(within_s * NS_PER_S)),
            what_to_do=_("start a new session when the plan allows one"),
            owner_may=False,
        )
    return None
