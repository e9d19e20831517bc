"""The list of closed sessions of a dog, ``journals/index.jsonl``: only appended to, signed.

It answers what a chain of files cannot: that the newest sessions were taken away, or one slipped
in. Its lines are those of :mod:`coach.journal.journal_lines`: first ``index_opened`` with the
number from which it was begun (a folder of 0.1.0 has older sessions), then a ``session_listed`` a
closed session with number, file, id and closing sum, each signed where the device has its key. A
line that was cut is told by ``index_resumed``. It is written after the session's own last line: a
session that was closed in the moment of a power cut is listed at the end of the next one.
"""

import errno
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.journal.disk import Disk, raw_lines, write_synced
from coach.journal.journal_lines import (
    GENESIS,
    INDEX_OPENED,
    INDEX_RESUMED,
    NotAJournal,
    Scan,
    Signer,
    Stamp,
    encode,
    signed_part,
)
from coach.journal.signing import key_set, signature_holds

NAME = "index.jsonl"
LISTED = "session_listed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One closed session; ``closing_sum`` is the sum of its last line."""

    number: int
    name: str
    session: str
    closing_sum: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """What the list says; ``problems`` are what is wrong with the list itself.

    ``cut``: its end was cut while it was written; the next session makes up for that.
    """

    begun: int
    listed: tuple[Listed, ...]
    problems: tuple[str, ...]
    cut: bool = False


class _Kept(Iterator[bytes]):
    """Raw lines; the last one that was taken is at hand."""

    def __init__(self, path: Path) -> None:
        self._lines = raw_lines(path)
        self.last = b""

    def __next__(self) -> bytes:
        self.last = next(self._lines)
        return self.last


def read_index(folder: Path, *, key: str | None = None) -> Index | None:
    """The list of the journals in ``folder``; None where there is none.

    ``key`` is the public key (hex) that must have signed each line.
    """
    try:
        raws = _Kept(folder / NAME)
        scan = Scan(raws, opening=INDEX_OPENED)
        index = _read(raws, scan, key)
    except FileNotFoundError:
        return None
    except (OSError, NotAJournal) as error:
        if isinstance(error, NotAJournal) and _never_begun(folder / NAME):
            return None
        return Index(begun=0, listed=(), problems=(f"it cannot be read: {error}",))
    return index if scan.seq or scan.damage else None


def _read(raws: _Kept, scan: Scan, key: str | None) -> Index:
    begun, listed, problems = 0, list[Listed](), list[str]()
    previous = GENESIS
    for fields in scan:
        raw, before, previous = raws.last.removesuffix(b"\n"), previous, scan.sum
        data = fields["data"]
        if key is not None and not _signed(data, raw, before, key):
            problems.append(f"line {fields['seq']}: not signed by this device")
        try:
            if fields["kind"] == INDEX_OPENED:
                begun = _whole(data["from"])
            elif fields["kind"] == LISTED:
                listed.append(
                    Listed(
                        number=_whole(data["number"]),
                        name=str(data["journal"]),
                        session=str(data["session"]),
                        closing_sum=str(data["sum"]),
                    )
                )
        except (KeyError, ValueError):
            problems.append(f"line {fields['seq']}: it holds what no coach writes")
    if scan.damage is not None:
        problems.append(f"damaged: {scan.damage}")
    return Index(
        begun=begun,
        listed=tuple(listed),
        problems=tuple(problems),
        cut=scan.unended or scan.torn is not None,
    )


def list_closed(
    folder: Path, sessions: list[Listed], *, stamp: Stamp, signer: Signer | None, disk: Disk
) -> None:
    """Put ``sessions`` at the end of the list. Raises OSError; a damaged list is left as it is."""
    path = folder / NAME
    scan = Scan((), opening=INDEX_OPENED)
    parted = b""
    lines: list[tuple[str, Mapping[str, Any]]] = [(LISTED, _data(one)) for one in sessions]
    try:
        scan = _scanned(path, disk)
        if scan.damage is not None:
            raise OSError(errno.EINVAL, "the list of sessions is damaged", str(path))
        if scan.torn is not None:
            torn = {"bytes": scan.torn.size, "sha256": scan.torn.sha256}
            lines.insert(0, (INDEX_RESUMED, {"torn": torn}))
        parted = b"\n" if scan.torn is not None or scan.unended else b""
        fd = disk.reopen(path)
    except NotAJournal as error:
        raise OSError(errno.EINVAL, "the list of sessions is damaged", str(path)) from error
    except FileNotFoundError:
        scan = Scan((), opening=INDEX_OPENED)
        lines.insert(0, (INDEX_OPENED, {"from": sessions[0].number}))
        fd = disk.create(path)
    seq, previous, whole = scan.seq, scan.sum, parted
    for kind, data in lines:
        seq += 1
        line, previous = encode(
            seq=seq, stamp=stamp, kind=kind, data=data, previous=previous, signer=signer
        )
        whole += line
    write_synced(disk, fd, whole, path)
    if scan.seq == 0:
        disk.sync_folder(folder)


def _scanned(path: Path, disk: Disk) -> Scan:
    """The list to its end; one that was cut in its first line is taken away: it holds nothing.

    Raises NotAJournal, OSError; FileNotFoundError where a new one is to be begun.
    """
    scan = Scan(raw_lines(path), opening=INDEX_OPENED)
    try:
        for _line in scan:
            continue
    except NotAJournal:
        if not _never_begun(path):
            raise
    if scan.seq == 0 and scan.damage is None:
        disk.remove(path)
        raise FileNotFoundError(errno.ENOENT, "it was never begun", str(path))
    return scan


def _never_begun(path: Path) -> bool:
    """Whether a list was cut before its first line was whole: then it never was one."""
    return not any(raw.endswith(b"\n") for raw in raw_lines(path))


def _data(one: Listed) -> dict[str, Any]:
    return {
        "number": one.number,
        "journal": one.name,
        "session": one.session,
        "sum": one.closing_sum,
    }


def _signed(data: Mapping[str, Any], raw: bytes, previous: str, key: str) -> bool:
    signed = data.get("signed")
    if not isinstance(signed, dict) or signed.get("public_key") not in key_set(key):
        return False
    message = previous.encode() + signed_part(raw)
    public_key, signature = str(signed["public_key"]), str(signed.get("signature"))
    return signature_holds(public_key=public_key, signature=signature, message=message)


def _whole(value: object) -> int:
    if type(value) is not int:
        raise ValueError(f"found {value!r}; allowed: a whole number")
    return value
