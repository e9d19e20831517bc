"""The diary of a dog: one file beside its plan, only ever appended to, chained like a journal.

``dogs/NAME/diary.jsonl`` holds what the household says outside a session's clock (the entries of
:mod:`coach.journal.diary_entries`) in the lines of :mod:`coach.journal.journal_lines`: first
``diary_opened`` with the dog, then one line an entry, for years. It is never closed and not signed.
A line that was cut while it was written is told by a ``diary_resumed`` line and stays in the file.
Nothing can follow on a broken chain: a damaged diary is kept as ``diary-damaged-N.jsonl`` and a new
one begins; what can be trusted of both is read.
"""

import errno
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from coach.journal.diary_entries import Entry, entry_of
from coach.journal.disk import DISK, Disk, Held, Holder, raw_lines, write_synced
from coach.journal.journal_lines import (
    DIARY_OPENED,
    DIARY_RESUMED,
    NotAJournal,
    Scan,
    Stamp,
    encode,
)

NAME = "diary.jsonl"
_DAMAGED = re.compile(r"^diary-damaged-(\d{4,})\.jsonl$")
MOST_BYTES = 32 << 20


class DiaryError(Exception):
    """The diary could not be written; nothing of the entry counts. ``errno`` where there is one."""

    def __init__(self, path: Path, text: str, number: int | None = None) -> None:
        super().__init__(f"{path}: {text}")
        self.path = path
        self.errno = number


class DiaryBusy(DiaryError):  # noqa: N818  (an answer, not a failure)
    """Another program is writing in the diary at this moment: ask again."""

    def __init__(self, path: Path, who: Holder) -> None:
        super().__init__(path, f"being written by {who}")
        self.who = who


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An entry with its place and its time (RFC 3339, and how far that clock could be trusted)."""

    path: Path
    line: int
    wall: str
    trust: str
    entry: Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryReading:
    """What a diary says, as far as it can be trusted; ``remarks`` on what cannot.

    ``dog`` is None where there is no diary yet.
    """

    dog: str | None
    told: tuple[Told, ...]
    remarks: tuple[str, ...]

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The entries in the order in which they were written."""
        return tuple(told.entry for told in self.told)


def diary_files(folder: Path) -> list[Path]:
    """The files of the diary in a dog's ``folder``: damaged ones by number, then the one in use."""
    if not folder.is_dir():
        return []
    damaged = sorted(path for path in folder.iterdir() if _DAMAGED.match(path.name))
    return [*damaged, *(path for path in (folder / NAME,) if path.exists())]


def read_diary(folder: Path, *kinds: type[Entry]) -> DiaryReading:
    """Read the whole diary of the dog with ``folder``. Never fails: what cannot be read is told.

    With ``kinds`` only these entries are made of its lines, which after years are thousands; the
    chain is checked all the same.
    """
    wanted = {kind.kind for kind in kinds}
    told: list[Told] = []
    remarks: list[str] = []
    dog: str | None = None
    for path in diary_files(folder):
        lines: list[Mapping[str, Any]] = []
        try:
            scan = _scan(path, lines)
        except (NotAJournal, OSError) as error:
            remarks.append(f"{path}: not read: {error}")
            continue
        remarks += _remarks(path, scan)
        for number, line in enumerate(lines, start=1):
            if line["kind"] == DIARY_OPENED:
                dog = dog or _dog_in(line)
            elif line["kind"] != DIARY_RESUMED and (not wanted or line["kind"] in wanted):
                try:
                    entry = entry_of(line["kind"], line["data"])
                except ValidationError as error:
                    remarks.append(f"{path}: line {number}: not used: {_short(error)}")
                    continue
                if entry is None:
                    remarks.append(f"{path}: line {number}: a kind not known: {line['kind']!r}")
                    continue
                told.append(
                    Told(
                        path=path,
                        line=number,
                        wall=str(line["wall"]),
                        trust=str(line["trust"]),
                        entry=entry,
                    )
                )
    return DiaryReading(dog=dog, told=tuple(told), remarks=tuple(remarks))


