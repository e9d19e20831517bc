"""The same question on DuckDB, and Parquet files for many practices (the extra ``caseload``).

A lake is a folder with one folder a table, partitioned as hive does it (``practice=NAME`` and
``month=2026-11``), so that a chain can put those of its practices into one place and any engine
that reads Parquet can ask. DuckDB is imported by nothing else.
"""

import csv
import json
import os
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Any

from coach.practice.reading import Row
from coach.practice.store import Engine, as_dicts
from coach.practice.tables import INT, OF_HANDOVERS, TABLES, ddl

LAKE = "lake.json"
LAKE_FORMAT = 1
# The day by which a row is put into a month; without one the row lies in month=none.
MONTH_OF = {
    "handovers": "made_day",
    "sessions": "day",
    "dues": "planned_day",
    "incidents": "day",
    "scores": "day",
    "doses": "day",
}


class NoEngine(Exception):  # noqa: N818  (told to the user)
    """The extra that an engine needs is not installed."""


class DuckEngine:
    """Tables in a DuckDB in memory."""

    def __init__(self) -> None:
        try:
            import duckdb
        except ImportError as error:
            told = "DuckDB is not installed; it comes with the extra 'caseload'"
            raise NoEngine(told) from error
        self.engine = duckdb.connect(":memory:")

    def select(self, sql: str) -> list[Row]:
        """See :class:`coach.practice.store.Engine`."""
        rows: list[Row] = self.engine.execute(sql).fetchall()
        return rows

    def ask(
        self, question: str, tables: Mapping[str, Iterable[Row]], today: int
    ) -> list[dict[str, Any]]:
        """See :class:`coach.practice.store.Engine`."""
        for name, rows in tables.items():
            self.engine.execute(f"DROP TABLE IF EXISTS {name}")
            self.fill(name, rows)
        # DuckDB refuses a value that the text does not ask for.
        values = {"today": today} if "$today" in question else None
        return as_dicts(self.engine.execute(question, values))

    def fill(self, name: str, rows: Iterable[Row]) -> None:
        """A new table with ``rows``, by way of a file: row by row takes a hundred times as long."""
        self.engine.execute(ddl(name))
        columns = TABLES[name].columns
        with tempfile.TemporaryDirectory(prefix="caseload-") as folder:
            path = Path(folder) / "rows.csv"
            with path.open("w", encoding="utf-8", newline="") as stream:
                csv.writer(stream, lineterminator="\r\n", quoting=csv.QUOTE_ALL).writerows(rows)
            if not path.stat().st_size:
                return
            kinds = json.dumps(dict(columns)).replace('"', "'")
            texts = [column for column, kind in columns.items() if kind != INT]
            how = "header = false, auto_detect = false, delim = ',', quote = '\"', escape = '\"'"
            more = "new_line = '\\r\\n', allow_quoted_nulls = true, max_line_size = 134217728"
            self.engine.execute(
                f"INSERT INTO {name} SELECT * FROM read_csv(?, {how}, {more}, "  # noqa: S608
                f"columns = {kinds}, force_not_null = {texts})",
                [str(path)],
            )


def duck_of(store: Engine) -> DuckEngine:
    """A DuckDB with all that ``store`` has. Raises NoEngine."""
    engine = DuckEngine()
    for name in OF_HANDOVERS:
        columns = ", ".join(TABLES[name].names)
        engine.fill(name, store.select(f"SELECT {columns} FROM {name}"))  # noqa: S608
    return engine


def is_lake(folder: Path) -> bool:
    """Whether ``folder`` was written by :func:`write_lake`."""
    return (folder / LAKE).is_file()


def write_lake(store: Engine, folder: Path, *, practice: str) -> None:
    """Write all that ``store`` has as a new lake, whole or not at all.

    Raises FileExistsError, OSError, NoEngine, duckdb.Error.
    """
    if folder.exists():
        raise FileExistsError(17, "is there already; allowed: a new folder", str(folder))
    folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    duck = duck_of(store)
    with tempfile.TemporaryDirectory(dir=folder.parent, prefix=".lake-") as hidden:
        written = Path(hidden) / "lake"
        written.mkdir(mode=0o700)
        for name in OF_HANDOVERS:
            _write_table(duck, name, written / name, practice)
        about = {"lake": LAKE_FORMAT, "tables": list(OF_HANDOVERS)}
        (written / LAKE).write_text(json.dumps(about) + "\n", encoding="utf-8")
        for path in written.rglob("*"):
            path.chmod(0o700 if path.is_dir() else 0o600)
            if path.is_file():
                with path.open("rb") as stream:
                    os.fsync(stream.fileno())
        written.rename(folder)


def _write_table(duck: DuckEngine, name: str, folder: Path, practice: str) -> None:
    """One table; an empty one as a file without rows, so that its columns are known."""
    day = MONTH_OF.get(name)
    first = date(1, 1, 1).toordinal()
    month = "'none'"
    if day is not None:
        month = (
            f"CASE WHEN {day} > 0 THEN strftime(DATE '0001-01-01' + CAST({day} - {first} AS "
            "INTEGER), '%Y-%m') ELSE 'none' END"
        )
    rows = f"SELECT *, '{practice}' AS practice, {month} AS month FROM {name}"  # noqa: S608
    if duck.select(f"SELECT count(*) FROM {name}")[0][0]:  # noqa: S608
        duck.engine.execute(
            f"COPY ({rows}) TO '{_quoted(folder)}' (FORMAT parquet, PARTITION_BY (practice, month))"
        )
        return
    place = folder / f"practice={practice}" / "month=none"
    place.mkdir(parents=True)
    duck.engine.execute(
        f"COPY (SELECT * FROM {name}) TO '{_quoted(place / 'data_0.parquet')}' (FORMAT parquet)"  # noqa: S608
    )


def lake_views() -> Sequence[str]:
    """The statements of ``lake.sql``, for DuckDB."""
    text = (files("coach.practice") / "lake.sql").read_text(encoding="utf-8")
    for name in OF_HANDOVERS:
        own = [
            "r.practice || '/' || r.handover AS handover" if column == "handover" else f"r.{column}"
            for column in TABLES[name].names
        ]
        text = text.replace(f"{{{name}}}", ", ".join(own))
    return [part for part in text.split(";\n") if part.strip()]


def duck_of_lake(folder: Path) -> DuckEngine:
    """The tables of a lake, read where they lie. Raises NoEngine, ValueError for broken files."""
    engine = DuckEngine()
    import duckdb

    try:
        for name in OF_HANDOVERS:
            engine.engine.execute(
                f"CREATE VIEW raw_{name} AS SELECT * FROM read_parquet("  # noqa: S608
                f"'{_quoted(folder / name)}/*/*/*.parquet', hive_partitioning = true, "
                "hive_types = {'practice': VARCHAR, 'month': VARCHAR})"
            )
        for statement in lake_views():
            engine.engine.execute(statement)
        engine.select("SELECT count(*) FROM handovers")
    except duckdb.Error as error:
        told = " ".join(str(error).split())[:300]
        raise ValueError(f"{folder}: its files cannot be read: {told}") from error
    return engine


def _quoted(path: Path) -> str:
    return str(path).replace("'", "''")
