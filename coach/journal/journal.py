"""The journal of a session: one file, only ever appended to, on the disk before anyone is told.

A session is one file in the dog's folder, ``000012-20250101T190000-plan-id-r1.jsonl``. The
number orders the sessions; the time in the name is only for people, for the clock may be wrong.
The lines are described in :mod:`coach.journal.journal_lines`.
"""

import errno
import os
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.journal import journal_lines
from coach.journal.closed_index import NAME as INDEX
from coach.journal.closed_index import Listed, list_closed, read_index
from coach.journal.disk import DISK, Disk, Held, Holder, raw_lines
from coach.journal.journal_lines import Damage, NotAJournal, Scan, Signer, Stamp, Torn
from coach.journal.repair_check import plain_stem, repair_problem
from coach.journal.session_order import session_id
from coach.journal.signing import signature_holds

__all__ = [
    "Journal",
    "JournalBusy",
    "JournalError",
    "JournalReading",
    "JournalUnreadable",
    "Stamp",
    "journal_files",
    "journal_names",
    "log_files",
    "number_of",
    "read_journal",
    "refused_repairs",
    "scan_journal",
]

_NAME = re.compile(r"^(\d{6,})-.*?(?:-repaired-(\d+))?\.jsonl$")
EMPTY = "an empty file"
# More than a day of holds at a line a second: what is longer must not fill the memory.
MOST_BYTES = 32 << 20
FEW = "a session journal, which never gets that long"
_PLAN_ID = re.compile(r"^[a-z0-9][a-z0-9-]*$")


class JournalError(Exception):
    """What a journal was asked to do could not be done. ``errno`` is kept where there is one.

    From ``append``: the line could not be put on the disk and counts as never written.
    """

    def __init__(self, path: Path, error: OSError | None, text: str = "") -> None:
        super().__init__(text or f"{path}: {(error and error.strerror) or error}")
        self.path = path
        self.errno = None if error is None else error.errno


class JournalBusy(Exception):  # noqa: N818  (an answer, not a failure)
    """Another session holds the folder; ``who`` says which."""

    def __init__(self, folder: Path, who: Holder) -> None:
        super().__init__(f"{folder}: another session is open: {who}")
        self.folder = folder
        self.who = who


class JournalUnreadable(JournalError):  # noqa: N818  (said of a file)
    """A file that cannot be read as a journal: what was found, what is allowed."""

    def __init__(self, path: Path, found: str, allowed: str, line: int | None = None) -> None:
        place = f"{path}" if line is None else f"{path}:{line}"
        super().__init__(path, None, f"{place}: found {found}; allowed: {allowed}")
        self.line = line
        self.found = found
        self.allowed = allowed

    @property
    def nothing_begun(self) -> bool:
        """Whether it was cut before its first line was whole: no session was held with it."""
        return self.found in (EMPTY, journal_lines.CUT_FIRST)


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalReading:
    """What a journal says and how far it can be trusted.

    ``lines`` are the decoded lines that can be trusted, in order; ``torn`` is a last line that
    was cut while it was written; ``set_aside`` are earlier ones, told by the line after them;
    ``damage`` is the first place where the chain breaks; ``closed`` tells whether the closing
    record is there.
    """

    path: Path
    lines: tuple[Mapping[str, Any], ...]
    torn: Torn | None
    set_aside: tuple[Torn, ...]
    damage: Damage | None
    closed: bool
    unended: bool
    last_sum: str

    @property
    def remarks(self) -> tuple[str, ...]:
        """What people should know about the file, one sentence each."""
        found = [
            f"{self.path}:{torn.line}: {torn.size} bytes of a line that was cut while it was "
            "written; set aside, not counted"
            for torn in (*self.set_aside, *([self.torn] if self.torn else []))
        ]
        if self.damage is not None:
            found.append(f"{self.path}: damaged: {self.damage}; only trusted lines are counted")
        if self.unended:
            found.append(f"{self.path}: the last line lacks its line end; it is whole otherwise")
        return tuple(found)


