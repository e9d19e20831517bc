"""Handovers of many invented dogs, written without holding their sessions."""

import datetime
import json
import random
from collections.abc import Mapping, Sequence
from pathlib import Path

from coach.handover.tables import SESSION_COLUMNS, csv_bytes

TODAY = datetime.date(2026, 11, 25)


def write(
    place: Path,
    *,
    dog: str,
    device: str,
    made_at: str,
    sessions: Sequence[Mapping[str, str]],
    course: Mapping[str, object] | None = None,
    plan: str = "",
    **more: object,
) -> None:
    """A folder with what a caseload reads: summary.json, sessions.csv, and ``plan`` as TOML.

    ``more`` goes into the summary.
    """
    place.mkdir(parents=True)
    summary = {
        "made": {"at": made_at, "names": True},
        "record": {"public_key": device},
        "dog": {"name": dog},
        "plan_now": {"id": "demo", "revision": 1, "prescriber": "Dr. Muster (invented)"},
        "plans": [],
        "course": course,
        **more,
    }
    (place / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    empty = dict.fromkeys((column.name for column in SESSION_COLUMNS), "")
    rows = [empty | {"dog": dog} | dict(session) for session in sessions]
    (place / "sessions.csv").write_bytes(csv_bytes(SESSION_COLUMNS, rows))
    if plan:
        (place / "plan.toml").write_text(plan, encoding="utf-8")


def held(number: int, day: datetime.date, **more: str) -> dict[str, str]:
    """A whole session of that day."""
    return {
        "session": f"{number:06d}-{day:%Y%m%d}T190000-demo-r1",
        "plan": "demo",
        "opened": f"{day.isoformat()}T19:00:00+01:00",
        "counts": "yes",
        "state": "finished",
        "skin": "fine",
        "tolerance_0_10": "8",
        "journal": "whole",
        "signature": "good",
        "clock": "synchronised",
        **more,
    }


def many(folder: Path, dogs: int, sessions_each: int, seed: int = 1) -> None:
    """``dogs`` handovers of ``sessions_each`` sessions, some with trouble."""
    dice = random.Random(seed)
    for dog in range(dogs):
        rows = []
        for number in range(1, sessions_each + 1):
            day = TODAY - datetime.timedelta(days=2 * (sessions_each - number) + dice.randint(0, 9))
            trouble: dict[str, str] = {}
            if dice.random() < 0.01:
                trouble = {"state": "stopped", "reason": dice.choice(["dog_unhappy", "no_time"])}
            if dice.random() < 0.01:
                trouble["skin"] = "red"
            if dice.random() < 0.02:
                trouble["signals"] = "yawning"
            rows.append(held(number, day, **trouble))
        course = {
            "whole_course": sessions_each + dice.randint(0, 4),
            "planned": sessions_each + dice.randint(-1, 2),
            "given": sessions_each,
            "missed": 0,
            "next_day": None,
        }
        write(
            folder / f"handover-{dog:05d}",
            dog=f'Dog, "{dog}" = 🐕',
            device=f"{dog:064x}",
            made_at=f"{TODAY}T10:00:00+01:00",
            sessions=rows,
            course=course,
        )
