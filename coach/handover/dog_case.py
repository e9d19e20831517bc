"""All that is known of one dog, read from its folder: sessions, diary, plan. Reads only.

A dog's own folder and a handover have the same layout (``journals/``, ``diary.jsonl``,
``plan.toml``), so the figures that are handed over and those recomputed from a handover come from
the same code. Nothing in here fails on a bad file: what cannot be read is told.
"""

import datetime
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coach.handover import outside
from coach.handover.kept import load_kept
from coach.journal.diary import DiaryReading, Told, read_diary
from coach.journal.diary_entries import AfterSession, Correction, answers_of
from coach.journal.journal import (
    JournalUnreadable,
    journal_files,
    read_journal,
    refused_repairs,
)
from coach.journal.session_order import copies, opening_of
from coach.plan.files import PlanFile
from coach.plan.problems import PlanProblems
from coach.record.corrected_session import apply
from coach.record.corrections import Effect
from coach.record.tally import SessionTally, TallyError, tally_of
from coach.record.verify import Verification, verify
from coach.session.went_wrong import KIND, NOT_SAID

JOURNALS = "journals"
PLAN = "plan.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signals:
    """What the owner saw on a spot (from 0, or None) and what came of it."""

    wall: str
    spot: int | None
    signals: tuple[str, ...]
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Accident:
    """What went wrong with the laser in use, on a spot (from 0, or None)."""

    wall: str
    spot: int | None
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One journal.

    Attributes:
        stem: name of its file without ``.jsonl``.
        sha256: of the whole file, hex.
        check: what verifying it showed.
        tally: as logged, or None when it cannot be tallied.
        corrected: after the corrections; None too when it was not this dog's.
        remarks: what a reader must know about it.
        helper: who held the laser, or "".
        signals: seen during the session.
        went_wrong: accidents with the laser in use.
        asked: what was new before it: (point, answer, outcome).
        answers: what was said after it, or None.
        corrections: the entries that point at it.
        effects: how many ns of a spot (from 0) these take away.
        positions: how the dog was to lie for each spot.
        why_not: why it does not count, or "".
    """

    stem: str
    sha256: str
    check: Verification
    tally: SessionTally | None
    corrected: SessionTally | None
    remarks: tuple[str, ...]
    helper: str = ""
    signals: tuple[Signals, ...] = ()
    asked: tuple[tuple[str, str, str], ...] = ()
    answers: AfterSession | None = None
    went_wrong: tuple[Accident, ...] = ()
    corrections: tuple[Told, ...] = ()
    effects: Mapping[int, Mapping[Effect, int]] = field(default_factory=dict)
    positions: tuple[str | None, ...] = ()
    why_not: str = ""

    @property
    def day(self) -> str:
        """The local day of its start, by the wall clock that it had; "" when unknown."""
        return "" if self.tally is None else self.tally.opened_wall[:10]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One dog. ``remarks`` are about files: damaged, unreadable, another dog's."""

    dog: str
    sessions: tuple[Session, ...]
    diary: DiaryReading
    plan: PlanFile | None
    remarks: tuple[str, ...]

    @property
    def counted(self) -> tuple[Session, ...]:
        """The sessions that count, by number."""
        return tuple(session for session in self.sessions if not session.why_not)


def read_case(folder: Path, *, today: datetime.date) -> Case:
    """Everything in ``folder``. ``today`` is the day for which the plan is read."""
    remarks: list[str] = []
    diary = read_diary(folder)
    remarks += [_local(remark, folder) for remark in diary.remarks]
    plan, told = _plan(folder / PLAN, today)
    remarks += told
    readings = [_Reading(path) for path in journal_files(folder / JOURNALS)]
    dog = _dog(plan, readings, diary)
    copied = copies(
        opening_of(reading.path.name, reading.lines[0]) for reading in readings if reading.lines
    )
    sessions = tuple(
        _session(reading, dog, diary, copied.get(reading.path.name, "")) for reading in readings
    )
    remarks += [
        f"{name}: repaired, but it does not count: {why}"
        for name, why in refused_repairs(folder / JOURNALS).items()
    ]
    about = [f"session {one.stem}: {text}" for one in sessions for text in one.remarks]
    # What concerns the doses comes first.
    remarks[:0] = about
    return Case(dog=dog, sessions=sessions, diary=diary, plan=plan, remarks=tuple(remarks))


@dataclass(slots=True)
class _Reading:
    """A journal file, as far as it can be read."""

    path: Path
    lines: Sequence[Mapping[str, Any]] = ()
    tally: SessionTally | None = None
    remarks: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        try:
            reading = read_journal(self.path)
        except JournalUnreadable as error:
            self.remarks.append(f"NOT READ: found {error.found}; allowed: {error.allowed}")
            return
        self.lines = reading.lines
        self.remarks += [_local(remark, self.path) for remark in reading.remarks]
        try:
            self.tally = tally_of(reading.lines)
        except TallyError as error:
            self.remarks.append(f"NOT TALLIED: {error}")


