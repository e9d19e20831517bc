"""May we start? Each reason by itself, all at once, and what a wrong clock does to them."""

import datetime
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from coach.plan.files import load_plan
from coach.plan.model import Limits as PlanLimits
from coach.session.start_rules import (
    OWNERS,
    Code,
    Limits,
    Moment,
    Past,
    Reason,
    Start,
    limits_of,
    may_carry_on,
    may_start,
    since_ns,
)
from coach.units import NS_PER_S

HOUR_NS = 3600 * NS_PER_S
ZONE = datetime.timezone(datetime.timedelta(hours=1))
NOW = Moment(
    wall=datetime.datetime(2025, 3, 10, 19, 0, tzinfo=ZONE),
    trusted=True,
    mono_ns=1000 * HOUR_NS,
    boot_id="today",
)
LIMITS = Limits(
    valid_from=datetime.date(2025, 1, 1),
    valid_until=datetime.date(2025, 12, 31),
    between_ns=20 * HOUR_NS,
    a_day=1,
    a_week=3,
    sessions=5,
)
START = Start(
    dog="Pip",
    chosen_dog="Pip",
    plan_id="demo",
    plan_revision=2,
    plan_digest="bb",
    free_bytes=10_000_000,
    needed_bytes=1_000_000,
)


def hours_ago(hours: float, *, boot_id: str = "before", trusted: bool = True) -> Moment:
    return Moment(
        wall=NOW.wall - datetime.timedelta(hours=hours),
        trusted=trusted,
        mono_ns=NOW.mono_ns - round(hours * HOUR_NS),
        boot_id=boot_id,
    )


def past(*hours: float, **moment: object) -> list[Past]:
    return [
        Past(
            number=number,
            plan_id="demo",
            plan_revision=2,
            plan_digest="bb",
            ended=hours_ago(ago, **moment),  # type: ignore[arg-type]
        )
        for number, ago in enumerate(hours, start=1)
    ]


def codes(reasons: tuple[Reason, ...]) -> list[Code]:
    return [reason.code for reason in reasons]


def ask(
    start: Start = START,
    sessions: list[Past] | None = None,
    limits: Limits = LIMITS,
    now: Moment = NOW,
) -> list[Code]:
    return codes(may_start(start, past=sessions or [], limits=limits, now=now))


def test_nothing_stands_against_a_first_session_or_one_after_two_days() -> None:
    assert ask() == []
    assert ask(sessions=past(100, 48)) == []


@pytest.mark.parametrize(
    ("start", "code"),
    [
        (replace(START, chosen_dog="Rex"), "other_dog"),
        (replace(START, plan_revision=1, plan_digest="aa"), "older_revision"),
        (replace(START, plan_digest="cc"), "plan_changed"),
        (replace(START, free_bytes=999_999), "no_space"),
    ],
)
def test_the_wrong_thing_is_refused(start: Start, code: Code) -> None:
    assert ask(start, past(48)) == [code]


def test_a_new_revision_and_another_plan_are_no_reason() -> None:
    assert ask(replace(START, plan_revision=3, plan_digest="cc"), past(48)) == []
    assert ask(replace(START, plan_id="other", plan_revision=1, plan_digest="zz"), past(48)) == []


@pytest.mark.parametrize(
    ("day", "expected"),
    [
        ("2024-12-31", ["not_yet_valid"]),
        ("2025-01-01", []),
        ("2025-12-31", []),
        ("2026-01-01", ["expired"]),
    ],
)
def test_the_plan_holds_from_its_first_to_its_last_day(day: str, expected: list[Code]) -> None:
    wall = datetime.datetime.fromisoformat(f"{day}T23:30:00+01:00")
    assert ask(now=replace(NOW, wall=wall)) == expected


def test_too_soon_by_a_second_and_just_late_enough() -> None:
    assert ask(sessions=past(20 - 1 / 3600), limits=replace(LIMITS, a_day=None)) == ["too_soon"]
    assert ask(sessions=past(20), limits=replace(LIMITS, a_day=None)) == []


def test_a_day_is_a_day_of_the_calendar_not_24_hours() -> None:
    # At 19:00 the day is 19 hours old.
    limits = replace(LIMITS, between_ns=None)
    assert ask(sessions=past(18.9), limits=limits) == ["enough_today"]
    assert ask(sessions=past(19.1), limits=limits) == []


