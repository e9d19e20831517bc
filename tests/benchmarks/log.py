"""The journal: what a line costs to write down, and what a million cost to add up."""

import json
import os
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, TypeAdapter

from coach.journal.journal import Journal
from coach.journal.journal_lines import GENESIS, Scan, decode, encode
from coach.record.tally import tally_of
from coach.session.events import (
    Event,
    Heartbeat,
    HoldEnded,
    HoldStarted,
    MoveStarted,
    SessionFinished,
    SessionStarted,
)
from coach.session.machine import Options
from coach.units import NS_PER_S
from tests.benchmarks.frame import Figure, pairs, percentile, say, timed_s
from tests.worlds import Clock, header_for, spots_for


class Line(BaseModel):
    """A line, as pydantic reads it: the ready-made way to the same certainty about its form."""

    v: Literal[1]
    seq: int
    mono_ns: int
    boot: str
    wall: str
    trust: Literal["synchronised", "rtc", "unknown"]
    kind: str
    data: dict[str, Any]
    sum: str


def _append_s(folder: Path, count: int) -> tuple[list[float], list[float]]:
    """Seconds of each append: ours with chain and sync, and the same bytes with a sync alone."""
    spots = spots_for([3600])
    journal = Journal.create(folder, header=header_for(spots, Options()), stamp=Clock().stamp)
    plain = os.open(folder / "plain.log", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    beat = Heartbeat(at_ns=NS_PER_S, spot=0, given_ns=NS_PER_S)
    journal.append(beat.kind, beat.payload())
    line = journal.path.read_bytes().splitlines(keepends=True)[-1]
    ours: list[float] = []
    theirs: list[float] = []
    for number in range(count):
        for which in (0, 1) if number % 2 else (1, 0):
            began_s = time.perf_counter()
            if which == 0:
                journal.append(beat.kind, beat.payload())
                ours.append(time.perf_counter() - began_s)
            else:
                os.write(plain, line)
                os.fdatasync(plain)
                theirs.append(time.perf_counter() - began_s)
    os.close(plain)
    journal.close()
    return ours, theirs


def append(*, quick: bool) -> list[Figure]:
    """p50 and p99 of an append."""
    say("log: appends")
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as folder:
        ours, theirs = _append_s(Path(folder), 200 if quick else 3000)
    return [
        Figure(
            name=f"journal append, {name}",
            ours=percentile(ours, share) * 1000,
            baseline=percentile(theirs, share) * 1000,
            unit="ms",
            against="write + fdatasync of the same bytes",
            goal=1.2,
        )
        for name, share in (("p50", 0.5), ("p99", 0.99))
    ]


def _evening() -> list[bytes]:
    """The lines of one long session: twenty spots of 60 s, a heartbeat a second."""
    spots = spots_for([60] * 20)
    events: list[Event] = [SessionStarted(at_ns=0)]
    for spot in spots:
        at_ns = spot.index * 70 * NS_PER_S
        events.append(MoveStarted(at_ns=at_ns, spot=spot.index, until_ns=at_ns + 10 * NS_PER_S))
        at_ns += 10 * NS_PER_S
        events.append(HoldStarted(at_ns=at_ns, spot=spot.index, left_ns=spot.hold_ns))
        events += [
            Heartbeat(at_ns=at_ns + n * NS_PER_S, spot=spot.index, given_ns=n * NS_PER_S)
            for n in range(1, 60)
        ]
        events.append(
            HoldEnded(
                at_ns=at_ns + spot.hold_ns,
                spot=spot.index,
                given_ns=spot.hold_ns,
                reason="complete",
            )
        )
    events.append(SessionFinished(at_ns=20 * 70 * NS_PER_S))
    clock, previous = Clock(), GENESIS
    lines = []
    written = [("session_opened", header_for(spots, Options()))]
    written += [(event.kind, event.payload()) for event in events]
    for seq, (kind, data) in enumerate(written, 1):
        clock.now_ns += NS_PER_S
        line, previous = encode(
            seq=seq, stamp=clock.stamp(), kind=kind, data=data, previous=previous
        )
        lines.append(line)
    return lines


def fold(*, quick: bool) -> list[Figure]:
    """Adding up events, beside only reading them as JSON, as models, and into a database.

    DuckDB and we read the same file; it checks no chain, and reads with one thread as we do.
    """
    evening = _evening()
    sessions = (50_000 if quick else 1_000_000) // len(evening) + 1
    events = sessions * len(evening)
    say(f"log: {events:,} events in {sessions} sessions")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "events.jsonl"
        with path.open("wb") as file:
            for _ in range(sessions):
                file.writelines(evening)
        return _folds(path, evening, sessions)


def _folds(path: Path, evening: Sequence[bytes], sessions: int) -> list[Figure]:
    """``path`` has ``evening`` so many times."""
    events = sessions * len(evening)
    adapter = TypeAdapter(Line)

    def loads() -> None:
        for _ in range(sessions):
            for line in evening:
                json.loads(line)

    def pydantic() -> None:
        for _ in range(sessions):
            for line in evening:
                adapter.validate_json(line)

    def folded(reading: Callable[[Iterator[bytes]], Iterable[dict[str, Any]]]) -> None:
        with path.open("rb") as file:
            for _ in range(sessions):
                tally_of(reading(islice(file, len(evening))))

    def tallied() -> None:
        folded(lambda lines: map(decode, lines))

    def checked() -> None:
        folded(Scan)

    def duckdb() -> None:
        _duckdb(path)

    figures = []
    what = f"{events:,} events to tallies"
    json_lines, database = "json.loads of the same lines", "DuckDB loading the same file"
    rows: list[tuple[str, Callable[[], object], str, Callable[[], object], float | None]] = [
        (what, tallied, json_lines, loads, 1.2),
        (what, tallied, database, duckdb, 1.0),
        (f"{what}, chain checked", checked, json_lines, loads, 1.2),
        (f"{what}, chain checked", checked, "pydantic's reading of them", pydantic, 1.0),
        (f"{what}, chain checked", checked, database, duckdb, None),
    ]
    for name, ours, against, baseline, goal in rows:
        ours_s, base_s = pairs(
            lambda ours=ours: timed_s(ours),  # type: ignore[misc]
            lambda baseline=baseline: timed_s(baseline),  # type: ignore[misc]
            rounds=3,
        )
        figures.append(
            Figure(name=name, ours=ours_s, baseline=base_s, unit="s", against=against, goal=goal)
        )
    return figures


def _duckdb(path: Path) -> None:
    import duckdb

    with duckdb.connect() as database:
        database.execute("SET threads = 1")
        database.execute(
            "CREATE TABLE lines AS SELECT * FROM read_json(?, format = 'newline_delimited')",
            [str(path)],
        )


def measure(*, quick: bool) -> list[Figure]:
    """Appends and folds."""
    return [*append(quick=quick), *fold(quick=quick)]
