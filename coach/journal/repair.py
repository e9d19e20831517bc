"""Repair: what still holds together of a damaged journal, in a new file. The old one stays.

Kept are the lines that can be trusted and the later ones that follow on the line before them.
They are chained anew, so the repaired journal proves no more than that it was repaired: its
first line says from which file (with its SHA-256), how many lines were kept and which were left
out, and an old signature no longer holds and is dropped.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.journal import journal_lines
from coach.journal.disk import DISK, Disk
from coach.journal.journal import JournalError, JournalUnreadable, scan_journal
from coach.journal.repair_check import kept_lines, plain_stem, stamp_of, without_signature


@dataclass(frozen=True, slots=True, kw_only=True)
class Repaired:
    """The new file, and the line numbers of the old one that were kept and left out."""

    path: Path
    kept: tuple[int, ...]
    left_out: tuple[int, ...]


def repair(path: Path, *, disk: Disk = DISK) -> Repaired:
    """Write what holds of ``path`` into a new file beside it.

    Raises JournalUnreadable when there is nothing to repair or nothing to keep, JournalError
    when the new file cannot be written (then there is none).
    """
    scan = scan_journal(path)
    if scan.damage is None:
        raise JournalUnreadable(path, "no damage", "a damaged journal; this one needs no repair")
    if scan.damage.line == 1:
        raise JournalUnreadable(
            path, "a damaged first line", "a first line that says which plan and dog it is about"
        )
    try:
        kept, count, digest = kept_lines(path)
        if len(kept) < scan.seq:
            raise JournalUnreadable(
                path, "a file that changes while it is read", "a closed journal"
            )
        new = _free_name(path)
        _write(new, kept, path.name, digest, count, disk)
    except OSError as error:
        raise JournalError(path, error) from error
    numbers = tuple(number for number, _ in kept)
    left_out = tuple(n for n in range(1, count + 1) if n not in set(numbers))
    return Repaired(path=new, kept=numbers, left_out=left_out)


def _write(
    new: Path,
    kept: list[tuple[int, dict[str, Any]]],
    old_name: str,
    digest: str,
    count: int,
    disk: Disk,
) -> None:
    total = journal_lines.GENESIS
    seq = 0
    numbers = {number for number, _ in kept}
    fd = disk.create(new)
    try:
        for _, fields in kept:
            data = without_signature(fields["data"])
            if seq == 0:
                data["repaired_from"] = {
                    "journal": old_name,
                    "sha256": digest,
                    "kept": len(kept),
                    "left_out": [n for n in range(1, count + 1) if n not in numbers],
                }
            seq += 1
            line, total = journal_lines.encode(
                seq=seq, stamp=stamp_of(fields), kind=fields["kind"], data=data, previous=total
            )
            while line:
                line = line[disk.write(fd, line) :]
            if fields["kind"] == journal_lines.CLOSED:
                break
        disk.sync(fd)
    except BaseException:
        disk.remove(new)
        raise
    finally:
        disk.close(fd)
    disk.sync_folder(new.parent)


def _free_name(path: Path) -> Path:
    stem = plain_stem(path)
    number = 1
    while (new := path.with_name(f"{stem}-repaired-{number}.jsonl")).exists():
        number += 1
    return new