class Journal:
    """An open journal, alone in its folder until :meth:`close`."""

    def __init__(
        self, path: Path, fd: int, lock: int, scan: Scan, stamp: Callable[[], Stamp], disk: Disk
    ) -> None:
        self.path = path
        # Of a session that counts; rehearsals are not listed.
        self._session = ""
        self._fd: int | None = fd
        self._lock = lock
        self._seq = scan.seq
        self._sum = scan.sum
        self._stamp = stamp
        self._disk = disk
        self._size = os.fstat(fd).st_size
        self._lost: OSError | None = None
        self._finished = False

    @classmethod
    def create(
        cls,
        folder: Path,
        *,
        header: Mapping[str, Any],
        stamp: Callable[[], Stamp],
        disk: Disk = DISK,
    ) -> "Journal":
        """Open a new session in ``folder`` and write ``header`` as its first line.

        Raises JournalBusy, JournalError, or ValueError when the header names no plan or dog.
        """
        plan_id, revision = _bound(header)
        now = stamp()
        lock = _take(folder, now, disk)
        path = folder
        try:
            names = journal_names(folder)
            before = folder / names[-1] if names else None
            number = number_of(before) + 1 if before else 1
            moment = re.sub(r"[^0-9T]", "", now.wall[:19])
            path = folder / f"{number:06d}-{moment}-{plan_id}-r{revision}.jsonl"
            fd = disk.create(path)
        except OSError as error:
            disk.close(lock)
            raise JournalError(path, error) from error
        journal = cls(path, fd, lock, Scan(()), stamp, disk)
        session = os.urandom(16).hex()
        own = {"number": number, "session": session, "after": _link(before)}
        if not header.get("rehearsal"):
            journal._session = session
        try:
            journal.append(journal_lines.OPENED, {**header, **own})
            disk.sync_folder(folder)
        except (JournalError, OSError, ValueError, TypeError) as error:
            with suppress(OSError):
                disk.remove(path)
            journal.close()
            if isinstance(error, OSError):
                raise JournalError(path, error) from error
            raise
        return journal

    @classmethod
    def reopen(
        cls,
        path: Path,
        *,
        kind: str,
        data: Mapping[str, Any],
        stamp: Callable[[], Stamp],
        disk: Disk = DISK,
    ) -> "Journal":
        """Go on with a session that was cut off; the first new line is ``kind`` with ``data``.

        ``kind`` is ``session_resumed`` or ``session_cut_off``. A torn last line is told in it
        (``torn``: bytes and SHA-256) and stays in the file. Raises JournalBusy, JournalError,
        JournalUnreadable (also for a damaged or closed journal).
        """
        if kind not in journal_lines.REOPENING:
            raise ValueError(
                f"kind {kind!r}: allowed are {', '.join(sorted(journal_lines.REOPENING))}"
            )
        lock = _take(path.parent, stamp(), disk)
        try:
            lines: list[Mapping[str, Any]] = []
            scan = scan_journal(path, lines)
            if scan.damage is not None:
                raise JournalUnreadable(path, str(scan.damage), "a chain without damage")
            if scan.closed:
                raise JournalUnreadable(path, "a closed session", "a session that was cut off")
            fd = disk.reopen(path)
        except OSError as error:
            disk.close(lock)
            raise JournalError(path, error) from error
        except BaseException:
            disk.close(lock)
            raise
        journal = cls(path, fd, lock, scan, stamp, disk)
        if not lines[0]["data"].get("rehearsal"):
            journal._session = session_id(lines[0])
        try:
            journal._go_on(scan, kind, data)
        except BaseException:
            journal.close()
            raise
        return journal

    @staticmethod
    def end_last_line(path: Path, *, stamp: Callable[[], Stamp], disk: Disk = DISK) -> None:
        """Add the line end that a whole last line lacks. Raises like :meth:`reopen`."""
        lock = _take(path.parent, stamp(), disk)
        try:
            if scan_journal(path).unended:
                fd = disk.reopen(path)
                try:
                    disk.write(fd, b"\n")
                    disk.sync(fd)
                finally:
                    disk.close(fd)
        except OSError as error:
            raise JournalError(path, error) from error
        finally:
            disk.close(lock)

    def append(self, kind: str, payload: Mapping[str, Any]) -> None:
        """Put one line on the disk, then return.

        Raises JournalError when it could not be put there whole; from then on every call
        raises it; :meth:`reopen` may work. ValueError when ``payload`` is no JSON.
        """
        if self._lost is not None:
            raise JournalError(self.path, self._lost)
        self._put(kind, payload, b"")

    def finish(self, totals: Mapping[str, Any], *, signer: Signer | None = None) -> None:
        """Put the closing record on the disk, signed if there is a key. Nothing may follow it."""
        if self._lost is not None:
            raise JournalError(self.path, self._lost)
        self._put(journal_lines.CLOSED, totals, b"", signer)
        if self._session:
            # The session is closed whatever becomes of the list; the next one makes up for it.
            with suppress(OSError):
                self._list(signer)

    def _list(self, signer: Signer | None) -> None:
        folder, own = self.path.parent, number_of(self.path)
        index = read_index(folder)
        missed: list[Listed] = []
        if index is not None:
            last = max((one.number for one in index.listed), default=index.begun - 1)
            between = (path for path in journal_files(folder) if last < number_of(path) < own)
            key = None if signer is None else signer.public_key
            missed = [one for path in between if (one := _closed(path, key)) is not None]
        one = Listed(number=own, name=self.path.name, session=self._session, closing_sum=self._sum)
        stamp = self._stamp()
        list_closed(folder, [*missed, one], stamp=stamp, signer=signer, disk=self._disk)

    def close(self) -> None:
        """Close the file and let others open the folder. May be called twice."""
        if self._fd is not None:
            fd, self._fd = self._fd, None
            # Every line has been synced by itself; close has nothing left to lose.
            with suppress(OSError):
                self._disk.close(fd)
            with suppress(OSError):
                self._disk.close(self._lock)

    def _go_on(self, scan: Scan, kind: str, data: Mapping[str, Any]) -> None:
        torn = None if scan.torn is None else {"bytes": scan.torn.size, "sha256": scan.torn.sha256}
        parted = b"\n" if scan.torn is not None or scan.unended else b""
        self._put(kind, {**data, "torn": torn}, parted)

    def _put(
        self, kind: str, payload: Mapping[str, Any], parted: bytes, signer: Signer | None = None
    ) -> None:
        if self._fd is None or self._finished:
            raise ValueError("the journal is closed")
        line, total = journal_lines.encode(
            seq=self._seq + 1,
            stamp=self._stamp(),
            kind=kind,
            data=payload,
            previous=self._sum,
            signer=signer,
        )
        left = parted + line
        try:
            while left:
                wrote = self._disk.write(self._fd, left)
                if wrote == 0:
                    raise OSError(errno.EIO, "nothing was written")
                left = left[wrote:]
                self._size += wrote
        except OSError as error:
            # Not tried again here: what went in is set aside when the journal is reopened.
            self._lost = error
            raise JournalError(self.path, error) from error
        try:
            self._disk.sync(self._fd)
        except OSError as error:
            # After a failed sync nobody knows what the disk holds (the kernel may drop the
            # pages and call them clean), so there is no way on but to read it at the next start.
            self._lost = OSError(errno.EIO, error.strerror)
            raise JournalError(self.path, error) from error
        try:
            self._disk.check_place(self._fd, self.path, self._size)
        except OSError as error:
            self._lost = error
            raise JournalError(self.path, error) from error
        self._seq, self._sum = self._seq + 1, total
        self._finished = kind == journal_lines.CLOSED


