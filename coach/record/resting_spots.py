"""Spots that a dog minded: what the journals and the diary of a day say of them.

A spot that was left out because it was sore, the dog objected or there was a lump or a wound, and
the one at which a session was stopped for the dog's sake, is not offered again on the same day
(common practice, no source).
"""

import datetime
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from coach.body.site import Site
from coach.journal.diary import read_diary
from coach.journal.diary_entries import answers_of
from coach.journal.journal import JournalUnreadable, journal_files, read_journal
from coach.plan.spots import Spot, spots_in
from coach.record.after_questions import DOG_REASONS

SKIPPED_FOR_THE_DOG = frozenset({"sore", "dog_objects", "lump_or_wound"})


def minded(lines: Iterable[Mapping[str, Any]], *, said: str | None = None) -> frozenset[Site]:
    """The places that the dog minded in one session; ``said``: why it was stopped, by the diary."""
    spots: tuple[Spot, ...] = ()
    found: set[Site] = set()
    now: int | None = None
    for line in lines:
        kind, data = line["kind"], line["data"]
        if kind == "session_opened":
            spots = spots_in(data["spots"])
        elif kind in ("move_started", "hold_started"):
            now = data["spot"]
        elif kind == "spot_skipped" and data["reason"] in SKIPPED_FOR_THE_DOG:
            found.add(spots[data["spot"]].site)
        elif (
            kind == "session_stopped"
            and now is not None
            and {data["reason"], said} & set(DOG_REASONS)
        ):
            found.add(spots[now].site)
    return frozenset(found)


def minded_on(day: datetime.date, *, journals: Path, folder: Path) -> frozenset[Site]:
    """The places that the dog with ``folder`` minded on ``day``, by the clock on the wall then.

    A journal that cannot be read says nothing; whether a session may start after it is asked
    elsewhere.
    """
    said = {
        name: after.stop_reason for name, after in answers_of(read_diary(folder).entries).items()
    }
    found: frozenset[Site] = frozenset()
    for path in reversed(journal_files(journals)):
        try:
            lines = read_journal(path).lines
        except JournalUnreadable:
            continue
        if datetime.datetime.fromisoformat(lines[0]["wall"]).date() != day:
            break
        found |= minded(lines, said=said.get(path.stem))
    return found
