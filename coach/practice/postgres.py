"""The tables in a PostgreSQL, for a practice with several desks (the extra ``database``).

The server keeps what was loaded: each batch of handovers is one transaction, merged by an upsert
under a lock of the database, so that two desks may load at once and a desk that dies in the middle
leaves nothing half. A handover that is no longer in the folder stays in the database: another desk
may see other folders. psycopg is imported by nothing else.
"""

import contextlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from coach.practice.duck import NoEngine
from coach.practice.reading import Row
from coach.practice.rules import Rules
from coach.practice.store import Batch, Dog, as_dicts, stamp_of, upsert
from coach.practice.tables import INT, OF_HANDOVERS, OF_NEWEST, TABLES

if TYPE_CHECKING:
    from psycopg import Connection

SCHEMA = "coach_practice"
# Any number that nobody else uses in the same database (pg_advisory_xact_lock).
LOCK = 5_160_214_003
CONNECT_S = 10
# What each version of the tables adds; the table ``schema_version`` says how far a database is.
# Never change one that has been used: add the next.
STEPS = ("postgres_1.sql", "postgres_2.sql")
_FILE_READ = """
INSERT INTO files VALUES (%s, %s, %s, %s, %s, %s)
ON CONFLICT (handover) DO UPDATE SET
    state = excluded.state, remark = excluded.remark, device = excluded.device,
    dog = excluded.dog, stamp = excluded.stamp
"""


class DatabaseGone(Exception):  # noqa: N818  (told to the user)
    """The database went away; what was loaded until then is kept."""


class PostgresStore:
    """A store on a server; see :class:`coach.practice.store.Store`."""

    mirrors = False

    def __init__(self, connection: "Connection[Row]", stamp: str) -> None:
        self._connection = connection
        self._stamp = stamp

    def files(self) -> dict[str, tuple[str, str, Dog]]:
        """Those that were read as this program reads them."""
        sql = "SELECT handover, state, remark, device, dog FROM files WHERE stamp = %s"
        with self._connection.transaction():
            rows = self._connection.execute(sql, (self._stamp,)).fetchall()
        return {name: (state, remark, (device, dog)) for name, state, remark, device, dog in rows}

    def newest(self) -> dict[Dog, str]:
        """See :class:`coach.practice.store.Store`."""
        rows = self.select("SELECT device, dog, max(made_at) FROM handovers GROUP BY device, dog")
        return {(device, dog): made for device, dog, made in rows}

    def put(self, batch: Batch) -> None:
        """See :class:`coach.practice.store.Store`."""
        connection = self._connection
        with connection.transaction():
            connection.execute("SELECT pg_advisory_xact_lock(%s)", (LOCK,))
            # Another desk may have loaded a newer handover since this one began.
            late = self._overtaken(batch)
            replaced = sorted(batch.replaced - late)
            for name in OF_NEWEST:
                connection.cursor().executemany(
                    f"DELETE FROM {name} WHERE device = %s AND dog = %s",  # noqa: S608
                    replaced,
                )
            for name, rows in batch.rows.items():
                kept: Iterable[Row] = rows.values()
                if name in OF_NEWEST:
                    kept = [row for row in kept if (row[0], row[1]) not in late]
                incoming = f"incoming_{name}"
                self._fill(incoming, name, kept)
                connection.execute(upsert(name, f"SELECT * FROM {incoming}"))  # noqa: S608
            connection.cursor().executemany(
                _FILE_READ, [(*map(_text, row), self._stamp) for row in batch.files]
            )

    def _overtaken(self, batch: Batch) -> set[Dog]:
        dogs = sorted(batch.replaced)
        rows = self._connection.execute(
            "SELECT h.device, h.dog, max(h.made_at) FROM handovers AS h INNER JOIN "
            "unnest(%s::text[], %s::text[]) AS b(device, dog) "
            "ON b.device = h.device AND b.dog = h.dog GROUP BY h.device, h.dog",
            ([device for device, _ in dogs], [dog for _, dog in dogs]),
        ).fetchall()
        return {(dev, dog) for dev, dog, made in rows if made > batch.newest_of((dev, dog))}

    def forget(self, handovers: Sequence[str], dogs: Sequence[Dog]) -> None:
        """See :class:`coach.practice.store.Store`."""
        with self._connection.transaction():
            self._connection.execute("SELECT pg_advisory_xact_lock(%s)", (LOCK,))
            for name in OF_HANDOVERS:
                sql = f"DELETE FROM {name} WHERE device = %s AND dog = %s"  # noqa: S608
                self._connection.cursor().executemany(sql, dogs)
            self._connection.execute("DELETE FROM files WHERE handover = ANY(%s)", ([*handovers],))
            # Another desk's handovers of these dogs are read again by that desk.
            sql = "DELETE FROM files WHERE device = %s AND dog = %s"
            self._connection.cursor().executemany(sql, dogs)

    def select(self, sql: str) -> list[Row]:
        """See :class:`coach.practice.store.Engine`."""
        return self._connection.execute(sql).fetchall()

    def ask(
        self, question: str, tables: Mapping[str, Iterable[Row]], today: int
    ) -> list[dict[str, Any]]:
        """See :class:`coach.practice.store.Engine`."""
        for name, rows in tables.items():
            self._fill(name, name, rows)
        # No parameter: in a text with parameters every "%" of LIKE would have to be doubled.
        return as_dicts(self._connection.execute(question.replace("$today", str(int(today)))))

    def _fill(self, temporary: str, name: str, rows: Iterable[Row]) -> None:
        """A new temporary table with the columns of ``name``."""
        columns = ", ".join(
            f"{column} {kind}" + ("" if kind == INT else ' COLLATE "C"')
            for column, kind in TABLES[name].columns.items()
        )
        self._connection.execute(f"DROP TABLE IF EXISTS pg_temp.{temporary}")
        self._connection.execute(f"CREATE TEMP TABLE {temporary} ({columns})")
        with self._connection.cursor().copy(f"COPY pg_temp.{temporary} FROM STDIN") as copy:
            for row in rows:
                copy.write_row([_text(cell) for cell in row])


