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


# What may be wrong with a session, and in how many of a thousand it is.
TROUBLES: Sequence[tuple[int, Mapping[str, str]]] = (
    (10, {"state": "stopped", "reason": "dog_unhappy"}),
    (10, {"state": "stopped", "reason": "no_time"}),
    (10, {"skin": "red"}),
    (20, {"skin": "warm"}),
    (20, {"skin": ""}),
    (20, {"signals": "yawns licks_lips"}),
    (6, {"signals": "growls"}),
    (15, {"tolerance_0_10": "3"}),
    (40, {"tolerance_0_10": "10"}),
    (15, {"tolerance_0_10": ""}),
    (15, {"words": "sleeps well, says Élodie; \U0001f415"}),
    (4, {"words": "drags a leg"}),
    (6, {"overruled": "too soon: away tomorrow"}),
    (4, {"signature": "bad"}),
    (4, {"journal": "damaged", "counts": "no", "state": ""}),
    (6, {"clock": "unknown"}),
    (6, {"signature": "none"}),
)


def many(folder: Path, dogs: int, sessions_each: int, seed: int = 1, handovers: int = 1) -> None:
    """``dogs`` invented dogs of ``sessions_each`` sessions, some with trouble.

    Each has ``handovers`` handovers, the later ones with more of the sessions.
    """
    dice = random.Random(seed)
    for dog in range(dogs):
        first = TODAY - datetime.timedelta(days=2 * sessions_each + dice.randint(-4, 40))
        planned = [first + datetime.timedelta(days=2 * n) for n in range(sessions_each)]
        rows, given = [], []
        for number, day in enumerate(planned, start=1):
            if dice.random() < 0.05 or day >= TODAY:
                continue
            trouble: dict[str, str] = {}
            for often, told in TROUBLES:
                if dice.randrange(1000) < often:
                    trouble |= told
            given.append(number)
            rows.append(held(number, day, **trouble))
            if dice.random() < 0.01:
                rows.append(held(1000 + number, day))
        for handover in range(1, handovers + 1):
            until = first + datetime.timedelta(days=2 * sessions_each * handover // handovers)
            made = min(until, TODAY)
            told_rows = [row for row in rows if row["opened"][:10] < made.isoformat()]
            write(
                folder / f"dog-{dog:05d}-{handover:02d}",
                dog=f'Dog, "{dog}" = \U0001f415',
                device=f"{dog:064x}",
                made_at=f"{made}T10:00:00+01:00",
                sessions=told_rows,
                course=_course(planned, given, made),
                scores=[
                    {"at": f"{made}T09:00:00+01:00", "score_0_10": dice.randint(2, 9)}
                    for _ in range(2)
                ],
                asked=[
                    {"session": row["session"], "point": "worse", "outcome": "vet_not_asked"}
                    for row in told_rows[-1:]
                    if dice.random() < 0.01
                ],
                plan='[[recheck.stop]]\nsign = "red skin"\ntimes = 2\n' if dog % 50 == 0 else "",
            )


def _course(
    planned: Sequence[datetime.date], given: Sequence[int], made: datetime.date
) -> dict[str, object]:
    dues = [
        {
            "number": number,
            "planned_on": day.isoformat(),
            "day": day.isoformat(),
            "state": "to_come" if day >= made else "given" if number in given else "ask",
        }
        for number, day in enumerate(planned, start=1)
    ]
    return {
        "start": planned[0].isoformat(),
        "whole_course": len(planned),
        "planned": sum(day < made for day in planned),
        "given": sum(due["state"] == "given" for due in dues),
        "dues": dues,
    }
