"""A quiet look at all journals of a dog, at most once a week, so that bit rot does not wait.

Day by day only names, sizes and times of journals are looked at
(:mod:`coach.record.summary_cache`): a log whose bytes have changed under an old size and time shows
only when it is read. What was found is kept in ``dogs/NAME/checked.json`` and told on home until
the next look finds it mended.
"""

import datetime
import json
from dataclasses import dataclass
from pathlib import Path

from coach.journal.disk import held_by, write_whole
from coach.journal.journal import log_files
from coach.paths import JOURNALS, SUMMARY
from coach.record.summary_cache import check
from coach.record.verify import Verification, verify_all

NAME = "checked.json"
EVERY_DAYS = 7
LARGEST_BYTES = 1 << 20


@dataclass(frozen=True, slots=True)
class Checked:
    """When it was looked last, and the names of the journals with which something is wrong."""

    on: datetime.date
    wrong: tuple[str, ...]


def checked(folder: Path) -> Checked | None:
    """What the last look at the dog in ``folder`` found; None where there was none."""
    try:
        with (folder / NAME).open("rb") as stream:
            told = json.loads(stream.read(LARGEST_BYTES))
        return Checked(datetime.date.fromisoformat(told["on"]), tuple(map(str, told["wrong"])))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        # Missing or damaged: the next look makes it anew.
        return None


def check_weekly(folder: Path, *, today: datetime.date, key: str | None) -> Checked | None:
    """Look at all journals of the dog in ``folder``, unless that was done within a week.

    ``key`` (hex) must have signed them. None where nothing was looked at: it is too early, or a
    session runs. Raises OSError when the finding cannot be kept.
    """
    last = checked(folder)
    journals = folder / JOURNALS
    if last is not None and abs((today - last.on).days) < EVERY_DAYS:
        return None
    if not journals.is_dir() or held_by(journals) is not None:
        return None
    results = verify_all(log_files(journals), key=key)
    # What is kept of a journal that has rotted is made anew from what is left of it.
    check(journals, folder / SUMMARY)
    newest = max((one.path.name for one in results if one.lines), default="")
    wrong = tuple(one.path.name for one in results if not _in_order(one, newest))
    found = Checked(today, wrong)
    told = {"on": today.isoformat(), "wrong": list(wrong)}
    write_whole(folder / NAME, json.dumps(told, ensure_ascii=False) + "\n")
    return found


def _in_order(one: Verification, newest: str) -> bool:
    """Whether nothing is to be told; the newest may have been cut off, which home tells anyway."""
    return one.good or (
        one.path.name == newest and one.verdict == "not_closed" and not one.findings
    )
