"""A caseload of 100,000 sessions, on each engine and beside only reading the same tables."""

import csv
import tempfile
from pathlib import Path

from coach.handover.folder import SESSIONS
from coach.practice.caseload import Caseload, Engine, caseload, handovers_in
from tests.benchmarks.frame import Figure, pairs, say, timed_s
from tests.handover.many import many

SESSIONS_EACH = 50
RECENT = "2026-11-12"


def _read(folder: Path) -> None:
    for place in handovers_in(folder):
        with (place / SESSIONS).open(encoding="utf-8", newline="") as stream:
            for _ in csv.reader(stream):
                pass


def measure(*, quick: bool) -> list[Figure]:
    """The program's own engine against plain reading and against DuckDB."""
    dogs, rounds = (200, 3) if quick else (2000, 5)
    say(f"caseload: writing {dogs} handovers")
    with tempfile.TemporaryDirectory(prefix="coach-caseload-") as name:
        folder = Path(name)
        many(folder, dogs, SESSIONS_EACH)

        def asked(engine: Engine) -> Caseload:
            return caseload(folder, recent=RECENT, engine=engine)

        say("caseload: reading them")
        found = asked("sqlite")
        if found != asked("duckdb"):
            raise SystemExit("the engines give different answers")
        others = (
            ("reading the tables with csv", lambda: _read(folder)),
            ("the same question on DuckDB", lambda: asked("duckdb")),
        )
        figures = []
        for against, other in others:
            ours, baseline = pairs(
                lambda: timed_s(lambda: asked("sqlite")),
                lambda other=other: timed_s(other),  # type: ignore[misc]
                rounds=rounds,
            )
            figures.append(
                Figure(
                    name=f"caseload of {dogs * SESSIONS_EACH:,} sessions",
                    ours=ours,
                    baseline=baseline,
                    unit="s",
                    against=against,
                    note=f"{len(found.rows)} dogs",
                )
            )
    return figures
