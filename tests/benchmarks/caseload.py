"""The call list over many handovers: read for the first time, read again, asked on two engines."""

import csv
import shutil
import tempfile
from pathlib import Path

from coach import paths
from coach.practice.call_list import CallList, EngineName, call_list
from coach.practice.files import places_in
from coach.practice.rules import house_rules
from tests.benchmarks.frame import Figure, pairs, say, timed_s
from tests.practice.many import TODAY, many

SESSIONS_EACH = 50


def _read(folder: Path) -> None:
    for place in places_in(folder, []):
        with (place.path / "sessions.csv").open(encoding="utf-8", newline="") as stream:
            for _ in csv.reader(stream):
                pass


def measure(*, quick: bool) -> list[Figure]:
    """The first run against plain reading of the tables, and the runs after it against that."""
    dogs, rounds = (200, 3) if quick else (2000, 5)
    say(f"caseload: writing {dogs} handovers")
    with tempfile.TemporaryDirectory(prefix="coach-caseload-") as name:
        folder = Path(name)
        many(folder, dogs, SESSIONS_EACH)

        def asked(engine: EngineName = "sqlite", *, anew: bool = False) -> CallList:
            if anew:
                shutil.rmtree(paths.cache_folder() / "practice", ignore_errors=True)
            return call_list(folder, TODAY, house_rules(), engine=engine)

        say("caseload: reading them")
        found = asked(anew=True)
        if found != asked("duckdb"):
            raise SystemExit("the engines give different answers")
        compared = (
            ("read for the first time", lambda: asked(anew=True), "csv", lambda: _read(folder)),
            ("read again, unchanged", asked, "the first time", lambda: asked(anew=True)),
            ("asked on DuckDB", lambda: asked("duckdb"), "asked on SQLite", asked),
        )
        figures = []
        for what, one, against, other in compared:
            ours, baseline = pairs(
                lambda one=one: timed_s(one),  # type: ignore[misc]
                lambda other=other: timed_s(other),  # type: ignore[misc]
                rounds=rounds,
            )
            figures.append(
                Figure(
                    name=f"caseload of {dogs * SESSIONS_EACH:,} sessions, {what}",
                    ours=ours,
                    baseline=baseline,
                    unit="s",
                    against=against,
                    note=f"{len(found.dogs)} dogs",
                )
            )
    return figures
