"""What the journals of a dog say of earlier sessions, for the question whether one may start."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.record.journal import JournalUnreadable, journal_files, number_of, read_journal
from coach.record.tally import TallyError, tally_of
from coach.session.guard import Past
from coach.unfinished import moment_of

LIGHT = frozenset({"heartbeat", "hold_ended"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """The sessions in which something was given, by number; ``remarks`` on files that are odd."""

    past: tuple[Past, ...]
    remarks: tuple[str, ...]


def earlier_sessions(folder: Path, dog: str) -> Earlier:
    """Read all journals of ``folder``; those of another dog are told and not counted."""
    past: list[Past] = []
    remarks: list[str] = []
    for path in journal_files(folder):
        try:
            reading = read_journal(path)
            tally = tally_of(reading.lines)
        except JournalUnreadable as error:
            remarks.append(str(error))
            if not error.nothing_begun:
                past.append(_unknown(path))
            continue
        except TallyError as error:
            remarks.append(f"{path}: {error}")
            past.append(_unknown(path))
            continue
        if tally.dog != dog:
            remarks.append(f"{path}: a session of {tally.dog}, not of {dog}; not counted")
            continue
        if reading.damage is not None:
            remarks.append(f"{path}: damaged: {reading.damage}")
        elif tally.rehearsal or tally.total().given_ns == 0:
            continue
        light: Mapping[str, Any] | None = None
        if reading.damage is None:
            # Not the last line: that may have been written long after, to close what was cut off.
            light = next(line for line in reversed(reading.lines) if line["kind"] in LIGHT)
        past.append(
            Past(
                number=number_of(path),
                plan_id=tally.plan_id,
                plan_revision=tally.plan_revision,
                plan_digest=tally.plan_digest,
                ended=None if light is None else moment_of(light),
            )
        )
    return Earlier(past=tuple(past), remarks=tuple(remarks))


def _unknown(path: Path) -> Past:
    return Past(number=number_of(path), plan_id="", plan_revision=0, plan_digest="", ended=None)
