"""What the handovers in a folder say, kept in tables: only what is new or changed is read again.

The embedded store is an SQLite file in the cache folder, derived from the handovers: it may be
deleted at any time, and is made anew when it is damaged or of another version. A server store
(``postgres.py``) has the same tables and the same way of merging.
"""

import contextlib
import hashlib
import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol, TypeVar

from coach import paths
from coach.handover.outside import NotRead
from coach.practice.files import Place, bytes_of, places_in, spots_of
from coach.practice.reading import UNREADABLE, Reading, Row, read_handover
from coach.practice.rules import Rules
from coach.practice.tables import MERGED, OF_HANDOVERS, OF_NEWEST, TABLES, ddl

# Raise it with every change of tables.py or reading.py: the store is then made anew.
VERSION = 3
BATCH = 500

T = TypeVar("T")
Dog = tuple[str, str]
Progress = Callable[[int, int], None]


class Engine(Protocol):
    """Something that holds the tables and answers questions in SQL."""

    def select(self, sql: str) -> list[Row]:
        """The rows of a question without parameters."""

    def ask(
        self, question: str, tables: Mapping[str, Iterable[Row]], today: int
    ) -> list[dict[str, Any]]:
        """The rows of ``question`` for that day; ``tables`` are those made for it alone."""


class Store(Engine, Protocol):
    """An engine that handovers are merged into."""

    # Whether rows of handovers that are no longer in the folder are taken out.
    mirrors: bool

    def files(self) -> dict[str, tuple[str, str, Dog]]:
        """Of each handover that was read: its state then, what was told, whose it is."""

    def newest(self) -> dict[Dog, str]:
        """When the newest handover of each dog was made."""

    def put(self, batch: "Batch") -> None:
        """Merge a batch, whole or not at all."""

    def forget(self, handovers: Sequence[str], dogs: Sequence[Dog]) -> None:
        """Take out handovers, and all rows of dogs that are read anew."""


class Batch:
    """Rows of several handovers, merged: one row a key, as the newest handover tells it."""

    def __init__(self, newest: dict[Dog, str]) -> None:
        self.rows: dict[str, dict[Row, Row]] = {name: {} for name in OF_HANDOVERS}
        self.files: list[tuple[str, str, str, str, str]] = []
        self.replaced: set[Dog] = set()
        self._newest = newest

    def newest_of(self, dog: Dog) -> str:
        """When the newest handover of ``dog`` was made, as far as is known here."""
        return self._newest.get(dog, "")

    def add(self, place: Place, reading: Reading, remark: str) -> None:
        """One handover."""
        dog = (reading.device, reading.dog)
        self.files.append((place.name, place.state, remark, *dog))
        is_newest = reading.made_at >= self._newest.get(dog, "")
        if is_newest and reading.made_at:
            self._newest[dog] = reading.made_at
            self.replaced.add(dog)
            for name in OF_NEWEST:
                own = self.rows[name]
                for key in [key for key in own if key[:2] == dog]:
                    del own[key]
        for name, rows in reading.rows.items():
            if name in OF_NEWEST and not is_newest:
                continue
            table = self.rows[name]
            places = [TABLES[name].names.index(column) for column in TABLES[name].key]
            for row in rows:
                key = tuple(row[place] for place in places)
                table[key] = _later(name, table.get(key), row) if name in MERGED else row


def _later(name: str, before: Row | None, row: Row) -> Row:
    """Of two rows of the same thing the one told later, with the moment it was first told."""
    if before is None:
        return row
    names = TABLES[name].names
    made, first = names.index("made_at"), names.index("first_made")
    kept = list(row if row[made] >= before[made] else before)
    kept[first] = min(row[first], before[first])
    return tuple(kept)