def write_entry(
    folder: Path,
    entry: Entry,
    *,
    dog: str,
    stamp: Callable[[], Stamp],
    disk: Disk = DISK,
) -> None:
    """Put ``entry`` on the disk in the diary of the dog with ``folder``, then return.

    Raises DiaryBusy, DiaryError (also when the diary is another dog's).
    """
    path = folder / NAME
    now = stamp()
    try:
        disk.make_folder(folder)
        lock = disk.lock(folder, now.wall)
    except Held as held:
        raise DiaryBusy(path, held.who) from held
    except OSError as error:
        raise DiaryError(path, str(error.strerror or error), error.errno) from error
    try:
        _append(folder, entry, dog, now, disk)
    except OSError as error:
        raise DiaryError(path, str(error.strerror or error), error.errno) from error
    finally:
        disk.close(lock)


def _append(folder: Path, entry: Entry, dog: str, now: Stamp, disk: Disk) -> None:
    path = folder / NAME
    scan = _usable(path, dog)
    lines: list[tuple[str, dict[str, Any]]] = [(entry.kind, entry.payload())]
    parted = b""
    if scan is None:
        _set_aside(path, disk)
        scan = Scan((), opening=DIARY_OPENED)
        lines.insert(0, (DIARY_OPENED, {"dog": {"name": dog}}))
        fd = disk.create(path)
    else:
        if scan.torn is not None:
            torn = {"bytes": scan.torn.size, "sha256": scan.torn.sha256}
            lines.insert(0, (DIARY_RESUMED, {"torn": torn}))
        parted = b"\n" if scan.torn is not None or scan.unended else b""
        fd = disk.reopen(path)
    seq, previous, whole = scan.seq, scan.sum, parted
    for kind, data in lines:
        seq += 1
        line, previous = encode(seq=seq, stamp=now, kind=kind, data=data, previous=previous)
        whole += line
    write_synced(disk, fd, whole, path)
    if scan.seq == 0:
        disk.sync_folder(folder)


def _usable(path: Path, dog: str) -> Scan | None:
    """How far the diary goes; None where a new one must begin. Raises DiaryError."""
    lines: list[Mapping[str, Any]] = []
    try:
        scan = _scan(path, lines)
    except FileNotFoundError:
        return None
    except NotAJournal:
        return None
    if scan.seq == 0 or scan.damage is not None:
        return None
    whose = _dog_in(lines[0])
    if whose is None or whose.casefold() != dog.casefold():
        raise DiaryError(path, f"found the diary of {whose}; allowed: that of {dog}")
    return scan


def _set_aside(path: Path, disk: Disk) -> None:
    """Keep what stands in the way of a new diary under another name."""
    if not path.exists():
        return
    taken = [int(match[1]) for p in path.parent.iterdir() if (match := _DAMAGED.match(p.name))]
    path.rename(path.with_name(f"diary-damaged-{max(taken, default=0) + 1:04d}.jsonl"))
    disk.sync_folder(path.parent)


def _scan(path: Path, lines: list[Mapping[str, Any]]) -> Scan:
    scan = Scan(raw_lines(path), opening=DIARY_OPENED)
    for fields in scan:
        if scan.size > MOST_BYTES:
            raise OSError(errno.EFBIG, f"more than {MOST_BYTES >> 20} MiB", str(path))
        lines.append(fields)
    return scan


def _remarks(path: Path, scan: Scan) -> list[str]:
    found = [
        f"{path}: line {torn.line}: {torn.size} bytes of a line that was cut while it was written "
        "are set aside"
        for torn in (*scan.set_aside, *([scan.torn] if scan.torn else []))
    ]
    if scan.damage is not None:
        found.append(f"{path}: damaged: {scan.damage}; only trusted lines are used")
    return found


def _dog_in(opening: Mapping[str, Any]) -> str | None:
    dog = opening["data"].get("dog")
    return str(dog["name"]) if isinstance(dog, dict) and "name" in dog else None


def _short(error: ValidationError) -> str:
    return "; ".join(
        f"{'.'.join(map(str, detail['loc']))}: found {detail['input']!r}: {detail['msg']}"
        for detail in error.errors(include_url=False)
    )