def read_journal(path: Path) -> JournalReading:
    """Read a whole journal. Raises JournalUnreadable. Writes nothing, repairs nothing."""
    lines: list[Mapping[str, Any]] = []
    scan = scan_journal(path, lines)
    return JournalReading(
        path=path,
        lines=tuple(lines),
        torn=scan.torn,
        set_aside=scan.set_aside,
        damage=scan.damage,
        closed=scan.closed,
        unended=scan.unended,
        last_sum=scan.sum,
    )


def journal_names(folder: Path) -> list[str]:
    """The names of the journals of a dog's folder by their number; none without such a folder.

    Where a journal was repaired, only the last repaired one is named: no session counts twice. One
    that says so and is no part of its damaged one is not named. Two of one number are both named.
    """
    if not folder.is_dir():
        return []
    found: dict[str, str] = {}
    repaired: dict[str, int] = {}
    # As text, and matched only where there is something to match: there may be thousands, and
    # this is done at each start.
    for name in os.listdir(folder):  # noqa: PTH208
        head = name.partition("-")[0]
        if len(head) < 6 or not head.isdigit() or not name.endswith(".jsonl"):
            continue
        stem, again = name[:-6], 0
        if "-repaired-" in name:
            match = _NAME.match(name)
            again = int(match[2] or 0) if match else 0
        if again:
            stem = plain_stem(folder / name)
            if again < repaired.get(stem, 0) or repair_problem(folder / name):
                continue
            repaired[stem] = again
        if again or stem not in found:
            found[stem] = name
    return [found[stem] for stem in sorted(found, key=_by_number)]


