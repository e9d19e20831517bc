"""The settings file on disk: TOML, the language, a table each for voice, keys and reminder.

Reading never fails: whatever cannot be used is told and done without. Writing changes one table
and keeps the others; a file that cannot be read is not written over.
"""

import datetime
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import tomli_w

from coach.journal.disk import write_whole
from coach.plan.parse import parse
from coach.plan.problems import PlanProblems, Problem, Report, meant, show
from coach.voice.key_input import KeyWishes
from coach.voice.reminder import Hours, hours_of
from coach.voice.settings import Voices, VoiceWishes, known_voices, usual, wishes_of

LARGEST_BYTES = 100_000
TABLES = ("voice", "keys", "reminder", "listen")
LISTEN = ("tried", "on", "right", "wrong", "of")
TOP = ("language", *TABLES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """How the last trial of the microphone went: so many of ``of`` phrases."""

    on: datetime.date
    right: int
    wrong: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What holds, and what was wrong with what the file says."""

    voice: VoiceWishes = field(default_factory=VoiceWishes)
    keys: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    reminder: Hours | None = None
    listens: bool = False
    trial: Trial | None = None
    problems: tuple[Problem, ...] = ()


def read_settings(
    path: Path,
    *,
    key_wishes: KeyWishes,
    voices: Callable[[], Voices] = known_voices,
) -> Settings:
    """The settings in ``path``; the defaults where there is no such file."""
    try:
        text = _text_of(path)
    except FileNotFoundError:
        return Settings(voice=usual())
    except (OSError, UnicodeDecodeError) as error:
        found = f"a file that cannot be read: {error}"
        return Settings(voice=usual(), problems=(_whole(path, found),))
    if not text.strip():
        return Settings(voice=usual())
    try:
        raw, report = parse(text, file=str(path))
    except PlanProblems as problems:
        return Settings(voice=usual(), problems=problems.problems)
    for key in raw:
        if key not in TOP:
            report.add((key,), "an unknown table or key", ", ".join(TOP), meant(key, TOP))
    if not isinstance(raw.get("language", ""), str):
        report.add(("language",), show(raw["language"]), 'text in quotes, such as "de"')
    voice = wishes_of(raw.get("voice", {}), report, voices() if "voice" in raw else Voices())
    keys = key_wishes.of(raw.get("keys", {}), report)
    reminder = hours_of(raw.get("reminder", {}), report)
    listens, trial = _listens(raw.get("listen", {}), report)
    return Settings(
        voice=voice,
        keys=keys,
        reminder=reminder,
        listens=listens,
        trial=trial,
        problems=_told(report),
    )


def change_settings(path: Path, table: str, changes: Mapping[str, Any]) -> None:
    """Put ``changes`` into ``[table]``; None takes a key out. Whole or not at all.

    Comments in the file are not kept. Raises OSError or ValueError (no TOML, no UTF-8).
    """
    try:
        raw = tomllib.loads(_text_of(path))
    except FileNotFoundError:
        raw = {}
    inner = raw.get(table, {})
    if not isinstance(inner, dict):
        raise ValueError(f"{path}: {table} is not a table")
    merged = {**inner, **changes}
    raw[table] = {key: value for key, value in merged.items() if value is not None}
    write_whole(path, tomli_w.dumps(raw))


def _text_of(path: Path) -> str:
    path.stat()
    # Not opened unless ordinary: a pipe would wait for somebody to write.
    if not path.is_file():
        raise IsADirectoryError(f"{path} is no ordinary file")
    with path.open("rb") as stream:
        raw = stream.read(LARGEST_BYTES + 1)
    if len(raw) > LARGEST_BYTES:
        raise OSError(f"{path} is larger than {LARGEST_BYTES // 1000} kB")
    return raw.decode("utf-8-sig")


def _listens(table: Any, report: Report) -> tuple[bool, Trial | None]:
    """Whether sessions listen, and the last trial; whatever cannot be read means no."""
    if not isinstance(table, dict):
        report.add(("listen",), show(table), "a table [listen]")
        return False, None
    for key in table:
        if key not in LISTEN:
            report.add(
                ("listen", key), "an unknown key", ", ".join(LISTEN), meant(key, list(LISTEN))
            )
    tried = table.get("tried", False)
    if not isinstance(tried, bool):
        report.add(("listen", "tried"), show(tried), "true or false; false is taken instead")
        return False, None
    return tried, _trial(table, report)


def _trial(table: Mapping[str, Any], report: Report) -> Trial | None:
    found = {key: table[key] for key in LISTEN[1:] if key in table}
    if not found:
        return None
    slips = 0
    for key in LISTEN[1:]:
        value = found.get(key)
        if type(value) is not (datetime.date if key == "on" else int):
            allowed = "a date such as 2026-11-25" if key == "on" else "a whole number"
            report.add(("listen", key), "nothing" if value is None else show(value), allowed)
            slips += 1
    return None if slips else Trial(**found)


def _told(report: Report) -> tuple[Problem, ...]:
    return tuple(report.problems()) if report else ()


def _whole(path: Path, found: str) -> Problem:
    allowed = "a settings file; the defaults are taken instead"
    return Problem(file=str(path), field="", found=found, allowed=allowed)
