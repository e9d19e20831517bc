"""Many handovers together: which dog needs a call. The same SQL on every engine.

SQLite comes with Python and is always there. DuckDB (extra ``caseload``) reads the CSV files in
place; with many small files it is no faster, so SQLite is what is used unless asked. What needs a
call first is a rule of this house (red skin, a stop for the dog's sake, signals, a broken log,
behind the course): common practice, no source; the vet decides.
"""

import csv
import json
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from importlib.resources import files
from operator import itemgetter
from pathlib import Path
from typing import Any, Literal

from coach.handover.folder import SESSIONS, SUMMARY
from coach.handover.tables import SESSION_COLUMNS

Engine = Literal["sqlite", "duckdb"]
RECENT_DAYS = 14
# Deeper than a folder of the practice with a folder a dog nobody needs to look.
DEEPEST = 3
MOST_BYTES = 64 << 20
_UNREADABLE = (OSError, ValueError, KeyError, TypeError, AttributeError, zipfile.BadZipFile)
VARCHAR = "VARCHAR"
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

_HANDOVERS = (
    "handover, made_at, device, dog, plan, plan_revision, whole_course, planned, given, missed, "
    "next_day"
)


class NoDuckDb(Exception):  # noqa: N818  (told to the user)
    """The extra ``caseload`` is not installed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caseload:
    """One row a dog, as dictionaries in order, and what could not be read."""

    rows: tuple[dict[str, Any], ...]
    handovers: int
    remarks: tuple[str, ...]


def query() -> str:
    """The SQL."""
    return (files("coach.handover") / "caseload.sql").read_text(encoding="utf-8")


def handovers_in(folder: Path) -> list[Path]:
    """Folders with a summary, and zip files, in ``folder``, also deeper; ``folder`` itself too."""
    found: list[Path] = []

    def look(place: Path, depth: int) -> None:
        if (place / SUMMARY).is_file():
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


def caseload(folder: Path, *, recent: str, engine: Engine = "sqlite") -> Caseload:
    """Every dog of the handovers in ``folder``; ``recent`` is the first day that counts as such.

    Handovers that cannot be read are told and left out. Raises OSError, NoDuckDb, and ValueError
    for a table that is broken in the middle.
    """
    remarks: list[str] = []
    heads: list[tuple[object, ...]] = []
    tables: list[tuple[str, Path]] = []
    with tempfile.TemporaryDirectory(prefix="caseload-") as unpacked:
        for number, place in enumerate(handovers_in(folder)):
            name = _name(place, folder)
            try:
                at = place
                if not place.is_dir():
                    at = _unpack(place, Path(unpacked) / str(number))
                head = _head(at, name)
                _columns(at / SESSIONS)
            except _UNREADABLE as error:
                remarks.append(f"{place}: left out: {_short(error)}")
                continue
            heads.append(head)
            tables.append((name, at / SESSIONS))
        run = _on_sqlite if engine == "sqlite" else _on_duckdb
        rows = run(heads, tables, recent)
    return Caseload(rows=tuple(rows), handovers=len(heads), remarks=tuple(remarks))


def _unpack(packed: Path, folder: Path) -> Path:
    """The two files that are read, out of a zip file; nothing else of it is touched."""
    folder.mkdir()
    with zipfile.ZipFile(packed) as archive:
        for name in (SUMMARY, SESSIONS):
            if archive.getinfo(name).file_size > MOST_BYTES:
                raise ValueError(f"{name} is larger than {MOST_BYTES >> 20} MiB")
            (folder / name).write_bytes(archive.read(name))
    return folder


def _on_sqlite(
    heads: Sequence[tuple[object, ...]], tables: Sequence[tuple[str, Path]], recent: str
) -> list[dict[str, Any]]:
    with closing(sqlite3.connect(":memory:")) as engine:
        engine.execute(f"CREATE TABLE handovers ({_HANDOVERS})")
        engine.executemany(f"INSERT INTO handovers VALUES ({_marks(11)})", heads)  # noqa: S608
        engine.execute(f"CREATE TABLE sessions ({', '.join(ASKED)}, handover)")
        insert = f"INSERT INTO sessions VALUES ({_marks(len(ASKED) + 1)})"  # noqa: S608
        for name, table in tables:
            engine.executemany(insert, _cells(table, name))
        cursor = engine.execute(query(), {"recent": recent})
        titles = [column[0] for column in cursor.description]
        return [dict(zip(titles, row, strict=True)) for row in cursor]


def _on_duckdb(
    heads: Sequence[tuple[object, ...]], tables: Sequence[tuple[str, Path]], recent: str
) -> list[dict[str, Any]]:
    try:
        import duckdb
    except ImportError as error:
        raise NoDuckDb("DuckDB is not installed; it comes with the extra 'caseload'") from error
    with duckdb.connect(":memory:") as engine:
        engine.execute(
            "CREATE TABLE handovers (handover VARCHAR, made_at VARCHAR, device VARCHAR, "
            "dog VARCHAR, plan VARCHAR, plan_revision INTEGER, whole_course INTEGER, "
            "planned INTEGER, given INTEGER, missed INTEGER, next_day VARCHAR)"
        )
        if not heads:
            return []
        engine.execute(
            f"INSERT INTO handovers SELECT {', '.join(['unnest(?)'] * 11)}",
            [list(column) for column in zip(*heads, strict=True)],
        )
        engine.execute("CREATE TABLE places (filename VARCHAR, handover VARCHAR)")
        engine.execute(
            "INSERT INTO places SELECT unnest(?), unnest(?)",
            [[str(table) for _, table in tables], [name for name, _ in tables]],
        )
        try:
            _read_tables(engine, [table for _, table in tables])
        except duckdb.Error as error:
            raise ValueError(" ".join(str(error).split())) from error
        cursor = engine.execute(query(), {"recent": recent})
        titles = [column[0] for column in cursor.description or ()]
        return [dict(zip(titles, row, strict=True)) for row in cursor.fetchall()]


def _read_tables(engine: Any, tables: Sequence[Path]) -> None:
    """All tables as one, in one pass over the files."""
    names = [column.name for column in SESSION_COLUMNS]
    types = ", ".join(f"{name!r}: {VARCHAR!r}" for name in names)
    engine.execute(
        f"CREATE TABLE sessions AS SELECT {', '.join(ASKED)}, p.handover "  # noqa: S608
        f"FROM read_csv(?, auto_detect = false, columns = {{{types}}}, header = true, "
        "delim = ',', quote = '\"', escape = '\"', new_line = '\\r\\n', filename = true, "
        "nullstr = '\\0') AS r INNER JOIN places AS p ON p.filename = r.filename",
        [[str(table) for table in tables]],
    )


def _head(place: Path, name: str) -> tuple[object, ...]:
    summary = json.loads((place / SUMMARY).read_bytes())
    course = summary.get("course") or {}
    plan = summary["plan_now"] or (summary["plans"] or [{"id": "", "revision": 0}])[-1]
    return (
        name,
        str(summary["made"]["at"]),
        str(summary["record"]["public_key"] or ""),
        str(summary["dog"]["name"]),
        str(plan["id"]),
        int(plan["revision"]),
        int(course.get("whole_course", 0)),
        int(course.get("planned", 0)),
        int(course.get("given", 0)),
        int(course.get("missed", 0)),
        str(course.get("next_day") or ""),
    )


def _columns(path: Path) -> None:
    """Raise ValueError unless the table has the columns that are asked for."""
    with path.open(encoding="utf-8", newline="") as stream:
        there = next(csv.reader(stream), [])
    missing = [name for name in ASKED if name not in there]
    if missing:
        raise ValueError(f"{SESSIONS} lacks {', '.join(missing)}")


def _cells(path: Path, handover: str) -> Iterator[tuple[str, ...]]:
    with path.open(encoding="utf-8", newline="") as stream:
        rows = csv.reader(stream)
        heading = next(rows)
        pick = itemgetter(*(heading.index(name) for name in ASKED))
        try:
            for row in rows:
                yield (*pick(row), handover)
        except (IndexError, csv.Error) as error:
            raise ValueError(f"{path}:{rows.line_num}: found a row that lacks cells") from error


def _name(place: Path, folder: Path) -> str:
    return place.relative_to(folder).as_posix() if place != folder else place.name


def _marks(count: int) -> str:
    return ", ".join("?" * count)


def _short(error: Exception) -> str:
    if isinstance(error, OSError):
        return str(error.strerror or error)
    return f"found something else than a handover ({error!r})"[:200]
