"""The call list in words, as JSON and as a table. Pure."""

import csv
import datetime
import io
import textwrap
from collections.abc import Sequence
from typing import Any

from coach.handover.tables import harmless
from coach.plan.formatting import counted
from coach.practice.call_list import CallList, Dog, Reason
from coach.shown import plain

FORMAT = 2
WIDTH = 78


def shown(text: str) -> str:
    """``text`` from a file made safe for a terminal and a page: one line, nothing that acts."""
    return " ".join(plain(text).split())


def figure(reason: Reason) -> str:
    """The figure of a reason in words; "" where it says nothing more."""
    match reason.rule:
        case "behind":
            return counted(reason.figure, "session")
        case "silence":
            return counted(reason.figure, "day")
        case "beyond":
            return f"{counted(reason.figure, 'session')} more"
        case "two_a_day":
            return f"{reason.figure} more in a day"
        case "tolerance_fall" | "score_fall" | "tolerance_low" | "recheck":
            return ""
    return f"{reason.figure} times" if reason.figure > 1 else ""


def reason_line(reason: Reason) -> str:
    """``red or hot skin, no fine one since (3 times): since 2026-11-20, last 2026-11-24``."""
    about = ", ".join(filter(None, (figure(reason), shown(reason.what))))
    told = f"{reason.words} ({about})" if about else reason.words
    if reason.since == reason.last:
        return f"{told}: {reason.since}"
    if reason.rule in ("behind", "silence"):
        return f"{told}: since {reason.since}"
    return f"{told}: since {reason.since}, last {reason.last}"


def course_line(dog: Dog) -> str:
    """How far the course is, as of today."""
    told = []
    if dog.whole_course:
        told.append(f"{dog.given} of {dog.whole_course} of the course")
    last = dog.last_session.isoformat() if dog.last_session else "never"
    told.append(f"{counted(dog.sessions, 'session')}, last {last}")
    if dog.tolerance is not None:
        told.append(f"tolerance {dog.tolerance}/10")
    if dog.next_due is not None:
        told.append(f"next due {dog.next_due}")
    elif dog.whole_course and dog.given >= dog.whole_course:
        told.append("course done")
    return ", ".join(told)


def people_line(dog: Dog) -> str:
    """Whom to phone, and who did last."""
    owner = " ".join(filter(None, (shown(dog.owner), shown(dog.phone))))
    told = [f"owner {owner}" if owner else "", shown(dog.prescriber)]
    if dog.called is not None:
        note = f": {shown(dog.call_note)}" if dog.call_note else ""
        told.append(f"called {dog.called} by {shown(dog.called_by)}{note}")
    return "; ".join(filter(None, told))


def call_lines(found: CallList) -> list[str]:
    """The list for people: first whom to call and why, then the others, a line each."""
    calls = [dog for dog in found.dogs if dog.reasons]
    others = [dog for dog in found.dogs if not dog.reasons]
    dogs = counted(len(found.dogs), "dog")
    handovers = counted(found.handovers, "handover")
    lines = [f"Call today, {found.today}: {len(calls)} of {dogs} ({handovers})"]
    for number, dog in enumerate(calls, start=1):
        lines.append("")
        first, *more = dog.reasons
        head = f"{number:>3}  {_name(dog)}: {reason_line(first)}"
        lines += textwrap.wrap(head, WIDTH, subsequent_indent=" " * 7)
        about = [*(f"also {reason_line(one)}" for one in more)]
        about += [", ".join(dog.changed), course_line(dog), people_line(dog)]
        for text in filter(None, about):
            lines += textwrap.wrap(text, WIDTH, initial_indent=" " * 5, subsequent_indent=" " * 7)
    if others:
        lines += ["", "No reason to call:"]
        lines += [f"     {_name(dog)}: {course_line(dog)}" for dog in others]
    return lines


def _name(dog: Dog) -> str:
    plan = f" ({shown(dog.plan)} r{dog.plan_revision})" if dog.plan else ""
    return f"{shown(dog.dog)}{plan}"


def call_json(found: CallList) -> dict[str, Any]:
    """Machine-readable; keys may be added."""
    return {
        "caseload": FORMAT,
        "today": found.today.isoformat(),
        "handovers": found.handovers,
        "dogs": [_as_json(dog) for dog in found.dogs],
    }


def _as_json(dog: Dog) -> dict[str, Any]:
    return {
        "standing": dog.why.words if dog.why else "",
        "dog": dog.dog,
        "device": dog.device,
        "plan": dog.plan,
        "plan_revision": dog.plan_revision,
        "made_at": dog.made_at,
        "handover": dog.handover,
        "handovers": dog.handovers,
        "computers": dog.computers,
        "sessions": dog.sessions,
        "last_session": _iso(dog.last_session),
        "whole_course": dog.whole_course,
        "given": dog.given,
        "planned": dog.planned,
        "behind": dog.behind,
        "extra": dog.extra,
        "next_day": _iso(dog.next_due),
        "last_tolerance": dog.tolerance,
        "changed": list(dog.changed),
        "prescriber": dog.prescriber,
        "clinic": dog.clinic,
        "owner": dog.owner,
        "phone": dog.phone,
        "called": _iso(dog.called),
        "called_by": dog.called_by,
        "call_note": dog.call_note,
        "call_again": _iso(dog.call_again),
        "reasons": [
            {
                "rule": reason.rule,
                "words": reason.words,
                "weight": reason.weight,
                "since": reason.since.isoformat(),
                "last": reason.last.isoformat(),
                "figure": reason.figure,
                "what": reason.what,
                "new": reason.new,
            }
            for reason in dog.reasons
        ],
    }


def _iso(day: datetime.date | None) -> str | None:
    return None if day is None else day.isoformat()


def call_csv(dogs: Sequence[Dog]) -> str:
    """One row a dog (RFC 4180); the reasons after the first are in one cell."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    for number, dog in enumerate(dogs):
        row = _as_json(dog)
        first = dog.why
        row |= {
            "rule": first.rule if first else "",
            "since": first.since.isoformat() if first else "",
            "last": first.last.isoformat() if first else "",
            "figure": first.figure if first else "",
            "what": first.what if first else "",
            "changed": "; ".join(dog.changed),
            "reasons": "; ".join(map(reason_line, dog.reasons[1:])),
        }
        if number == 0:
            writer.writerow(row)
        writer.writerow("" if cell is None else harmless(shown(str(cell))) for cell in row.values())
    return text.getvalue()