def _text(cell: Any) -> Any:
    """PostgreSQL keeps no zero character."""
    return cell.replace("\0", "\N{REPLACEMENT CHARACTER}") if isinstance(cell, str) else cell


@contextlib.contextmanager
def postgres_store(url: str, rules: Rules) -> Iterator[PostgresStore]:
    """The store at ``url`` (``postgresql://...``), brought to this program's version.

    Raises NoEngine, ValueError where it cannot be reached or is of a newer program, DatabaseGone.
    """
    try:
        import psycopg
    except ImportError as error:
        told = "psycopg is not installed; it comes with the extra 'database'"
        raise NoEngine(told) from error
    try:
        connection = psycopg.connect(
            url, connect_timeout=CONNECT_S, application_name="coach caseload", autocommit=True
        )
    except psycopg.Error as error:
        # The address may hold a password: only what the server says of it is shown.
        raise ValueError(f"--database: cannot be reached: {_line(error)}") from error
    try:
        with contextlib.closing(connection):
            migrate(connection)
            yield PostgresStore(connection, stamp_of(rules))
    except psycopg.OperationalError as error:
        told = "the database went away; what was loaded until then is kept: run it again"
        raise DatabaseGone(f"--database: {told} ({_line(error)})") from error
    except psycopg.Error as error:
        raise ValueError(f"--database: {_line(error)}") from error


def migrate(connection: "Connection[Row]") -> None:
    """Bring the tables to the newest version, step by step, in one transaction.

    Raises ValueError for a database of a newer program.
    """
    with connection.transaction():
        connection.execute("SELECT pg_advisory_xact_lock(%s)", (LOCK,))
        connection.execute(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}")
        connection.execute(f"SET search_path TO pg_temp, {SCHEMA}")
        connection.execute(
            f"CREATE TABLE IF NOT EXISTS {SCHEMA}.schema_version (version INTEGER NOT NULL)"
        )
        rows = connection.execute("SELECT max(version) FROM schema_version").fetchall()
        version = int(rows[0][0] or 0)
        if version > len(STEPS):
            raise ValueError(
                f"--database: found tables of version {version}; allowed: up to "
                f"{len(STEPS)} (is this program older than the one of another desk?)"
            )
        # New tables go into the schema, not among the temporary ones.
        connection.execute(f"SET LOCAL search_path TO {SCHEMA}")
        for number, name in enumerate(STEPS[version:], start=version + 1):
            for statement in migration(name):
                connection.execute(statement)
            connection.execute("INSERT INTO schema_version VALUES (%s)", (number,))


def migration(name: str) -> list[str]:
    """The statements of one step."""
    text = (files("coach.practice") / name).read_text(encoding="utf-8")
    return [part for part in text.split(";\n") if part.strip()]


def _line(error: Exception) -> str:
    return " ".join(str(error).split())[:300]
