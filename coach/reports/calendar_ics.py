"""A course as an iCalendar file (RFC 5545), one event a session, brought up to date in place.

Every session keeps its UID for as long as the plan keeps its id. What changed since the file was
written before gets a higher SEQUENCE (section 3.8.7.4), and a session that will not be held any
more is cancelled, not taken out: only so do calendar programs move and remove what they took in.
"""

import datetime
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from icalendar import Calendar as Ics
from icalendar import Event

from coach.language import _
from coach.plan.calendar import Calendar, Due

PRODUCT = "-//dog-bed-coach//course//EN"
SPACE = uuid.UUID("10e43af4-add6-5a03-8fb0-55df9b2cb3b4")
# What decides whether an event has changed.
_CHANGES = ("DTSTART", "DTEND", "SUMMARY", "STATUS", "DESCRIPTION")


class NotOurs(ValueError):  # noqa: N818  (said of a file)
    """The text is no calendar of this program; the message says what was found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the events say besides their days. ``duration`` is that of a session by the plan."""

    prescriber: str
    duration: datetime.timedelta


def course_ics(
    calendar: Calendar, told: Told, *, now: datetime.datetime, before: bytes | None = None
) -> bytes:
    """The file; ``before`` is what it holds up to now, None for a new one. Raises NotOurs.

    ``now`` (with offset) stamps what is new or has changed; the rest stays as it is, so that the
    same course gives the same bytes.
    """
    known = {} if before is None else _events(before)
    whole = Ics()
    whole.add("prodid", PRODUCT)
    whole.add("version", "2.0")
    whole.add("calscale", "GREGORIAN")
    whole.add("method", "PUBLISH")
    for due in calendar.dues:
        event = _event(calendar, due, told)
        whole.add_component(_stamped(event, known.pop(str(event["UID"]), None), due, now))
    for old in known.values():
        whole.add_component(_cancelled(old, now))
    return bytes(whole.to_ical())


def _events(text: bytes) -> dict[str, Event]:
    try:
        whole = Ics.from_ical(text)
    except (ValueError, IndexError, UnicodeDecodeError) as error:
        raise NotOurs(f"found no iCalendar file: {error}") from error
    if str(whole.get("PRODID")) != PRODUCT:
        raise NotOurs(f"found a calendar of {str(whole.get('PRODID'))[:60]!r}")
    found = (event for event in whole.walk("VEVENT") if isinstance(event, Event))
    return {str(event["UID"]): event for event in found}


def uid_of(calendar: Calendar, number: int) -> str:
    """The same for one session of one plan and dog, in every export and revision."""
    name = "\n".join((calendar.plan_id, calendar.dog, str(number)))
    return f"{uuid.uuid5(SPACE, name)}@dog-bed-coach"


def _event(calendar: Calendar, due: Due, told: Told) -> Event:
    event = Event()
    event.add("uid", uid_of(calendar, due.number))
    session = due.given
    if session is not None and session.day is not None:
        event.add("dtstart", session.day)
    elif due.at is not None:
        # In UTC, which is the same moment everywhere and needs no table of zones.
        begin = due.at.astimezone(datetime.UTC)
        event.add("dtstart", begin)
        event.add("dtend", begin + told.duration)
    else:
        event.add("dtstart", due.day)
    event.add("summary", " ".join(_summary(calendar, due)))
    event.add(
        "description",
        _("Plan {plan} by {prescriber}, {phase}. The plan and your prescriber decide.").format(
            plan=calendar.plan_id, prescriber=told.prescriber, phase=due.phase
        ),
    )
    event.add("status", "CANCELLED" if due.state == "missed" else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    return event


def _summary(calendar: Calendar, due: Due) -> Iterator[str]:
    values = {"number": due.number, "of": len(calendar.dues), "dog": calendar.dog}
    if due.state == "given":
        yield _("{dog}: laser session {number} of {of}, given").format(**values)
    elif due.state == "ask":
        yield _("{dog}: laser session {number} of {of}, missed, ask").format(**values)
    else:
        yield _("{dog}: laser session {number} of {of}").format(**values)


def _stamped(event: Event, old: Event | None, due: Due, now: datetime.datetime) -> Event:
    if old is not None and _told(old) == _told(event):
        return old
    # Without the earlier file: higher for each day that it has moved, so that it only ever rises
    # while a session moves on.
    moved = max(0, (due.day - due.planned_on).days)
    event.add("sequence", moved if old is None else max(_sequence(old) + 1, moved))
    event.add("dtstamp", now.astimezone(datetime.UTC).replace(microsecond=0))
    return event


def _cancelled(old: Event, now: datetime.datetime) -> Event:
    """A session that the plan has no more."""
    if str(old.get("STATUS")) == "CANCELLED":
        return old
    sequence = _sequence(old) + 1
    for name in ("STATUS", "SEQUENCE", "DTSTAMP"):
        old.pop(name, None)
    old.add("status", "CANCELLED")
    old.add("sequence", sequence)
    old.add("dtstamp", now.astimezone(datetime.UTC).replace(microsecond=0))
    return old


def _sequence(event: Event) -> int:
    return int(event.get("SEQUENCE", 0))


def _told(event: Event) -> Mapping[str, object]:
    return {name: event[name].to_ical() for name in _CHANGES if name in event}