def test_a_week_is_seven_days_with_today() -> None:
    limits = replace(LIMITS, between_ns=None)
    assert ask(sessions=past(6 * 24 + 18, 72, 48), limits=limits) == ["enough_this_week"]
    assert ask(sessions=past(6 * 24 + 20, 72, 48), limits=limits) == []


def test_a_finished_course_is_finished() -> None:
    assert ask(sessions=past(500, 450, 400, 350, 300)) == ["course_done"]
    assert ask(sessions=past(500, 450, 400, 350)) == []


def test_every_reason_is_told_at_once_with_what_to_do() -> None:
    start = replace(START, chosen_dog="Rex", plan_digest="cc", free_bytes=0)
    reasons = may_start(start, past=past(60, 50, 1), limits=LIMITS, now=NOW)
    assert codes(reasons) == [
        "other_dog",
        "plan_changed",
        "too_soon",
        "enough_today",
        "enough_this_week",
        "no_space",
    ]
    assert all(reason.text and reason.what_to_do for reason in reasons)
    assert not any(reason.owner_may for reason in reasons)
    too_soon = reasons[2]
    assert too_soon.text == (
        "the last session ended 1:00 h ago; the plan asks for 20:00 h between sessions"
    )
    assert too_soon.what_to_do == "wait another 19:00 h"


def test_the_owner_may_go_on_only_where_the_prescriber_says_so() -> None:
    limits = replace(LIMITS, owner_decides=frozenset({"too_soon"}))
    reasons = may_start(START, past=past(1), limits=limits, now=NOW)
    assert [(reason.code, reason.owner_may) for reason in reasons] == [
        ("too_soon", True),
        ("enough_today", False),
    ]


# Clocks


def test_an_untrusted_clock_asks_instead_of_guessing() -> None:
    untrusted = replace(NOW, trusted=False)
    (reason,) = may_start(START, past=past(48), limits=LIMITS, now=untrusted)
    assert (reason.code, reason.owner_may) == ("clock_unsure", True)
    assert "number 1" in reason.text
    assert ask(sessions=past(48, trusted=False)) == ["clock_unsure"]
    # Whether the plan holds cannot be known either.
    assert ask(now=replace(untrusted, wall=NOW.wall.replace(year=1970))) == ["clock_unsure"]
    assert ask(now=replace(untrusted, wall=NOW.wall.replace(year=2030))) == ["clock_unsure"]
    assert ask(now=untrusted) == []


def test_an_older_session_of_unknown_age_is_asked_about_only_within_reach() -> None:
    unknown, two_days = past(100, trusted=False)[0], replace(past(48)[0], number=2)
    assert ask(sessions=[unknown, two_days]) == ["clock_unsure"]
    # By its number it is older than one that is itself too old to matter.
    assert ask(sessions=[unknown, replace(two_days, ended=hours_ago(7 * 24))]) == []
    only_hours = replace(LIMITS, a_day=None, a_week=None)
    assert ask(sessions=[unknown, two_days], limits=only_hours) == []
    # A gap hangs on the last session alone.
    assert ask(sessions=[unknown, replace(past(10)[0], number=2)], limits=only_hours) == [
        "too_soon"
    ]
    only_today = replace(LIMITS, between_ns=None, a_week=None)
    day_before, yesterday = (replace(two_days, ended=hours_ago(hours)) for hours in (25, 23))
    assert ask(sessions=[unknown, day_before], limits=only_today) == []
    assert ask(sessions=[unknown, yesterday], limits=only_today) == ["clock_unsure"]


def test_a_log_that_cannot_be_read_is_asked_about() -> None:
    unread = Past(number=7, plan_id="", plan_revision=0, plan_digest="", ended=None)
    (reason,) = may_start(START, past=[unread], limits=LIMITS, now=NOW)
    assert (reason.code, reason.owner_may) == ("log_unreadable", True)
    assert "number 7" in reason.text
    sure = "start only if you are sure that the plan allows a session now"
    assert reason.what_to_do == sure
    (reason,) = may_start(START, past=past(100, trusted=False), limits=LIMITS, now=NOW)
    assert (reason.code, reason.what_to_do) == ("clock_unsure", sure)
    assert ask(sessions=[unread, *past(7 * 24)]) == []


