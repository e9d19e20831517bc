"""One handover, as rows of the tables: what the call list needs and nothing else.

Read are ``summary.json``, ``sessions.csv``, the patient, recheck and calendar of ``plan.toml``,
and the list of files, against which these are held. Handovers of every version are read; what an
older one does not say is left out. A broken table still gives its whole rows: a dog is never
left off the list because the end of a file is missing.
"""

import csv
import datetime
import hashlib
import io
import json
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from coach.handover.folder import MANIFEST, REPORT, SESSIONS, SUMMARY
from coach.handover.outside import json_of
from coach.practice.doses import doses_of
from coach.practice.rules import first_word
from coach.practice.tables import LARGEST_INT, TABLES
from coach.session.signals import BY_ID

PLAN = "plan.toml"
FILES = (SUMMARY, SESSIONS, PLAN, MANIFEST)
# No handover is older than the program.
FIRST_YEAR = 2020
# Outcomes of a question before a session after which there was none.
REFUSALS = frozenset({"stop", "vet_not_asked"})
UNREADABLE = (ValueError, KeyError, TypeError, AttributeError, RecursionError, OverflowError)
# Columns of sessions.csv without which a session says nothing.
ASKED = ("session", "opened", "counts", "state", "reason", "skin", "signals", "journal")

TOLERANCES = frozenset(map(str, range(11)))

Row = tuple[Any, ...]


@dataclass(slots=True, kw_only=True)
class Reading:
    """The rows of one handover by table, and what is to be told about it."""

    device: str = ""
    dog: str = ""
    made_at: str = ""
    rows: dict[str, list[Row]] = field(default_factory=dict)
    remarks: list[str] = field(default_factory=list)

    def add(self, table: str, **cells: Any) -> None:
        """A row; a cell that is not said is empty, or nought."""
        columns = TABLES[table].columns
        default = {name: "" if kind == "TEXT" else 0 for name, kind in columns.items()}
        row = {**default, "device": self.device, "dog": self.dog, **cells}
        for name in ("made_at", "first_made"):
            if name in columns:
                row[name] = self.made_at
        self.rows.setdefault(table, []).append(tuple(row[name] for name in columns))


@lru_cache(maxsize=65536)
def ordinal(text: str) -> int:
    """``2026-11-25`` (or a time of that day) as a whole number; 0 for anything else."""
    try:
        return datetime.date.fromisoformat(text[:10]).toordinal()
    except ValueError:
        return 0


def read_handover(
    files: Mapping[str, bytes],
    *,
    name: str,
    came: datetime.datetime,
    first_words: Sequence[str],
    spots: Callable[[], bytes | None] = lambda: None,
) -> Reading:
    """The rows of the handover ``name`` whose ``files`` are given by name.

    ``came`` is when its file was written here: a device whose clock was wrong says 1970. ``spots``
    is asked for the table of spots of a handover without names only. Raises
    ValueError, KeyError and their like (:data:`UNREADABLE`) where it cannot be told which dog it
    is.
    """
    summary = json_of(files[SUMMARY])
    plan = _plan(files.get(PLAN))
    made = summary["made"]
    told = str(made["at"])
    found = Reading(
        device=str(summary["record"]["public_key"] or ""), dog=str(summary["dog"]["name"])
    )
    moment = _made(told, came, found)
    found.made_at = moment.astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    made_day = moment.date().toordinal()
    course = summary.get("course") or {}
    dues = _dues(course, plan, found, told)
    broken = _changed(files)
    sessions = list(_sessions(files, summary, made_day, first_words, broken, found))
    for cells in sessions:
        found.add("sessions", handover=name, **cells)
    _incidents(summary, sessions, made_day, name, found)
    for number, score in enumerate(summary.get("scores") or []):
        if score.get("score_0_10") is not None:
            at = f"{score['at']} {number}"
            day = ordinal(str(score["at"])) or made_day
            value = _int(score["score_0_10"])
            found.add("scores", handover=name, said_at=at, day=day, score=value)
    if not made.get("names", True) and (table := spots()) is not None:
        days = {one["session"]: one["day"] for one in sessions if one["begun"]}
        for session, region, prescribed_mj, given_mj in doses_of(table, summary, list(days)):
            found.add(
                "doses",
                handover=name,
                session=session,
                region=region,
                day=days[session],
                prescribed_mj=_int(prescribed_mj),
                given_mj=_int(given_mj),
            )
    _head(found, summary, plan, name, made_day, files, dues, broken)
    found.remarks += broken
    return found


def _made(text: str, came: datetime.datetime, found: Reading) -> datetime.datetime:
    """When it was made; when it came, where the clock of the device cannot have been right."""
    try:
        moment = datetime.datetime.fromisoformat(text)
    except ValueError:
        moment = datetime.datetime.min.replace(tzinfo=datetime.UTC)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=datetime.UTC)
    if moment.year < FIRST_YEAR or moment > came + datetime.timedelta(days=2):
        told = f"its clock said {text[:10]}; taken as of the day its file has here"
        found.remarks.append(f"{told}, {came.date()}")
        return came
    return moment


