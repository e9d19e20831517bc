"""May we start? Each reason by itself, all at once, and what a wrong clock does to them."""

import datetime
from dataclasses import replace

import pytest

from coach.session.guard import (
    Code,
    Limits,
    Moment,
    Past,
    Reason,
    Start,
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


def test_a_log_that_cannot_be_read_is_asked_about() -> None:
    unread = Past(number=7, plan_id="", plan_revision=0, plan_digest="", ended=None)
    (reason,) = may_start(START, past=[unread], limits=LIMITS, now=NOW)
    assert (reason.code, reason.owner_may) == ("log_unreadable", True)
    assert "number 7" in reason.text
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
