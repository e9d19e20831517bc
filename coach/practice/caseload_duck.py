"""The tables of many handovers in DuckDB: CSV, JSON and Parquet read where they lie.

DuckDB is the extra ``caseload`` and is imported by nothing else. A folder with
``handovers.parquet`` and ``sessions.parquet`` (:func:`write_pool`) stands for all the handovers
that were put into it; ``sessions.parquet`` without ``sessions.csv`` stands for that table.
"""

import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.handover.folder import SUMMARY
from coach.handover.tables import SESSION_COLUMNS

PARQUET = "sessions.parquet"
HEADS_PARQUET = "handovers.parquet"
VARCHAR = "VARCHAR"
LEAST_BUFFER = 64 << 10
# The columns of the table ``handovers``.
HEADS = {
    "handover": VARCHAR,
    "made_at": VARCHAR,
    "device": VARCHAR,
    "dog": VARCHAR,
    "plan": VARCHAR,
    "plan_revision": "INTEGER",
    "whole_course": "INTEGER",
    "planned": "INTEGER",
    "given": "INTEGER",
    "missed": "INTEGER",
    "next_day": VARCHAR,
}
# What is asked of summary.json; the rest of it is passed over.
_PLAN = "STRUCT(id VARCHAR, revision INTEGER)"
_SUMMARY = {
    "made": 'STRUCT("at" VARCHAR)',
    "record": "STRUCT(public_key VARCHAR)",
    "dog": "STRUCT(name VARCHAR)",
    "plan_now": _PLAN,
    "plans": f"{_PLAN}[]",
    "course": "STRUCT(whole_course INTEGER, planned INTEGER, given INTEGER, missed INTEGER, "
    "next_day VARCHAR)",
}
_HEADS_OF_SUMMARIES = """
INSERT INTO handovers
SELECT
    p.handover, r.made."at", coalesce(r.record.public_key, ''), r.dog.name,
    coalesce(r.plan_now.id, r.plans[-1].id, ''),
    coalesce(r.plan_now.revision, r.plans[-1].revision, 0),
    coalesce(r.course.whole_course, 0), coalesce(r.course.planned, 0),
    coalesce(r.course.given, 0), coalesce(r.course.missed, 0), coalesce(r.course.next_day, '')
FROM read_json(?, columns = {columns}, format = 'unstructured', filename = true,
    maximum_object_size = {largest}) AS r
INNER JOIN places AS p ON p.filename = r.filename
"""


class NoDuckDb(Exception):  # noqa: N818  (told to the user)
    """The extra ``caseload`` is not installed."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a handover lies: its name in the list, and the folder of its files."""

    name: str
    folder: Path
    table: str

    @property
    def sessions(self) -> Path:
        """Its table of sessions."""
        return self.folder / self.table


def engine_for(asked: Sequence[str]) -> Any:
    """A database in memory with the two empty tables; ``asked`` are columns of sessions.csv."""
    try:
        import duckdb
    except ImportError as error:
        raise NoDuckDb("DuckDB is not installed; it comes with the extra 'caseload'") from error
    engine = duckdb.connect(":memory:")
    heads = ", ".join(f"{name} {kind}" for name, kind in HEADS.items())
    engine.execute(f"CREATE TABLE handovers ({heads})")
    cells = ", ".join(f"{name} VARCHAR" for name in (*asked, "handover"))
    engine.execute(f"CREATE TABLE sessions ({cells})")
    engine.execute("CREATE TABLE places (filename VARCHAR, handover VARCHAR)")
    return engine