def load(
    store: Store,
    folder: Path,
    rules: Rules,
    *,
    progress: Progress = lambda done, of: None,
) -> list[str]:
    """Bring ``store`` up to date with the handovers in ``folder``; gives what is to be told.

    Raises OSError where the folder cannot be read.
    """
    remarks: list[str] = []
    places = list(places_in(folder, remarks))
    known = store.files()
    present = {place.name for place in places}
    changed = {place.name for place in places if known.get(place.name, ("",))[0] != place.state}
    gone = [name for name in known if name not in present] if store.mirrors else []
    anew = {known[name][2] for name in (*gone, *changed) if name in known}
    anew.discard(("", ""))
    if gone or anew:
        # What a handover said of a dog may have been merged with others: these are read again.
        changed |= {name for name in present if name in known and known[name][2] in anew}
        store.forget([*gone, *(name for name in changed if name in known)], sorted(anew))
    newest = store.newest()
    todo = [place for place in places if place.name in changed]
    for start in range(0, len(todo), BATCH):
        batch = Batch(newest)
        for place in todo[start : start + BATCH]:
            reading, remark = _read(place, rules)
            batch.add(place, reading, remark)
        store.put(batch)
        progress(min(start + BATCH, len(todo)), len(todo))
    paths_of = {place.name: place.path for place in places}
    for name, (_state, remark, _dog) in sorted(store.files().items()):
        if remark and name in paths_of:
            remarks += [f"{paths_of[name]}: {line}" for line in remark.splitlines()]
    return remarks


def _read(place: Place, rules: Rules) -> tuple[Reading, str]:
    try:
        found = bytes_of(place)
        reading = read_handover(
            found,
            name=place.name,
            came=place.came,
            first_words=rules.first_words,
            spots=lambda: spots_of(place),
        )
    except OSError as error:
        return Reading(), f"left out: {error.strerror or error}"
    except UNREADABLE as error:
        is_told = type(error) in (ValueError, NotRead)
        told = str(error) if is_told else f"no handover ({error!r})"[:200]
        return Reading(), f"left out: {told}"
    return reading, "\n".join(reading.remarks)


class SqliteStore:
    """The embedded store."""

    mirrors = True

    def __init__(self, engine: sqlite3.Connection) -> None:
        self.engine = engine

    def files(self) -> dict[str, tuple[str, str, Dog]]:
        """See :class:`Store`."""
        rows = self.engine.execute("SELECT handover, state, remark, device, dog FROM files")
        return {name: (state, remark, (device, dog)) for name, state, remark, device, dog in rows}

    def newest(self) -> dict[Dog, str]:
        """See :class:`Store`."""
        sql = "SELECT device, dog, max(made_at) FROM handovers GROUP BY device, dog"
        return {(device, dog): made for device, dog, made in self.engine.execute(sql)}

    def put(self, batch: Batch) -> None:
        """See :class:`Store`."""
        with self.engine:
            for name in OF_NEWEST:
                self.engine.executemany(
                    f"DELETE FROM {name} WHERE device = ? AND dog = ?",  # noqa: S608
                    sorted(batch.replaced),
                )
            for name, rows in batch.rows.items():
                marks = ", ".join("?" * len(TABLES[name].names))
                self.engine.executemany(upsert(name, f"VALUES ({marks})"), rows.values())
            self.engine.executemany("REPLACE INTO files VALUES (?, ?, ?, ?, ?)", batch.files)

    def forget(self, handovers: Sequence[str], dogs: Sequence[Dog]) -> None:
        """See :class:`Store`."""
        with self.engine:
            for name in OF_HANDOVERS:
                sql = f"DELETE FROM {name} WHERE device = ? AND dog = ?"  # noqa: S608
                self.engine.executemany(sql, dogs)
            self.engine.executemany(
                "DELETE FROM files WHERE handover = ?", [(one,) for one in handovers]
            )

    def select(self, sql: str) -> list[Row]:
        """See :class:`Engine`."""
        return self.engine.execute(sql).fetchall()

    def ask(
        self, question: str, tables: Mapping[str, Iterable[Row]], today: int
    ) -> list[dict[str, Any]]:
        """See :class:`Engine`."""
        for name, rows in tables.items():
            self.engine.execute(f"DROP TABLE IF EXISTS temp.{name}")
            self.engine.execute(ddl(name).replace("CREATE TABLE", "CREATE TEMP TABLE"))
            marks = ", ".join("?" * len(TABLES[name].names))
            self.engine.executemany(f"INSERT INTO {name} VALUES ({marks})", rows)  # noqa: S608
        return as_dicts(self.engine.execute(question, {"today": today}))