def _plan(raw: bytes | None) -> Mapping[str, Any]:
    """The tables of the plan; nothing where there is none or it cannot be read."""
    if raw is None:
        return {}
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return {}


def _part(whole: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = whole.get(name)
    return found if isinstance(found, Mapping) else {}


def _head(
    found: Reading,
    summary: Mapping[str, Any],
    plan: Mapping[str, Any],
    name: str,
    made_day: int,
    files: Mapping[str, bytes],
    dues: list[tuple[int, int, int, str]],
    broken: list[str],
) -> None:
    course = summary.get("course") or {}
    now = summary["plan_now"] or (summary["plans"] or [{"id": "", "revision": 0}])[-1]
    patient = {**_part(summary, "patient"), **_part(plan, "patient")}
    recheck = {**_part(summary, "recheck"), **_part(plan, "recheck")}
    planned = [day for _, day, _, _ in dues]
    found.add(
        "handovers",
        handover=name,
        made_day=made_day,
        digest=hashlib.sha256(files[SUMMARY]).hexdigest(),
        plan=str(now["id"]),
        plan_revision=_int(now["revision"]),
        prescriber=str(now.get("prescriber") or ""),
        clinic=str(now.get("clinic") or ""),
        owner=str(patient.get("owner_name") or ""),
        phone=str(patient.get("owner_phone") or ""),
        patient_number=str(patient.get("number") or "").strip(),
        chip="".join(str(patient.get("chip") or "").split()),
        names=int(bool(summary["made"].get("names", True))),
        valid_until=ordinal(str(now.get("valid_until") or "")),
        start_day=ordinal(str(course.get("start") or "")) if dues else 0,
        course=_int(course.get("whole_course") or 0),
        planned=_int(course.get("planned") or 0),
        given=_int(course.get("given") or 0),
        too_little=_int(course.get("too_little") or 0),
        missed_rule=str(_part(plan, "calendar").get("missed") or "ask"),
        recheck_day=ordinal(str(recheck.get("on") or "")),
        recheck_after=_int(recheck.get("after_sessions") or 0),
        most_a_day=max((planned.count(day) for day in set(planned)), default=0),
        broken="; ".join(broken),
        report=REPORT,
        for_page=json.dumps(
            {
                "spots": summary.get("spots") or [],
                "made": str(summary["made"]["at"]),
            },
            ensure_ascii=False,
        ),
    )
    for number, due in enumerate(dues):
        found.add("dues", number=number, planned_day=due[1], until_day=due[2], state=due[3])
    for number, rule in enumerate(recheck.get("stop") or []):
        found.add(
            "stop_rules",
            number=number,
            sign=str(rule["sign"]),
            times=_int(rule.get("times") or 1),
            within_days=_int(rule.get("within_days") or 0),
        )


def _dues(
    course: Mapping[str, Any], plan: Mapping[str, Any], found: Reading, made: str
) -> list[tuple[int, int, int, str]]:
    """Number, planned day, last day on which it still counts, state: of every due session.

    A course that nobody has begun and that has no date is only shown from the day of the
    handover: nothing is due.
    """
    from coach.plan.calendar import windows_of

    dues = course.get("dues") or []
    if not course.get("given") and str(course.get("start")) == made[:10]:
        return []
    rules = _part(plan, "calendar")
    days = [datetime.date.fromisoformat(due["planned_on"]) for due in dues]
    hours, window = rules.get("window_hours"), rules.get("window_days")
    try:
        windows = windows_of(days, window_days=window, window_hours=hours)
    except TypeError:
        found.remarks.append(f"{PLAN}: calendar: found a window that is no number; not used")
        windows = windows_of(days, window_days=None, window_hours=None)
    return [
        (_int(due["number"]), day.toordinal(), last.toordinal(), str(due["state"]))
        for due, day, (_, last) in zip(dues, days, windows, strict=True)
    ]


def _changed(files: Mapping[str, bytes]) -> list[str]:
    """What does not agree with the list of files: half copied, or changed."""
    raw = files.get(MANIFEST)
    if raw is None:
        return []
    try:
        listed = json_of(raw)["files"]
        expected = {name: (listed[name]["bytes"], listed[name]["sha256"]) for name in listed}
    except UNREADABLE:
        return [f"{MANIFEST}: found something else; allowed: the list of a handover's files"]
    told = []
    for name in (SUMMARY, SESSIONS, PLAN):
        if name not in expected:
            continue
        if name not in files:
            told.append(f"{name}: missing, but in the list of files: copied in part?")
        elif len(files[name]) != expected[name][0]:
            size = f"{len(files[name])} bytes, {expected[name][0]} in the list of files"
            told.append(f"{name}: {size}: copied in part, or changed")
        elif hashlib.sha256(files[name]).hexdigest() != expected[name][1]:
            told.append(f"{name}: changed since the list of files was made")
    return told


def _sessions(
    files: Mapping[str, bytes],
    summary: Mapping[str, Any],
    made_day: int,
    first_words: Sequence[str],
    broken: list[str],
    found: Reading,
) -> Iterator[dict[str, Any]]:
    rows = list(_table(files, broken))
    # A day that no clock could tell lies before the next one that is known: the latest it can be.
    latest = made_day
    days: list[tuple[int, int]] = []
    for row in reversed(rows):
        day = ordinal(row("opened"))
        known = row("clock") != "unknown" and day >= datetime.date(FIRST_YEAR, 1, 1).toordinal()
        if known:
            latest = min(day, made_day)
        days.append((latest, int(known)) if row("opened") else (made_day, 1))
    for row, (day, is_known) in zip(rows, reversed(days), strict=True):
        seen = row("signals").split()
        words = row("words")
        tolerance = row("tolerance_0_10")
        yield {
            "session": row("session"),
            "day": day,
            "day_known": is_known,
            "opened": row("opened"),
            "counts": int(row("counts") == "yes"),
            "begun": int(_begun(row)),
            "plan": row("plan"),
            "state": row("state"),
            "reason": row("reason"),
            "skin": row("skin"),
            "tolerance": int(tolerance) if tolerance in TOLERANCES else None,
            "stop_signs": " ".join(sign for sign in seen if _stops(sign)),
            "early_signs": " ".join(sign for sign in seen if not _stops(sign)),
            "words": words,
            "alarming": int(first_word(words, first_words)),
            "overruled": row("overruled"),
            "journal": row("journal"),
            "signature": row("signature"),
        }


def _begun(row: Callable[[str], str]) -> bool:
    """Whether light was given that counts; an older table may not say how much."""
    light = row("counted_s") not in ("0", "0.0")
    return light and row("counts") == "yes" and row("state") not in ("", "not_begun")


def _stops(sign: str) -> bool:
    return sign in BY_ID and BY_ID[sign].stops


def _table(files: Mapping[str, bytes], broken: list[str]) -> Iterator[Callable[[str], str]]:
    """A look-up of cells by column for each whole row."""
    raw = files.get(SESSIONS)
    if raw is None:
        raise ValueError(f"{SESSIONS}: missing")
    rows = csv.reader(io.StringIO(raw.decode("utf-8", errors="replace"), newline=""))
    heading = next(rows, [])
    missing = [name for name in ASKED if name not in heading]
    if missing:
        raise ValueError(f"{SESSIONS} lacks {', '.join(missing)}")
    places = {name: place for place, name in enumerate(heading)}

    def cells(row: list[str]) -> Callable[[str], str]:
        return lambda name: row[places[name]] if name in places else ""

    try:
        for row in rows:
            if len(row) < len(heading):
                broken.append(f"{SESSIONS}:{rows.line_num}: found a row that lacks cells")
                continue
            yield cells(row)
    except csv.Error as error:
        raise ValueError(f"{SESSIONS}:{rows.line_num}: found no table: {error}") from error


def _incidents(
    summary: Mapping[str, Any],
    sessions: Sequence[Mapping[str, Any]],
    made_day: int,
    name: str,
    found: Reading,
) -> None:
    """What went wrong, and what was refused at the questions."""
    days = {one["session"]: one["day"] for one in sessions}
    told: dict[str, tuple[str, int, str]] = {}
    every = [(str(one["session"]), one) for one in summary.get("asked") or []]
    every = [(session, one) for session, one in every if one.get("outcome") in REFUSALS]
    # Of a session that ended at its questions: those at which it did.
    for one in summary.get("sessions") or []:
        every += [(str(one["session"]), asked) for asked in one.get("refused") or []]
    for session, asked in every:
        point = str(asked["point"])
        day = ordinal(str(asked.get("at") or "")) or days.get(session) or made_day
        what = f"{point.replace('_', ' ')}: {str(asked['outcome']).replace('_', ' ')}"
        told[f"refused {session} {point}"] = ("refused", day, what)
    for number, wrong in enumerate(summary.get("went_wrong") or []):
        session = str(wrong.get("session") or number)
        day = ordinal(str(wrong.get("at") or "")) or days.get(session) or made_day
        what = str(wrong.get("what") or wrong.get("kind") or "").replace("_", " ")
        words = " ".join(str(wrong.get("words") or wrong.get("text") or "").split())
        key = f"went_wrong {session} {wrong.get('at') or number}"
        told[key] = ("went_wrong", day, ": ".join(filter(None, (what, words))))
    for key, (kind, day, what) in told.items():
        found.add("incidents", handover=name, incident=key, kind=kind, day=day, what=what)


def _int(value: Any) -> int:
    """A whole number that every engine can keep. Raises ValueError, TypeError, OverflowError."""
    number = int(value)
    if abs(number) > LARGEST_INT:
        raise ValueError(f"found a number of {len(str(abs(number)))} digits")
    return number
