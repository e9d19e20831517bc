"""The same question on Apache Spark, over a lake of many practices (the extra ``cluster``).

Why Spark: of the distributed engines that Python installs by itself it is the one with the most
keepers (Apache, since 2014), reads hive-partitioned Parquet as it is, and runs on one machine, on a
standalone cluster, on YARN and on Kubernetes with the same code. Trino is as well kept, but a
server to set up; others were younger or had no SQL of their own. sqlglot carries the SQL over from
DuckDB's dialect; nothing is written twice by hand. Both are imported by nothing else.
"""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.practice.duck import NoEngine, lake_views
from coach.practice.reading import Row
from coach.practice.tables import INT, OF_HANDOVERS, TABLES

if TYPE_CHECKING:
    from pyspark.sql import SparkSession

SETTINGS = {
    "spark.ui.enabled": "false",
    # The folders practice=... and month=2026-11 are words, not numbers and dates.
    "spark.sql.sources.partitionColumnTypeInference.enabled": "false",
    "spark.sql.shuffle.partitions": "4",
}


class SparkEngine:
    """Tables of a lake in a Spark session."""

    def __init__(self, session: "SparkSession") -> None:
        self._session = session

    def select(self, sql: str) -> list[Row]:
        """See :class:`coach.practice.store.Engine`."""
        return [tuple(row) for row in self._session.sql(for_spark(sql)).collect()]

    def ask(
        self, question: str, tables: Mapping[str, Iterable[Row]], today: int
    ) -> list[dict[str, Any]]:
        """See :class:`coach.practice.store.Engine`."""
        for name, rows in tables.items():
            columns = ", ".join(
                f"{column} {'INT' if kind == INT else 'STRING'}"
                for column, kind in TABLES[name].columns.items()
            )
            frame = self._session.createDataFrame(list(rows), schema=columns)
            frame.createOrReplaceTempView(name)
        *steps, last = steps_for_spark(question.replace("$today", str(int(today))))
        for name, sql in steps:
            # Kept: Spark would work each step out anew wherever a later one names it.
            self._session.sql(sql).localCheckpoint().createOrReplaceTempView(name)
        return [row.asDict() for row in self._session.sql(last[1]).collect()]


def steps_for_spark(sql: str) -> list[tuple[str, str]]:
    """Each part of WITH by its name and then, without one, the SELECT, in the words of Spark."""
    glot = _sqlglot()
    whole = glot.parse_one(sql, read="duckdb")
    steps = [(part.alias, part.this.sql(dialect="spark", comments=False)) for part in whole.ctes]
    whole.set("with_", None)
    return [*steps, ("", whole.sql(dialect="spark", comments=False))]


def for_spark(sql: str) -> str:
    """``sql`` of DuckDB in the words of Spark. Raises NoEngine."""
    return str(_sqlglot().transpile(sql, read="duckdb", write="spark", comments=False)[0])


def _sqlglot() -> Any:
    try:
        import sqlglot
    except ImportError as error:
        raise NoEngine("sqlglot is not installed; it comes with the extra 'cluster'") from error
    return sqlglot


@contextmanager
def spark_of_lake(folder: Path, master: str) -> Iterator[SparkEngine]:
    """The tables of a lake on the cluster at ``master`` (``local[*]``, ``spark://...``).

    Every worker must see ``folder`` at the same path, as on a shared disk. Raises NoEngine, and
    ValueError for what Spark cannot read or reach.
    """
    try:
        from py4j.protocol import Py4JError
        from pyspark.errors import PySparkException
        from pyspark.sql import SparkSession
    except ImportError as error:
        raise NoEngine("Spark is not installed; it comes with the extra 'cluster'") from error
    builder = SparkSession.builder.master(master).appName("coach caseload")
    for name, value in SETTINGS.items():
        builder = builder.config(name, value)
    try:
        session = builder.getOrCreate()
    except (PySparkException, Py4JError, RuntimeError) as error:
        raise ValueError(f"Spark at {master} does not start: {_line(error)}") from error
    try:
        for name in OF_HANDOVERS:
            frame = session.read.parquet(str((folder / name).absolute()))
            frame.createOrReplaceTempView(f"raw_{name}")
        for statement in lake_views():
            view = for_spark(statement).replace("CREATE VIEW", "CREATE OR REPLACE TEMPORARY VIEW")
            session.sql(view)
        yield SparkEngine(session)
    except (PySparkException, Py4JError) as error:
        raise ValueError(f"{folder}: Spark: {_line(error)}") from error
    finally:
        session.stop()


def _line(error: Exception) -> str:
    return " ".join(str(error).split())[:300]
