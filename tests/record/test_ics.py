"""The course for calendar programs, read back by vobject, an independent reader of RFC 5545."""

import datetime
from typing import Any

import pytest
import vobject

from coach.plan.calendar import Calendar, due_dates
from coach.reports.calendar_ics import NotOurs, Told, course_ics
from tests.plan.courses import BERLIN, DAY, MONDAY, plan_of, session

THREE = {"times_a_week": 3, "weeks": 2}
TOLD = Told(
    prescriber="Dr. Ada Muster; invented, with a comma", duration=datetime.timedelta(minutes=18)
)
NOW = datetime.datetime(2026, 11, 30, 12, tzinfo=datetime.UTC)


def on(day: int, *held: int, **calendar: Any) -> Calendar:
    plan = plan_of(THREE, calendar={"missed": "shift", **calendar})
    given = [session(n, MONDAY + days * DAY) for n, days in enumerate(held, start=1)]
    return due_dates(plan, MONDAY, given, MONDAY + day * DAY, BERLIN)


def events(text: bytes) -> dict[str, Any]:
    whole = vobject.readOne(text.decode("utf-8"))
    found = {event.uid.value: event for event in whole.vevent_list}
    assert len(found) == len(whole.vevent_list)
    return found


def facts(text: bytes) -> dict[str, tuple[Any, int, str]]:
    return {
        uid: (event.dtstart.value, int(event.sequence.value), event.status.value)
        for uid, event in events(text).items()
    }


def test_every_session_is_one_event_on_its_day() -> None:
    text = course_ics(on(0), TOLD, now=NOW)
    starts = [start for start, _, _ in facts(text).values()]
    assert starts == [MONDAY + days * DAY for days in (0, 2, 4, 7, 9, 11)]
    event = next(iter(events(text).values()))
    assert event.summary.value == "Juniper: laser session 1 of 6"
    assert "Dr. Ada Muster; invented, with a comma" in event.description.value
    # RFC 5545, 3.1: lines end with CRLF and are no longer than 75 octets without it.
    assert text.endswith(b"END:VCALENDAR\r\n")
    assert all(len(line) <= 75 for line in text.split(b"\r\n"))
    assert b"\n" not in text.replace(b"\r\n", b"")


def test_long_and_foreign_names_are_folded_between_characters() -> None:
    calendar = on(0)
    name = "Žofka 🐕‍🦺 " * 12
    plan = plan_of(THREE)
    plan = plan.model_copy(update={"dog": plan.dog.model_copy(update={"name": name.strip()})})
    calendar = due_dates(plan, MONDAY, [], MONDAY, BERLIN)
    text = course_ics(calendar, TOLD, now=NOW)
    assert all(len(line) <= 75 for line in text.split(b"\r\n"))
    assert next(iter(events(text).values())).summary.value.startswith(name.strip())


def test_a_time_of_day_is_the_same_moment_everywhere() -> None:
    # 19:00 in Berlin in winter is 18:00 in UTC.
    text = course_ics(on(0, at=["19:00"]), TOLD, now=NOW)
    event = next(iter(events(text).values()))
    assert event.dtstart.value == datetime.datetime(2026, 11, 30, 18, tzinfo=datetime.UTC)
    assert event.dtend.value - event.dtstart.value == TOLD.duration


def test_the_same_course_gives_the_same_file() -> None:
    first = course_ics(on(0), TOLD, now=NOW)
    assert course_ics(on(0), TOLD, now=NOW + DAY, before=first) == first


def test_what_moves_keeps_its_id_and_gets_a_higher_sequence() -> None:
    first = course_ics(on(0), TOLD, now=NOW)
    # Given on Monday; Wednesday missed: the rest moves on by a day.
    second = course_ics(on(3, 0), TOLD, now=NOW + 3 * DAY, before=first)
    before, after = facts(first), facts(second)
    assert list(before) == list(after)
    assert [start for start, _, _ in after.values()] == [
        MONDAY + days * DAY for days in (0, 3, 5, 8, 10, 12)
    ]
    # RFC 5545, 3.8.7.4: a higher number for each significant change.
    assert all(after[uid][1] > before[uid][1] for uid in before)
    alone = facts(course_ics(on(3, 0), TOLD, now=NOW))
    assert list(alone) == list(before)
    assert all(alone[uid][1] >= 1 for uid in list(alone)[1:])


def test_a_session_that_is_left_out_or_ordered_no_more_is_cancelled() -> None:
    rules = {"missed": "drop", "window_days": 0}
    first = course_ics(on(0, **rules), TOLD, now=NOW)
    second = facts(course_ics(on(3, 0, **rules), TOLD, now=NOW, before=first))
    assert [status for _, _, status in second.values()] == [
        "CONFIRMED",
        "CANCELLED",
        *["CONFIRMED"] * 4,
    ]
    shorter = due_dates(plan_of({**THREE, "weeks": 1}), MONDAY, [], MONDAY, BERLIN)
    once = course_ics(shorter, TOLD, now=NOW, before=first)
    third = facts(once)
    assert list(third) == list(facts(first))
    assert [status for _, _, status in third.values()] == ["CONFIRMED"] * 3 + ["CANCELLED"] * 3
    assert course_ics(shorter, TOLD, now=NOW + DAY, before=once) == once


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"no calendar",
        b"\xff\xfe",
        b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//someone//else//EN\r\nEND:VCALENDAR\r\n",
        b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n",
    ],
    ids=["empty", "text", "bytes", "of another program", "torn"],
)
def test_another_file_is_refused(text: bytes) -> None:
    with pytest.raises(NotOurs, match="found"):
        course_ics(on(0), TOLD, now=NOW, before=text)