def _session(reading: _Reading, dog: str, diary: DiaryReading, original: str) -> Session:
    """``original`` is the name of the log of which this one is a copy, or ""."""
    stem, tally = reading.path.stem, reading.tally
    corrections = tuple(
        told
        for told in diary.told
        if isinstance(told.entry, Correction) and told.entry.session == stem
    )
    remarks = [text for text in reading.remarks if text]
    then = tally
    effects: Mapping[int, Mapping[Effect, int]] = {}
    why_not = "it cannot be read" if tally is None else _why_not(tally, dog)
    if tally is not None:
        if tally.repaired:
            remarks.append(f"REPAIRED {tally.repaired}; what was left out is not counted")
        remarks += tally.problems
        found = apply(tally, reading.lines, corrections)
        then, effects = found.tally, found.effects
        remarks += found.remarks
        if then is None and not why_not:
            why_not = "corrected: it was not this dog"
    if original:
        why_not = f"a copy of {original}"
        remarks.append(f"NOT COUNTED: the same session as {original}")
    spots = reading.lines[0]["data"].get("spots", ()) if tally is not None else ()
    answers = answers_of(diary.entries).get(stem)
    return Session(
        stem=stem,
        sha256=_digest(reading.path),
        check=verify(reading.path),
        tally=tally,
        corrected=then,
        remarks=tuple(remarks),
        helper=_helper(reading.lines),
        signals=tuple(_signals(reading.lines)),
        went_wrong=_accidents(reading.lines, answers),
        asked=tuple(_asked(reading.lines)),
        answers=answers,
        corrections=corrections,
        effects=effects,
        positions=tuple(spot.get("position") for spot in spots),
        why_not=why_not,
    )


def _why_not(tally: SessionTally, dog: str) -> str:
    if tally.dog != dog:
        return f"it is a session of {tally.dog}"
    if tally.rehearsal:
        return "a rehearsal, laser off"
    if tally.state == "not_begun":
        return "opened, but never begun"
    return ""


def _dog(plan: PlanFile | None, readings: Sequence[_Reading], diary: DiaryReading) -> str:
    if plan is not None:
        return plan.plan.dog.name
    named = [reading.tally.dog for reading in readings if reading.tally is not None]
    return (named[-1] if named else diary.dog) or "unknown dog"


def _plan(path: Path, today: datetime.date) -> tuple[PlanFile | None, list[str]]:
    if not path.exists():
        return None, []
    try:
        return load_kept(path, today=today), []
    except PlanProblems as problems:
        told = "; ".join(_local(str(problem), path) for problem in problems.problems)
        return None, [f"the plan is not used: {told}"]


def _helper(lines: Sequence[Mapping[str, Any]]) -> str:
    named = [str(line["data"].get("name") or "") for line in lines if line["kind"] == "helper"]
    return named[-1] if named else ""


def _signals(lines: Sequence[Mapping[str, Any]]) -> list[Signals]:
    """What was seen, once a pause: its last line holds all of it."""
    found: dict[tuple[int, object], Signals] = {}
    pauses = 0
    for line in lines:
        pauses += line["kind"] == "paused"
        if line["kind"] == "signals_seen":
            data = line["data"]
            seen, spot = data.get("signals"), data.get("spot")
            found[pauses, spot if isinstance(spot, int) else None] = Signals(
                wall=str(line["wall"]),
                spot=spot if isinstance(spot, int) else None,
                signals=tuple(map(str, seen)) if isinstance(seen, list) else (),
                outcome=str(data.get("outcome") or ""),
            )
    return [signals for signals in found.values() if signals.signals]


def _accidents(
    lines: Sequence[Mapping[str, Any]], answers: AfterSession | None
) -> tuple[Accident, ...]:
    """What went wrong with the laser in use, once each."""
    told = [line for line in lines if line["kind"] == KIND]
    said = [line for line in told if line["data"].get("what") not in ("", NOT_SAID)]
    found: dict[str, Accident] = {}
    for line in said or told[:1]:
        what, spot = str(line["data"].get("what") or NOT_SAID), line["data"].get("spot")
        found[what] = Accident(
            wall=str(line["wall"]), spot=spot if isinstance(spot, int) else None, what=what
        )
    if answers is not None and answers.went_wrong is not None:
        what, wall = answers.went_wrong, str(lines[-1]["wall"]) if lines else ""
        found.setdefault(what, Accident(wall=wall, spot=None, what=what))
    return tuple(found.values())


def _asked(lines: Sequence[Mapping[str, Any]]) -> list[tuple[str, str, str]]:
    """What was new before the session, each point with the last that came of it."""
    found: dict[str, tuple[str, str, str]] = {}
    for line in lines:
        if line["kind"] == "whats_new":
            point, answer, outcome = (
                str(line["data"].get(name) or "") for name in ("point", "answer", "outcome")
            )
            # "asked": the points it stands for follow.
            if answer == "no":
                # A yes that was taken back.
                found.pop(point, None)
            elif outcome != "asked":
                found[point] = (point, answer, outcome)
    return list(found.values())


def _digest(path: Path) -> str:
    try:
        return hashlib.sha256(outside.read_file(path)).hexdigest()
    except (OSError, outside.NotRead):
        # Told already as not read.
        return ""


def _local(text: str, path: Path) -> str:
    """``text`` without the folders of this machine: they mean nothing to the vet."""
    return (
        text.replace(f"{path}:", "", 1)
        .replace(f"{path.parent}/", "")
        .replace(f"{path}/", "")
        .strip()
    )
