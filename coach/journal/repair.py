"""Repair: what still holds together of a damaged journal, in a new file. The old one stays.

Kept are the lines that can be trusted and the later ones that follow on the line before them.
They are chained anew, so the repaired journal proves no more than that it was repaired: its
first line says from which file (with its SHA-256), how many lines were kept and which were left
out, and an old signature no longer holds and is dropped.
"""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.journal import journal_lines
from coach.journal.disk import DISK, Disk, raw_lines
from coach.journal.journal import JournalError, JournalUnreadable, scan_journal
from coach.journal.journal_lines import Stamp


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
        kept, count, digest = _kept(path, scan.seq)
        new = _free_name(path)
        _write(new, kept, path.name, digest, count, disk)
    except OSError as error:
        raise JournalError(path, error) from error
    numbers = tuple(number for number, _ in kept)
    left_out = tuple(n for n in range(1, count + 1) if n not in set(numbers))
    return Repaired(path=new, kept=numbers, left_out=left_out)


def _kept(path: Path, trusted: int) -> tuple[list[tuple[int, dict[str, Any]]], int, str]:
    """The lines to keep with their numbers, how many lines there are, the SHA-256 of the file."""
    kept: list[tuple[int, dict[str, Any]]] = []
    digest = hashlib.sha256()
    before: bytes | None = journal_lines.GENESIS.encode()
    good: bytes | None = before
    number = 0
    others = False
    for raw in raw_lines(path):
        number += 1
        digest.update(raw)
        line = raw.removesuffix(b"\n")
        # A line follows on the one before it in the file, or on the last one that held (a line
        # written after a torn one does).
        if any(total is not None and journal_lines.holds(line, total) for total in (before, good)):
            fields = _decoded(line)
            if fields is not None:
                if kept and fields["seq"] <= kept[-1][1]["seq"]:
                    # From here on it is another session, or this one once more.
                    others = True
                if not others:
                    kept.append((number, fields))
            good = journal_lines.stated_sum(line)
        before = journal_lines.stated_sum(line)
    if len(kept) < trusted:
        raise JournalUnreadable(path, "a file that changes while it is read", "a closed journal")
    return kept, number, digest.hexdigest()


def _decoded(line: bytes) -> dict[str, Any] | None:
    try:
        fields = journal_lines.decode(line)
        usable = isinstance(fields["seq"], int) and isinstance(fields["data"], dict)
        _stamp(fields)
    except (ValueError, TypeError, KeyError):
        return None
    return fields if usable and isinstance(fields.get("kind"), str) else None


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
            data = _without_signature(fields["data"])
            if seq == 0:
                data["repaired_from"] = {
                    "journal": old_name,
                    "sha256": digest,
                    "kept": len(kept),
                    "left_out": [n for n in range(1, count + 1) if n not in numbers],
                }
            seq += 1
            line, total = journal_lines.encode(
                seq=seq, stamp=_stamp(fields), kind=fields["kind"], data=data, previous=total
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


def _without_signature(data: Mapping[str, Any]) -> dict[str, Any]:
    kept = {key: value for key, value in data.items() if key != "signed"}
    if "torn" in kept:
        # The bytes that a torn line left behind stay in the old file.
        kept["torn"] = None
    return kept


def _stamp(fields: Mapping[str, Any]) -> Stamp:
    return Stamp(
        mono_ns=fields["mono_ns"],
        boot_id=fields["boot"],
        wall=fields["wall"],
        trust=fields["trust"],
    )


def _free_name(path: Path) -> Path:
    stem = re.sub(r"-repaired-\d+$", "", path.stem)
    number = 1
    while (new := path.with_name(f"{stem}-repaired-{number}.jsonl")).exists():
        number += 1
    return new
