"""Many handovers together: which dog needs a call. The same SQL on every engine.

SQLite comes with Python and is always there. DuckDB (extra ``caseload``) reads the CSV, JSON and
Parquet files in place; with many small files it is no faster, so SQLite is what is used unless
asked. Only DuckDB reads Parquet. What needs a call first is a rule of this house (red skin, a stop
for the dog's sake, signals, a broken log, behind the course): common practice, no source; the vet
decides.
"""

import sqlite3
import tempfile
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from importlib.resources import files
from operator import itemgetter
from pathlib import Path
from typing import Any, Literal

from coach.handover import outside
from coach.handover.folder import SESSIONS, SUMMARY
from coach.practice.caseload_duck import (
    HEADS,
    HEADS_PARQUET,
    PARQUET,
    Place,
    check_parquet,
    engine_for,
    read_places,
    read_pool,
    write_pool,
)

Engine = Literal["sqlite", "duckdb"]
RECENT_DAYS = 14
# Deeper than a folder of the practice with a folder a dog nobody needs to look.
DEEPEST = 3
_UNREADABLE = (OSError, ValueError, KeyError, TypeError, AttributeError)
# What the SQL asks of sessions.csv.
ASKED = (
    "session",
    "dog",
    "opened",
    "counts",
    "state",
    "reason",
    "skin",
    "signals",
    "journal",
    "tolerance_0_10",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Caseload:
    """One row a dog, as dictionaries in order, and what could not be read."""

    rows: tuple[dict[str, Any], ...]
    handovers: int
    remarks: tuple[str, ...]


def query() -> str:
    """The SQL."""
    return (files("coach.practice") / "caseload.sql").read_text(encoding="utf-8")


def handovers_in(folder: Path) -> list[Path]:
    """Folders with a summary or a pool, and zip files, in ``folder`` and deeper; itself too."""
    found: list[Path] = []

    def look(place: Path, depth: int) -> None:
        if (place / SUMMARY).is_file() or _is_pool(place):
            found.append(place)
        elif depth < DEEPEST:
            for inner in sorted(place.iterdir()):
                if inner.is_symlink() or inner.name.startswith("."):
                    continue
                if inner.is_dir():
                    look(inner, depth + 1)
                elif inner.suffix.lower() == ".zip":
                    found.append(inner)

    look(folder, 0)
    return found


def caseload(
    folder: Path, *, recent: str, engine: Engine = "sqlite", pool: Path | None = None
) -> Caseload:
    """Every dog of the handovers in ``folder``; ``recent`` is the first day that counts as such.

    ``pool`` is a new folder for both tables as Parquet (DuckDB only). Handovers that cannot be
    read are told and left out. Raises OSError, NoDuckDb, and ValueError for tables that only DuckDB
    reads and that are broken in the middle.
    """
    remarks: list[str] = []
    heads: list[tuple[object, ...]] = []
    found: list[Place] = []
    pools: list[Path] = []
    sessions: list[tuple[str, ...]] = []
    cells: list[tuple[str, ...]]
    with tempfile.TemporaryDirectory(prefix="caseload-") as unpacked:
        for number, place in enumerate(handovers_in(folder)):
            name = _name(place, folder)
            try:
                if place.is_dir() and _is_pool(place):
                    _only_duckdb(engine)
                    pools.append(place)
                    continue
                at = place
                if not place.is_dir():
                    at = _unpack(place, Path(unpacked) / str(number))
                head = _head(at, name)
                table, cells = SESSIONS, []
                if (at / PARQUET).is_file() and not (at / SESSIONS).exists():
                    _only_duckdb(engine)
                    table = PARQUET
                else:
                    cells = _table(at / SESSIONS)
            except _UNREADABLE as error:
                remarks.append(f"{place}: left out: {_short(error)}")
                continue
            heads.append(head)
            found.append(Place(name, at, table))
            if engine == "sqlite":
                sessions += [(*row, name) for row in cells]
        if engine == "sqlite":
            rows, handovers = _on_sqlite(heads, sessions, recent), len(heads)
        else:
            prefixes = [
                (place, "" if place == folder else f"{_name(place, folder)}/") for place in pools
            ]
            rows, handovers = _on_duckdb(found, prefixes, recent, pool, remarks)
    return Caseload(rows=tuple(rows), handovers=handovers, remarks=tuple(remarks))


def _is_pool(place: Path) -> bool:
    return (place / HEADS_PARQUET).is_file() and (place / PARQUET).is_file()


def _only_duckdb(engine: Engine) -> None:
    if engine != "duckdb":
        raise ValueError("a table is Parquet, which --engine duckdb reads")


def _unpack(packed: Path, folder: Path) -> Path:
    """The two files that are read, out of a zip file; nothing else of it is touched."""
    folder.mkdir()
    outside.unpack(packed, folder, only=(SUMMARY, SESSIONS))
    return folder


def _on_sqlite(
    heads: Sequence[tuple[object, ...]], sessions: Sequence[tuple[str, ...]], recent: str
) -> list[dict[str, Any]]:
    with closing(sqlite3.connect(":memory:")) as engine:
        engine.execute(f"CREATE TABLE handovers ({', '.join(HEADS)})")
        insert = f"INSERT INTO handovers VALUES ({_marks(len(HEADS))})"  # noqa: S608
        engine.executemany(insert, heads)
        engine.execute(f"CREATE TABLE sessions ({', '.join(ASKED)}, handover)")
        insert = f"INSERT INTO sessions VALUES ({_marks(len(ASKED) + 1)})"  # noqa: S608
        engine.executemany(insert, sessions)
        return _answers(engine.execute(query(), {"recent": recent}))


def _on_duckdb(
    found: Sequence[Place],
    pools: Sequence[tuple[Path, str]],
    recent: str,
    pool: Path | None,
    remarks: list[str],
) -> tuple[list[dict[str, Any]], int]:
    with engine_for(ASKED) as engine:
        import duckdb

        whole = []
        for place in found:
            try:
                if place.table == PARQUET:
                    check_parquet(engine, place.sessions, ASKED)
            except (duckdb.Error, ValueError) as error:
                remarks.append(f"{place.folder}: left out: {_one_line(error)}")
            else:
                whole.append(place)
        try:
            read_places(engine, whole, ASKED)
            for folder, prefix in pools:
                read_pool(engine, folder, prefix, ASKED)
            if pool is not None:
                write_pool(engine, pool)
            rows = _answers(engine.execute(query(), {"recent": recent}))
        except duckdb.Error as error:
            raise ValueError(_one_line(error)) from error
        return rows, engine.table("handovers").count("*").fetchall()[0][0]


def _answers(cursor: Any) -> list[dict[str, Any]]:
    titles = [column[0] for column in cursor.description]
    return [dict(zip(titles, row, strict=True)) for row in cursor.fetchall()]


def _head(place: Path, name: str) -> tuple[object, ...]:
    summary = outside.read_json(place / SUMMARY)
    course = summary.get("course") or {}
    plan = summary["plan_now"] or (summary["plans"] or [{"id": "", "revision": 0}])[-1]
    return (
        name,
        str(summary["made"]["at"]),
        str(summary["record"]["public_key"] or ""),
        str(summary["dog"]["name"]),
        str(plan["id"]),
        _whole(plan["revision"]),
        _whole(course.get("whole_course", 0)),
        _whole(course.get("planned", 0)),
        _whole(course.get("given", 0)),
        _whole(course.get("missed", 0)),
        str(course.get("next_day") or ""),
    )


def _whole(value: object) -> int:
    """A whole number, as a summary has them."""
    if not isinstance(value, int):
        raise ValueError(f"{SUMMARY}: found {value!r}; allowed: a whole number"[:200])
    return value


def _table(path: Path) -> list[tuple[str, ...]]:
    """What is asked of a table, row by row. Raises NotRead, ValueError."""
    rows = outside.csv_rows(outside.read_text(path))
    heading = rows[0] if rows else []
    missing = [name for name in ASKED if name not in heading]
    if missing:
        raise ValueError(f"{SESSIONS} lacks {', '.join(missing)}")
    for number, row in enumerate(rows[1:], start=2):
        if len(row) != len(heading):
            raise ValueError(
                f"{SESSIONS}:{number}: found {len(row)} cells; allowed: {len(heading)}"
            )
    pick = itemgetter(*(heading.index(name) for name in ASKED))
    return [pick(row) for row in rows[1:]]


def _name(place: Path, folder: Path) -> str:
    return place.relative_to(folder).as_posix() if place != folder else place.name


def _marks(count: int) -> str:
    return ", ".join("?" * count)


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())


def _short(error: Exception) -> str:
    if isinstance(error, OSError):
        return str(error.strerror or error)
    if type(error) in (ValueError, outside.NotRead):
        return str(error)
    return f"found something else than a handover ({error!r})"[:200]