def upsert(name: str, source: str) -> str:
    """INSERT that keeps of two rows of a key the one told later, as SQLite and PostgreSQL take it.

    ``source`` is VALUES or SELECT.
    """
    table = TABLES[name]
    others = [column for column in table.names if column not in table.key]
    if name in MERGED:
        told = f"excluded.made_at >= {name}.made_at"
        changes = [
            f"{column} = CASE WHEN {told} THEN excluded.{column} ELSE {name}.{column} END"
            for column in others
            if column != "first_made"
        ]
        first = f"excluded.first_made < {name}.first_made"
        changes.append(
            f"first_made = CASE WHEN {first} THEN excluded.first_made ELSE {name}.first_made END"
        )
    else:
        changes = [f"{column} = excluded.{column}" for column in others]
    return (
        f"INSERT INTO {name} ({', '.join(table.names)}) {source} "
        f"ON CONFLICT ({', '.join(table.key)}) DO UPDATE SET {', '.join(changes)}"
    )


def stamp_of(rules: Rules) -> str:
    """By what a store is known to have been made as this program makes it."""
    words = "\n".join(rules.first_words).encode()
    return f"{VERSION} {hashlib.sha256(words).hexdigest()[:16]}"


def with_store(
    folder: Path, rules: Rules, remarks: list[str], work: Callable[[SqliteStore], T]
) -> T:
    """What ``work`` makes of the store of ``folder``, which is kept in the cache.

    In memory where the cache cannot be written; made anew, and ``work`` done again, where the kept
    one turns out to be damaged.
    """
    name = hashlib.sha256(str(folder.resolve()).encode()).hexdigest()[:24]
    path = paths.cache_folder() / "practice" / f"{name}.sqlite"
    stamp = stamp_of(rules)
    for _try in range(2):
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            engine = _opened(path, stamp)
        except (OSError, sqlite3.OperationalError) as error:
            told = f"{path}: cannot be kept ({error}); everything is read anew each time"
            remarks.append(told)
            break
        try:
            with contextlib.closing(engine):
                return work(SqliteStore(engine))
        except sqlite3.OperationalError:
            raise
        except sqlite3.DatabaseError:
            _remove(path)
    with contextlib.closing(_made(":memory:", stamp)) as engine:
        return work(SqliteStore(engine))


def _opened(path: Path, stamp: str) -> sqlite3.Connection:
    """The store in ``path`` as this program makes it; made anew where it is not."""
    if path.exists():
        engine = sqlite3.connect(path, timeout=60)
        try:
            kept = engine.execute("SELECT stamp FROM made_by").fetchall()
        except sqlite3.DatabaseError as error:
            kept = []
            if "locked" in str(error):
                engine.close()
                raise
        if kept == [(stamp,)]:
            return engine
        engine.close()
        _remove(path)
    path.touch(mode=0o600)
    return _made(str(path), stamp)


def _remove(path: Path) -> None:
    path.unlink(missing_ok=True)
    path.with_name(f"{path.name}-journal").unlink(missing_ok=True)


def _made(where: str, stamp: str) -> sqlite3.Connection:
    engine = sqlite3.connect(where, timeout=60)
    with engine:
        for name in OF_HANDOVERS:
            engine.execute(ddl(name))
        engine.execute(
            "CREATE TABLE files (handover TEXT PRIMARY KEY, state TEXT, remark TEXT, "
            "device TEXT, dog TEXT)"
        )
        engine.execute("CREATE TABLE made_by (stamp TEXT)")
        engine.execute("INSERT INTO made_by VALUES (?)", (stamp,))
        engine.execute("CREATE INDEX handovers_dog ON handovers (device, dog)")
    return engine


def as_dicts(cursor: Any) -> list[dict[str, Any]]:
    """The rows of a cursor by column."""
    titles = [column[0] for column in cursor.description]
    return [dict(zip(titles, row, strict=True)) for row in cursor.fetchall()]
