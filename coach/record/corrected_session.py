"""A session from its journal, with what the diary beside it corrects. Reads only."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from coach.journal.diary import Told, diary_files, read_diary
from coach.journal.diary_entries import Correction
from coach.journal.journal import read_journal
from coach.record.corrections import Corrected, corrected, lines_at
from coach.record.tally import SessionTally, tally_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Amended:
    """A session as logged and as it was.

    ``corrected`` is None when it was not this dog's; it is ``logged`` itself where nothing was
    corrected. ``corrections`` are the entries with their places, ``remarks`` on the files.
    """

    logged: SessionTally
    corrected: SessionTally | None
    corrections: tuple[Told, ...]
    remarks: tuple[str, ...]


def read_amended(path: Path) -> Amended:
    """The session of the journal ``path``. Raises JournalUnreadable, TallyError."""
    reading = read_journal(path)
    logged = tally_of(reading.lines)
    told = corrections_of(path)
    then = apply(logged, reading.lines, told)
    return Amended(
        logged=logged,
        corrected=then.tally,
        corrections=told,
        remarks=(*reading.remarks, *(f"{path}: {remark}" for remark in then.remarks)),
    )


def corrections_of(path: Path) -> tuple[Told, ...]:
    """What the diary of the dog says of the session of the journal ``path``."""
    dog = path.parent.parent
    if path.parent.name != "journals":
        return ()
    # The same diary is asked for each session of a dog.
    state = tuple((file, file.stat().st_mtime_ns, file.stat().st_size) for file in diary_files(dog))
    return tuple(told for told in _told(dog, state) if _points_at(told, path.stem))


def apply(
    logged: SessionTally, lines: Sequence[Mapping[str, Any]], told: Sequence[Told]
) -> Corrected:
    """``logged`` after the corrections in ``told``, and what of them could not be used."""
    entries = [one.entry for one in told if isinstance(one.entry, Correction)]
    return corrected(logged, entries, at_line=lines_at(lines))


@lru_cache(maxsize=4)
def _told(dog: Path, state: tuple[object, ...]) -> tuple[Told, ...]:
    return read_diary(dog, Correction).told


def _points_at(told: Told, stem: str) -> bool:
    return isinstance(told.entry, Correction) and told.entry.session == stem
