"""What stands in the calendar file of a course: every property by hand.

RFC 5545: VERSION and METHOD (3.7), SEQUENCE (3.8.7.4), STATUS (3.8.1.11), TRANSP (3.8.2.7).
"""

import datetime
from collections.abc import Sequence

import pytest

from coach.plan.calendar import Calendar
from coach.plan.due_days import Due
from coach.reports.calendar_ics import NotOurs, Told, course_ics, uid_of
from tests.plan.courses import BERLIN, DAY, MONDAY, calendar_of, due, session

TOLD = Told(prescriber="Dr. Muster (invented)", duration=datetime.timedelta(minutes=18))
# 13:00 in Berlin in winter is 12:00 in UTC.
NOW = datetime.datetime(2026, 11, 30, 13, 0, 5, 123456, tzinfo=BERLIN)
STAMP = "20261130T120005Z"


def file_of(
    calendar: Calendar, *, before: bytes | None = None, now: datetime.datetime = NOW
) -> bytes:
    return course_ics(calendar, TOLD, now=now, before=before)


def events(text: bytes) -> list[dict[str, str]]:
    """The properties of each event, unfolded (RFC 5545, 3.1)."""
    rows = text.decode().replace("\r\n ", "").split("\r\n")
    found: list[dict[str, str]] = []
    for row in rows:
        name, _, value = row.partition(":")
        if row == "BEGIN:VEVENT":
            found.append({})
        elif found and name not in ("END", "BEGIN"):
            assert name not in found[-1]
            found[-1][name] = value
    return found


def facts(text: bytes) -> list[tuple[str, str, str]]:
    return [(one["STATUS"], one["SEQUENCE"], one["DTSTAMP"]) for one in events(text)]


def test_the_file_says_what_it_is() -> None:
    assert file_of(calendar_of()) == (
        b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//dog-bed-coach//course//EN\r\n"
        b"CALSCALE:GREGORIAN\r\nMETHOD:PUBLISH\r\nEND:VCALENDAR\r\n"
    )


def test_each_event_says_whose_session_it_is_and_what_became_of_it() -> None:
    evening = datetime.datetime(2026, 12, 3, 19, 30, tzinfo=BERLIN)
    calendar = calendar_of(
        due(1, MONDAY, "given", held=session(1, MONDAY + DAY)),
        due(2, MONDAY, "given", held=session(2, MONDAY, trusted=False)),
        due(3, MONDAY, "missed"),
        due(4, MONDAY, "ask"),
        due(5, MONDAY + 3 * DAY, "to_come", at=evening),
        due(6, MONDAY + 3 * DAY, "given", at=evening, held=session(3, MONDAY + 3 * DAY)),
    )
    found = events(file_of(calendar))
    assert [one["SUMMARY"] for one in found] == [
        "Juniper: laser session 1 of 6\\, given",
        "Juniper: laser session 2 of 6\\, given",
        "Juniper: laser session 3 of 6",
        "Juniper: laser session 4 of 6\\, missed\\, ask",
        "Juniper: laser session 5 of 6",
        "Juniper: laser session 6 of 6\\, given",
    ]
    assert [one["STATUS"] for one in found] == [
        "CONFIRMED",
        "CONFIRMED",
        "CANCELLED",
        "CONFIRMED",
        "CONFIRMED",
        "CONFIRMED",
    ]
    days = [one.get("DTSTART;VALUE=DATE", one.get("DTSTART")) for one in found]
    assert days == [
        "20261201",
        "20261130",
        "20261130",
        "20261130",
        "20261203T183000Z",
        "20261203",
    ]
    assert [one.get("DTEND") for one in found] == [None] * 4 + ["20261203T184800Z", None]
    for one in found:
        assert one["DESCRIPTION"] == (
            "Plan spine by Dr. Muster (invented)\\, build up. The plan and your prescriber decide."
        )
        assert (one["TRANSP"], one["DTSTAMP"], one["SEQUENCE"]) == ("TRANSPARENT", STAMP, "0")


def test_a_session_is_known_by_plan_dog_and_number() -> None:
    calendar = calendar_of(due(1, MONDAY, "due"))
    first = uid_of(calendar, 1)
    assert first.endswith("@dog-bed-coach")
    assert len(first) == 36 + len("@dog-bed-coach")
    assert first == uid_of(calendar_of(today=MONDAY + DAY), 1)
    assert first != uid_of(calendar, 2)
    (event,) = events(file_of(calendar))
    assert event["UID"] == first


def moved(*days: int, number: int = 1) -> Calendar:
    """Sessions planned for Monday, due so many days after it."""
    dues: Sequence[Due] = [
        due(n, MONDAY + ahead * DAY, "to_come", planned=MONDAY)
        for n, ahead in enumerate(days, start=number)
    ]
    return calendar_of(*dues)


def test_a_sequence_rises_with_what_has_changed_and_with_nothing_else() -> None:
    later, stamped = NOW + DAY, "20261201T120005Z"
    first = file_of(moved(-1, 0, 1, 5))
    assert facts(first) == [("CONFIRMED", n, STAMP) for n in ("0", "0", "1", "5")]
    second = file_of(moved(0, 0, 0, 6), before=first, now=later)
    assert facts(second) == [
        # Moved at all: one more than before, and never below the days that it has moved.
        ("CONFIRMED", "1", stamped),
        ("CONFIRMED", "0", STAMP),
        ("CONFIRMED", "2", stamped),
        ("CONFIRMED", "6", stamped),
    ]
    third = file_of(moved(4, 0, 0, 6), before=second, now=later + DAY)
    assert facts(third)[0] == ("CONFIRMED", "4", "20261202T120005Z")
    assert facts(third)[1:] == facts(second)[1:]


def test_what_the_plan_has_no_more_is_cancelled_once() -> None:
    first = file_of(moved(0, 3))
    gone = file_of(moved(0), before=first, now=NOW + DAY)
    assert facts(gone) == [
        # It is "1 of 1" now.
        ("CONFIRMED", "1", "20261201T120005Z"),
        ("CANCELLED", "4", "20261201T120005Z"),
    ]
    assert [one["UID"] for one in events(gone)] == [one["UID"] for one in events(first)]
    assert file_of(moved(0), before=gone, now=NOW + 2 * DAY) == gone
    # An event that somebody's calendar program has kept without its properties.
    bare = b"".join(
        line + b"\r\n"
        for line in first.split(b"\r\n")
        if line and not line.startswith((b"SEQUENCE", b"STATUS"))
    )
    again = file_of(calendar_of(), before=bare)
    assert facts(again) == [("CANCELLED", "1", STAMP)] * 2


def test_a_file_of_somebody_else_is_named() -> None:
    other = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:" + b"x" * 80 + b"\r\nEND:VCALENDAR\r\n"
    with pytest.raises(NotOurs, match=f"^found a calendar of '{'x' * 60}'$"):
        file_of(calendar_of(), before=other)
    with pytest.raises(NotOurs, match=r"^found no iCalendar file: .+"):
        file_of(calendar_of(), before=b"cat")
