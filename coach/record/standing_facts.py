"""Whether the standing facts of a dog have been asked for a plan, as its journals say.

The answers stand before the start of a session, in the first lines of its journal: only those are
read, from the newest journal backwards.
"""

import datetime
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Any

from coach.journal.journal import journal_files
from coach.journal.journal_lines import OPENED, decode

# A header and a round of questions, with room to spare.
HEAD_BYTES = 1 << 17
FINAL = frozenset({"go", "vet_agreed"})


def facts_answered(
    folder: Path, *, digest: str, points: Collection[str], now: datetime.datetime, days: int
) -> bool:
    """Whether all of ``points`` were answered for the plan ``digest`` in the last ``days`` days.

    They must have been answered in one session, and none of the answers may have ended it. A
    journal that cannot be read, and one whose clock could not be trusted, answers nothing.
    """
    wanted = set(points)
    for path in reversed(journal_files(folder) if folder.is_dir() else []):
        lines = list(_head(path))
        opened = lines[0] if lines else None
        if opened is None or opened.get("kind") != OPENED:
            continue
        age = _age(opened, now)
        if age is None:
            continue
        if age > datetime.timedelta(days=days):
            return False
        plan = opened["data"].get("plan")
        same = isinstance(plan, dict) and plan.get("digest") == digest
        if same and wanted <= _answered(lines):
            return True
    return False


def _answered(lines: Collection[Mapping[str, Any]]) -> set[str]:
    found: set[str] = set()
    for line in lines:
        if line.get("kind") == "whats_new":
            point, outcome = line["data"].get("point"), line["data"].get("outcome")
            found = found | {point} if outcome in FINAL else found - {point}
    return found


def _age(opened: Mapping[str, Any], now: datetime.datetime) -> datetime.timedelta | None:
    try:
        age = now - datetime.datetime.fromisoformat(opened["wall"])
    except (KeyError, TypeError, ValueError):
        return None
    # A clock that was wrong then, or is wrong now, tells nothing.
    known = opened.get("trust") != "unknown" and age >= datetime.timedelta(0)
    return age if known else None


def _head(path: Path) -> Iterator[dict[str, Any]]:
    """The lines of a journal up to the start of its session, as far as they can be read."""
    try:
        with path.open("rb") as file:
            *whole, _cut = file.read(HEAD_BYTES).split(b"\n")
    except OSError:
        return
    for text in whole:
        try:
            line = decode(text)
        except ValueError:
            return
        if not isinstance(line, dict) or not isinstance(line.get("data"), dict):
            return
        if line.get("kind") == "session_started":
            return
        yield line