def test_with_an_untrusted_clock_the_last_24_hours_are_today() -> None:
    untrusted = replace(NOW, trusted=False)
    limits = replace(LIMITS, between_ns=None)
    assert ask(sessions=past(23, boot_id="today"), limits=limits, now=untrusted) == ["enough_today"]
    assert ask(sessions=past(23, boot_id="today"), limits=limits) == []


def test_within_one_boot_the_wall_clock_does_not_matter() -> None:
    # The wall clock jumped by three years since the last session of the same boot.
    jumped = replace(NOW, wall=NOW.wall.replace(year=2028), trusted=False)
    limits = replace(LIMITS, valid_until=datetime.date(2099, 12, 31))
    sessions = past(1, boot_id="today", trusted=False)
    assert ask(sessions=sessions, limits=limits, now=jumped) == ["too_soon", "enough_today"]
    sessions = past(48, boot_id="today", trusted=False)
    assert ask(sessions=sessions, limits=limits, now=jumped) == []


def test_a_session_in_the_future_means_that_a_clock_is_wrong() -> None:
    assert since_ns(hours_ago(-5), NOW) is None
    assert ask(sessions=past(-5)) == ["clock_unsure"]


def test_where_the_plan_sets_no_spacing_the_clock_does_not_matter() -> None:
    free = replace(LIMITS, between_ns=None, a_day=None, a_week=None)
    assert ask(sessions=past(48, trusted=False), limits=free) == []


def test_a_wall_clock_without_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        replace(NOW, wall=datetime.datetime(2025, 1, 1))  # noqa: DTZ001


# Carrying on


@pytest.mark.parametrize(
    ("ended", "code"),
    [
        (hours_ago(1 / 60), None),
        (hours_ago(0.5), None),
        (hours_ago(0.501), "cut_too_long_ago"),
        (hours_ago(0.501, boot_id="today", trusted=False), "cut_too_long_ago"),
        (hours_ago(1 / 60, trusted=False), "clock_unsure"),
        (hours_ago(-1), "clock_unsure"),
    ],
)
def test_carrying_on_within_half_an_hour(ended: Moment, code: Code | None) -> None:
    reason = may_carry_on(ended=ended, now=NOW, within_s=1800)
    assert (reason and reason.code) == code
    assert reason is None or reason.owner_may == (code == "clock_unsure")


# What is told


@pytest.mark.parametrize(
    ("start", "sessions", "text", "what_to_do"),
    [
        (
            replace(START, chosen_dog="Rex"),
            [],
            "the plan is for Pip, not for Rex",
            "take the plan of Rex",
        ),
        (
            replace(START, plan_revision=1, plan_digest="aa"),
            past(48),
            "revision 2 of this plan was used before; this is revision 1",
            "take the newest revision, or ask the prescriber",
        ),
        (
            replace(START, plan_digest="cc"),
            past(48),
            "the plan file was changed, but still says revision 2",
            "ask the prescriber for a new revision",
        ),
        (
            replace(START, free_bytes=2048, needed_bytes=10 * 1024),
            [],
            "the disk has 2 KiB left; the log of a session may need 10 KiB",
            "make room on the disk first",
        ),
        (
            START,
            past(500, 450, 400, 350, 300),
            "all 5 sessions of the course have been held",
            "show the record to the prescriber and ask how to go on",
        ),
        (
            START,
            past(100, 90, 80),
            "3 sessions in seven days; the plan allows at most 3",
            "go on on the next day that the plan allows",
        ),
    ],
)
def test_a_reason_names_what_was_found_and_what_to_do(
    start: Start, sessions: list[Past], text: str, what_to_do: str
) -> None:
    (reason,) = may_start(start, past=sessions, limits=LIMITS, now=NOW)
    assert (reason.text, reason.what_to_do) == (text, what_to_do)


@pytest.mark.parametrize(
    ("day", "text", "what_to_do"),
    [
        ("2024-12-30", "the plan begins on 2025-01-01", "wait until then"),
        ("2026-01-02", "the plan ended on 2025-12-31", "ask the prescriber for a new one"),
    ],
)
def test_outside_its_days_the_plan_tells_them(day: str, text: str, what_to_do: str) -> None:
    now = replace(NOW, wall=datetime.datetime.fromisoformat(f"{day}T12:00:00+01:00"))
    (reason,) = may_start(START, past=[], limits=LIMITS, now=now)
    assert (reason.text, reason.what_to_do) == (text, what_to_do)
    (unsure,) = may_start(START, past=[], limits=LIMITS, now=replace(now, trusted=False))
    assert unsure.text == (
        f"the clock is not to be trusted; it says {day}, and the plan holds from 2025-01-01 to "
        "2025-12-31"
    )


