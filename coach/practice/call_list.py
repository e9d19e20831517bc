"""Whom to call today: one row a dog, the gravest reason first, from all handovers in a folder."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

from coach.plan.formatting import counted
from coach.practice.calls import Calls, read_calls
from coach.practice.details import Detail, details_of
from coach.practice.duck import duck_of, duck_of_lake, is_lake
from coach.practice.identity import Known, dog_keys
from coach.practice.postgres import postgres_store
from coach.practice.rules import Rules
from coach.practice.spark import spark_of_lake
from coach.practice.store import Engine, Progress, SqliteStore, load, with_store

EngineName = Literal["sqlite", "duckdb"]
KNOWN = "SELECT DISTINCT device, dog, patient_number, chip, clinic FROM handovers"
VERSIONS = """
SELECT device, dog, made_at, min(handover) AS one, max(handover) AS other
FROM handovers
GROUP BY device, dog, made_at
HAVING count(DISTINCT digest) > 1
ORDER BY other, device, dog
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a dog stands where it stands.

    Attributes:
        rule: its key; ``words`` and ``weight`` are those of the practice.
        since, last: first and last day of what it counts.
        figure: what the rule counts.
        what: the owner's words, the signs, from what to what.
        new: it came with the newest handover.
    """

    rule: str
    words: str
    weight: int
    since: datetime.date
    last: datetime.date
    figure: int
    what: str
    new: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Dog:
    """One row. Days are None where not known; ``behind`` and ``extra`` hold as of today."""

    key: str
    dog: str
    device: str
    handover: str
    report: str
    made_at: str
    made: datetime.date
    plan: str
    plan_revision: int
    prescriber: str
    clinic: str
    owner: str
    phone: str
    handovers: int
    computers: int
    sessions: int
    last_session: datetime.date | None
    whole_course: int
    given: int
    planned: int
    behind: int
    extra: int
    next_due: datetime.date | None
    tolerance: int | None
    changed: tuple[str, ...]
    called: datetime.date | None
    called_by: str
    call_note: str
    call_again: datetime.date | None
    reasons: tuple[Reason, ...]

    @property
    def why(self) -> Reason | None:
        """The gravest reason."""
        return self.reasons[0] if self.reasons else None


@dataclass(frozen=True, slots=True, kw_only=True)
class CallList:
    """The dogs in order, how many handovers were read, and what is to be told.

    ``details`` by the key of a dog, where they were asked for.
    """

    today: datetime.date
    dogs: tuple[Dog, ...]
    handovers: int
    remarks: tuple[str, ...]
    details: Mapping[str, Detail] = field(default_factory=dict)


@lru_cache(maxsize=1)
def question() -> str:
    """The SQL."""
    return (files("coach.practice") / "call_today.sql").read_text(encoding="utf-8")


def call_list(
    folder: Path,
    today: datetime.date,
    rules: Rules,
    *,
    engine: EngineName = "sqlite",
    details: bool = False,
    progress: Progress = lambda done, of: None,
) -> CallList:
    """Whom to call on ``today`` by the handovers and calls in ``folder``.

    The folder may be a lake too (DuckDB, Spark). What cannot be read is told and left out. Raises
    OSError where the folder cannot be read, NoEngine, and ValueError for a broken lake.
    """
    remarks: list[str] = []
    if is_lake(folder):
        if engine != "duckdb":
            allowed = "--engine duckdb, or --cluster"
            raise ValueError(f"{folder}: found Parquet files; allowed: {allowed}")
        return answered(duck_of_lake(folder), folder, today, rules, remarks, details=details)

    def work(store: SqliteStore) -> CallList:
        told = load(store, folder, rules, progress=progress)
        asked = duck_of(store) if engine == "duckdb" else store
        return answered(asked, folder, today, rules, [*remarks, *told], details=details)

    return with_store(folder, rules, remarks, work)


def call_list_on_database(
    folder: Path,
    today: datetime.date,
    rules: Rules,
    *,
    url: str,
    details: bool = False,
    progress: Progress = lambda done, of: None,
) -> CallList:
    """The same on a PostgreSQL, where other desks load and ask too.

    Raises OSError, NoEngine, ValueError, and DatabaseGone when it goes away in the middle.
    """
    with postgres_store(url, rules) as store:
        told = load(store, folder, rules, progress=progress)
        return answered(store, folder, today, rules, told, details=details)


def call_list_on_cluster(
    lake: Path, today: datetime.date, rules: Rules, *, master: str, details: bool = False
) -> CallList:
    """The same on a Spark cluster, over a lake. Raises NoEngine, ValueError."""
    if not is_lake(lake):
        allowed = "one that coach caseload --parquet wrote"
        raise ValueError(f"{lake}: found no folder of Parquet files; allowed: {allowed}")
    with spark_of_lake(lake, master) as engine:
        return answered(engine, lake, today, rules, (), details=details)


def answered(
    engine: Engine,
    folder: Path,
    today: datetime.date,
    rules: Rules,
    told: Sequence[str],
    *,
    details: bool = False,
) -> CallList:
    """The question, asked of ``engine``, with the calls in ``folder``."""
    calls = read_calls(folder)
    own, about_dogs = tables_of_question(engine, calls, rules)
    versions = [
        f"{dog}: two versions of the handover made at {made}: {one} and {other}; {other} is used"
        for _device, dog, made, one, other in engine.select(VERSIONS)
    ]
    handovers = int(engine.select("SELECT count(*) FROM handovers")[0][0])
    rows = engine.ask(question(), own, today.toordinal())
    return CallList(
        today=today,
        dogs=tuple(dogs_of(rows, rules)),
        handovers=handovers,
        remarks=(*told, *calls.remarks, *about_dogs, *versions),
        details=details_of(engine, today.toordinal()) if details else {},
    )


def tables_of_question(
    engine: Engine, calls: Calls, rules: Rules
) -> tuple[dict[str, Sequence[tuple[Any, ...]]], list[str]]:
    """The tables that are made for one question, and what is to be told about the dogs."""
    keys, remarks = dog_keys((Known(*row) for row in engine.select(KNOWN)), rules.same_dogs)
    return {
        "dogs": [(device, dog, key) for (device, dog), key in keys.items()],
        "calls": calls.rows(keys, rules),
        "rules": rules.rows(),
    }, remarks


def dogs_of(rows: Sequence[Mapping[str, Any]], rules: Rules) -> list[Dog]:
    """The dogs in the order of the answer, each with its reasons."""
    grouped: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows:
        grouped.setdefault(row["dog_key"], []).append(row)
    return [_dog(one, rules) for one in grouped.values()]


def _dog(rows: Sequence[Mapping[str, Any]], rules: Rules) -> Dog:
    row = rows[0]
    reasons = tuple(_reason(one, rules) for one in rows if one["rule"])
    return Dog(
        key=row["dog_key"],
        dog=row["dog"],
        device=row["device"],
        handover=row["handover"],
        report=row["report"],
        made_at=row["made_at"],
        made=datetime.date.fromordinal(row["made_day"]),
        plan=row["plan"],
        plan_revision=row["plan_revision"],
        prescriber=row["prescriber"],
        clinic=row["clinic"],
        owner=row["owner"],
        phone=row["phone"],
        handovers=row["handovers"],
        computers=row["computers"],
        sessions=row["sessions"],
        last_session=_day(row["last_session"]),
        whole_course=row["course"],
        given=row["given"],
        planned=row["planned"],
        behind=row["behind"],
        extra=row["extra"],
        next_due=_day(row["next_day"]),
        tolerance=row["tolerance"],
        changed=_changed(row),
        called=_day(row["call_day"]),
        called_by=row["called_by"],
        call_note=row["call_note"],
        call_again=_day(row["call_again_day"]),
        reasons=reasons,
    )


def _reason(row: Mapping[str, Any], rules: Rules) -> Reason:
    return Reason(
        rule=row["rule"],
        words=rules.rules[row["rule"]].words,
        weight=row["weight"],
        since=datetime.date.fromordinal(row["since_day"] or row["last_day"]),
        last=datetime.date.fromordinal(row["last_day"]),
        figure=row["figure"],
        what=row["what"],
        new=bool(row["before_day"]) and row["last_day"] > row["before_day"],
    )


def _changed(row: Mapping[str, Any]) -> tuple[str, ...]:
    """What is new since the handover before the newest one."""
    if not row["before_day"]:
        return ()
    more = counted(row["new_sessions"], "more session")
    told = [f"{more} since {_day(row['before_day'])}"]
    if row["before_revision"] != row["plan_revision"]:
        told.append(f"plan revision {row['before_revision']} to {row['plan_revision']}")
    now, before = row["tolerance"], row["tolerance_before"]
    if now is not None and before is not None and now != before:
        told.append(f"tolerance {before} to {now}")
    return tuple(told)


def _day(number: int) -> datetime.date | None:
    return datetime.date.fromordinal(number) if number else None