def read_places(engine: Any, places: Sequence[Place], asked: Sequence[str]) -> None:
    """Add single handovers, in one pass over the files of each kind. Raises duckdb.Error."""
    if not places:
        return
    named = [(str(one.folder / SUMMARY), one.name) for one in places]
    named += [(str(one.sessions), one.name) for one in places]
    engine.execute(
        "INSERT INTO places SELECT unnest(?), unnest(?)",
        [list(column) for column in zip(*named, strict=True)],
    )
    summaries = [str(one.folder / SUMMARY) for one in places]
    # A buffer of this size is made for every file: no larger than it must be.
    largest = max(LEAST_BUFFER, *(one.folder.joinpath(SUMMARY).stat().st_size for one in places))
    heads = _HEADS_OF_SUMMARIES.replace("{columns}", _struct(_SUMMARY))
    engine.execute(heads.replace("{largest}", str(largest)), [summaries])
    columns = _struct({column.name: VARCHAR for column in SESSION_COLUMNS})
    csv = (
        f"read_csv(?, auto_detect = false, columns = {columns}, header = true, delim = ',', "
        "quote = '\"', escape = '\"', new_line = '\\r\\n', filename = true, nullstr = '\\0')"
    )
    parquet = "read_parquet(?, filename = true, union_by_name = true)"
    for reader, wanted in ((csv, ".csv"), (parquet, ".parquet")):
        tables = [str(one.sessions) for one in places if one.sessions.suffix == wanted]
        if tables:
            engine.execute(
                f"INSERT INTO sessions SELECT {_texts(asked)}, p.handover FROM {reader} AS r "  # noqa: S608
                "INNER JOIN places AS p ON p.filename = r.filename",
                [tables],
            )


def check_parquet(engine: Any, path: Path, columns: Sequence[str]) -> None:
    """Raise ValueError or duckdb.Error unless ``path`` has ``columns``, as text or whole numbers.

    A time that became a timestamp has lost the day on which it was evening by the dog bed.
    """
    names = ", ".join(columns)
    asked = f"DESCRIBE SELECT {names} FROM read_parquet(?)"  # noqa: S608
    for name, kind, *_others in engine.execute(asked, [str(path)]).fetchall():
        if kind != VARCHAR and "INT" not in kind:
            raise ValueError(f"{path.name}: {name}: found {kind}; allowed: text, as in the CSV")


def read_pool(engine: Any, folder: Path, prefix: str, asked: Sequence[str]) -> None:
    """Add what :func:`write_pool` wrote; ``prefix`` goes before its names. Raises duckdb.Error."""
    check_parquet(engine, folder / HEADS_PARQUET, tuple(HEADS))
    check_parquet(engine, folder / PARQUET, (*asked, "handover"))
    others = ", ".join(name for name in HEADS if name != "handover")
    engine.execute(
        f"INSERT INTO handovers SELECT ? || handover, {others} FROM read_parquet(?)",  # noqa: S608
        [prefix, str(folder / HEADS_PARQUET)],
    )
    engine.execute(
        f"INSERT INTO sessions SELECT {_texts(asked)}, ? || handover FROM read_parquet(?)",  # noqa: S608
        [prefix, str(folder / PARQUET)],
    )


def write_pool(engine: Any, folder: Path) -> None:
    """Write both tables as Parquet into the new folder ``folder``, whole or not at all.

    Raises FileExistsError, OSError, duckdb.Error.
    """
    if folder.exists():
        raise FileExistsError(17, "is there already; allowed: a new folder", str(folder))
    folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.parent, prefix=".pool-") as hidden:
        written = Path(hidden) / "pool"
        written.mkdir(mode=0o700)
        for table, name in (("handovers", HEADS_PARQUET), ("sessions", PARQUET)):
            engine.table(table).write_parquet(str(written / name))
            (written / name).chmod(0o600)
            with (written / name).open("rb") as stream:
                os.fsync(stream.fileno())
        written.rename(folder)


def _texts(asked: Sequence[str]) -> str:
    """Every column as text, as it is in the CSV: another's Parquet may have numbers and nulls."""
    return ", ".join(f"coalesce(CAST({name} AS VARCHAR), '') AS {name}" for name in asked)


def _struct(columns: dict[str, str]) -> str:
    return "{" + ", ".join(f"{name!r}: {kind!r}" for name, kind in columns.items()) + "}"