def test_the_disk_has_room_when_the_log_just_fits_and_nobody_overrules_a_full_one() -> None:
    assert ask(replace(START, free_bytes=1000, needed_bytes=1000)) == []
    (reason,) = may_start(
        replace(START, free_bytes=1, needed_bytes=2), past=[], limits=LIMITS, now=NOW
    )
    assert reason.owner_may is False


def test_a_course_of_one_session_is_told_as_one() -> None:
    limits = replace(LIMITS, sessions=1)
    (reason,) = may_start(START, past=past(48), limits=limits, now=NOW)
    assert reason.text == "the one session of the course has been held"


def test_how_many_today_is_told_by_their_number() -> None:
    limits = replace(LIMITS, between_ns=None, a_week=None)
    (one,) = may_start(START, past=past(3), limits=limits, now=NOW)
    assert one.text == "1 session today; the plan allows at most 1"
    assert one.what_to_do == "go on tomorrow"
    (two,) = may_start(START, past=past(9, 3), limits=replace(limits, a_day=2), now=NOW)
    assert two.text == "2 sessions today; the plan allows at most 2"


def test_another_plan_counts_for_the_day_but_not_for_this_course() -> None:
    other = [replace(session, plan_id="other") for session in past(500, 450, 400, 350, 300, 3)]
    limits = replace(LIMITS, between_ns=None)
    assert ask(sessions=other, limits=limits) == ["enough_today"]


@pytest.mark.parametrize(
    ("ago_s", "text"),
    [
        (1801, "31 min"),
        (59 * 60 + 1, "1:00 h"),
        (3600, "1:00 h"),
        (90 * 60, "1:30 h"),
        (47 * 3600 + 59 * 60, "47:59 h"),
        (48 * 3600, "2 days"),
        (95 * 3600, "3 days"),
    ],
)
def test_how_long_ago_is_told_in_begun_minutes(ago_s: int, text: str) -> None:
    ended = hours_ago(ago_s / 3600, boot_id="today")
    reason = may_carry_on(ended=ended, now=NOW, within_s=1800)
    assert reason is not None
    assert reason.text == (
        f"the session was cut off {text} ago; the plan lets it be carried on within 30 min"
    )
    assert reason.what_to_do == "start a new session when the plan allows one"
    assert not reason.owner_may


def test_to_carry_on_when_no_clock_can_tell_is_the_owners_to_decide() -> None:
    reason = may_carry_on(ended=hours_ago(1, trusted=False), now=NOW, within_s=1800)
    assert reason is not None
    assert reason.text == "the clock cannot tell how long ago the session was cut off"
    assert reason.what_to_do == "carry on only if it was less than 30 min ago"
    assert may_carry_on(ended=NOW, now=NOW, within_s=0) is None


# What a plan sets


def test_the_limits_are_those_of_the_plan() -> None:
    path = Path(__file__).parents[2] / "plans" / "demo-long-back.toml"
    plan = load_plan(path, today=NOW.wall.date()).plan
    found = limits_of(plan)
    # As the file says it: 3 a week for 2 weeks, then 2 a week for 2 weeks; no [limits].
    assert found == Limits(
        valid_from=datetime.date(2026, 11, 1),
        valid_until=datetime.date(2099, 12, 31),
        sessions=10,
    )
    limits = PlanLimits(
        least_hours_between=Decimal("20.5"), most_a_day=2, most_a_week=5, owner_may_overrule=True
    )
    found = limits_of(plan.model_copy(update={"limits": limits, "course": ()}))
    assert (found.between_ns, found.a_day, found.a_week) == (20 * HOUR_NS + HOUR_NS // 2, 2, 5)
    assert found.sessions is None
    # When and how often, never which dog or plan.
    assert found.owner_decides == OWNERS == {
        "too_soon", "enough_today", "enough_this_week", "course_done",
    }  # fmt: skip