def refused_repairs(folder: Path) -> dict[str, str]:
    """The repaired journals of a folder that do not count, and why."""
    found = folder.glob("*-repaired-*.jsonl") if folder.is_dir() else ()
    told = {path.name: repair_problem(path) for path in sorted(found)}
    return {name: problem for name, problem in told.items() if problem}


def _by_number(stem: str) -> tuple[int, str]:
    return int(stem.partition("-")[0]), stem


def log_files(folder: Path) -> list[Path]:
    """All journals of a folder, damaged ones beside those that were repaired from them."""
    return sorted(path for path in folder.glob("*.jsonl") if path.name != INDEX)


def journal_files(folder: Path) -> list[Path]:
    """The paths of :func:`journal_names`."""
    return [folder / name for name in journal_names(folder)]


def number_of(path: Path) -> int:
    """The number in the name of a journal. ValueError if it has no such name."""
    match = _NAME.match(path.name)
    if match is None:
        raise ValueError(f"{path.name}: not the name of a journal")
    return int(match[1])


def scan_journal(path: Path, lines: list[Mapping[str, Any]] | None = None) -> Scan:
    """Walk through a whole journal, collecting its lines if wanted. Raises JournalUnreadable."""
    try:
        scan = Scan(raw_lines(path))
        for fields in scan:
            if lines is not None:
                if scan.size > MOST_BYTES:
                    raise JournalUnreadable(path, f"more than {MOST_BYTES >> 20} MiB of lines", FEW)
                lines.append(fields)
    except NotAJournal as error:
        raise JournalUnreadable(path, error.found, error.allowed, error.line) from error
    except OSError as error:
        raise JournalUnreadable(
            path, f"a file that cannot be read: {error.strerror}", "a session journal"
        ) from error
    if scan.seq == 0 and scan.damage is None:
        raise JournalUnreadable(path, EMPTY, "a session journal")
    return scan


def _closed(path: Path, key: str | None) -> Listed | None:
    """A session that was closed and is not listed yet; None for one that this device has not."""
    lines: list[Mapping[str, Any]] = []
    try:
        scan = scan_journal(path, lines)
    except JournalUnreadable:
        return None
    if scan.closing is None or scan.damage is not None or not signed_with(scan, lines[-1], key):
        return None
    return Listed(
        number=number_of(path), name=path.name, session=session_id(lines[0]), closing_sum=scan.sum
    )


def signed_with(scan: Scan, last: Mapping[str, Any], key: str | None) -> bool:
    """Whether the closing record ``last`` was signed with ``key`` (hex); None asks for nothing."""
    if key is None:
        return True
    signed = last["data"].get("signed")
    if scan.closing is None or not isinstance(signed, dict) or signed.get("public_key") != key:
        return False
    previous, line = scan.closing
    message = previous.encode() + journal_lines.signed_part(line)
    return signature_holds(public_key=key, signature=str(signed.get("signature")), message=message)


def _bound(header: Mapping[str, Any]) -> tuple[str, int]:
    """Plan id and revision; ValueError when the header does not bind the chain."""
    try:
        plan, dog = header["plan"], header["dog"]
        plan_id, revision = plan["id"], plan["revision"]
        named = bool(plan["digest"] and dog["name"])
    except (KeyError, TypeError) as error:
        raise ValueError(f"the header of a journal lacks {error}") from error
    if not named or not _PLAN_ID.match(str(plan_id)) or not isinstance(revision, int):
        raise ValueError("the header of a journal needs plan id, revision, digest and dog")
    return plan_id, revision


def _take(folder: Path, now: Stamp, disk: Disk) -> int:
    try:
        disk.make_folder(folder)
        return disk.lock(folder, now.wall)
    except Held as held:
        raise JournalBusy(folder, held.who) from held
    except OSError as error:
        raise JournalError(folder, error) from error


def _link(before: Path | None) -> dict[str, Any] | None:
    """Name and last trusted sum of the session before, so that a lost file or tail shows."""
    if before is None:
        return None
    try:
        return {"journal": before.name, "sum": scan_journal(before).sum}
    except JournalUnreadable:
        return {"journal": before.name, "sum": None}
