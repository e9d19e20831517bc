"""A session that was cut off: find it at the next start, carry on with it, or close it."""

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.journal.disk import DISK, Disk
from coach.journal.journal import Journal, JournalUnreadable, journal_names, read_journal
from coach.journal.journal_lines import CUT_OFF, RESUMED, Signer, Stamp
from coach.plan.spots import Spot
from coach.record.tally import SessionTally, TallyError, tally_of
from coach.session.machine import Machine, Options
from coach.session.replay import restore
from coach.session.start_rules import Moment


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfinished:
    """The last journal of a folder, not wholly closed.

    ``can_carry_on``: it was cut in mid-session, and nobody has given it up since.
    """

    path: Path
    lines: tuple[Mapping[str, Any], ...]
    tally: SessionTally
    can_carry_on: bool

    @property
    def header(self) -> Mapping[str, Any]:
        """What the first line says of plan, dog, laser and spots."""
        data: Mapping[str, Any] = self.lines[0]["data"]
        return data

    @property
    def ended(self) -> Moment:
        """When its last line was written."""
        return moment_of(self.lines[-1])


def moment_of(line: Mapping[str, Any]) -> Moment:
    """The moment of a decoded line."""
    return Moment(
        wall=datetime.datetime.fromisoformat(line["wall"]),
        trusted=line["trust"] != "unknown",
        mono_ns=line["mono_ns"],
        boot_id=line["boot"],
    )


def moment_at(stamp: Stamp) -> Moment:
    """The moment of a stamp."""
    return Moment(
        wall=datetime.datetime.fromisoformat(stamp.wall),
        trusted=stamp.trust != "unknown",
        mono_ns=stamp.mono_ns,
        boot_id=stamp.boot_id,
    )


def find_unfinished(folder: Path) -> Unfinished | None:
    """The last session of ``folder`` if it was never closed; None for a damaged one.

    Only asked for while nobody holds the folder: a running session looks just like this.
    """
    names = journal_names(folder)
    if not names:
        return None
    path = folder / names[-1]
    try:
        reading = read_journal(path)
        tally = tally_of(reading.lines)
    except (JournalUnreadable, TallyError):
        # Told by tally and verify; nothing is ever added to such a file.
        return None
    if reading.damage is not None or (reading.closed and not reading.unended):
        return None
    given_up = any(line["kind"] == CUT_OFF for line in reading.lines)
    return Unfinished(
        path=path,
        lines=reading.lines,
        tally=tally,
        can_carry_on=tally.state == "cut_off" and not tally.closed and not given_up,
    )


def carry_on(
    unfinished: Unfinished,
    *,
    spots: Sequence[Spot],
    options: Options,
    stamp: Callable[[], Stamp],
    now_ns: int,
    disk: Disk = DISK,
) -> tuple[Journal, Machine]:
    """Open the journal again and set up the machine, paused, with what was given as given.

    Raises ValueError when the session cannot be carried on or ``spots`` are others, and what
    :meth:`Journal.reopen` raises.
    """
    machine = Machine(spots, options)
    sitting = restore(spots, unfinished.lines, now_ns=now_ns)
    if sitting is None:
        raise ValueError(f"{unfinished.path}: the session is over or never began")
    machine.sitting = sitting
    given = {"given_ns": list(sitting.given_ns), "spot": sitting.index}
    journal = Journal.reopen(
        unfinished.path,
        kind=RESUMED,
        data={"why": "carried on after a cut", **given},
        stamp=stamp,
        disk=disk,
    )
    return journal, machine


def close_cut_off(
    unfinished: Unfinished,
    *,
    stamp: Callable[[], Stamp],
    signer: Signer | None = None,
    disk: Disk = DISK,
) -> None:
    """Close the session with what its journal says was given.

    Raises what :meth:`Journal.reopen` raises; a fault leaves it unfinished as before.
    """
    if unfinished.tally.closed:
        # The closing record itself was cut, by nothing but its line end.
        Journal.end_last_line(unfinished.path, stamp=stamp, disk=disk)
        return
    given = [spot.given_ns for spot in unfinished.tally.spots]
    journal = Journal.reopen(
        unfinished.path,
        kind=CUT_OFF,
        data={"why": "not carried on"},
        stamp=stamp,
        disk=disk,
    )
    try:
        planned = [spot.planned_ns for spot in unfinished.tally.spots]
        finished = unfinished.tally.state == "finished"
        totals = {"finished": finished, "given_ns": given, "planned_ns": planned}
        journal.finish(totals, signer=signer)
    finally:
        journal.close()
