"""Everything the record asks of the operating system, in one place, so that tests can fail it."""

import errno
import fcntl
import json
import os
import socket
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from coach.journal.journal_lines import LONGEST_LINE

LOCK_NAME = ".lock"
NOT_OURS = "found something else in its place, not the log that was opened"
_NO_LINK = os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """Who holds the lock of a folder, as far as the lock file tells."""

    pid: int | None
    host: str
    since: str

    def __str__(self) -> str:
        who = "another program" if self.pid is None else f"process {self.pid}"
        host = f" on {self.host}" if self.host else ""
        since = f" since {self.since}" if self.since else ""
        return f"{who}{host}{since}"


class Held(Exception):  # noqa: N818  (an answer, not a failure)
    """Somebody else holds the lock."""

    def __init__(self, who: Holder) -> None:
        super().__init__(str(who))
        self.who = who


class Disk:
    """The calls that write a journal. All raise OSError."""

    def make_folder(self, folder: Path) -> None:
        """Make ``folder`` for the owner's eyes only, and put its name on the disk."""
        if not folder.is_dir():
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self.sync_folder(folder.parent)

    def create(self, path: Path) -> int:
        """A new file to append to; FileExistsError if there is one."""
        flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC
        return os.open(path, flags, 0o600)

    def reopen(self, path: Path) -> int:
        """An existing ordinary file to append to; never a link."""
        return os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CLOEXEC | os.O_NOFOLLOW)

    def remove(self, path: Path) -> None:
        """Take away a file that never came to hold a line."""
        path.unlink()

    def write(self, fd: int, data: bytes) -> int:
        """One write(2); the number of bytes that went in."""
        return os.write(fd, data)

    def sync(self, fd: int) -> None:
        """Wait until what was written is on the disk."""
        os.fdatasync(fd)

    def sync_folder(self, folder: Path) -> None:
        """Wait until the names in ``folder`` are on the disk."""
        fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)

    def close(self, fd: int) -> None:
        """Close a file or give up a lock."""
        os.close(fd)

    def check_place(self, fd: int, path: Path, size: int) -> None:
        """Raise OSError unless ``path`` still leads to the open file, and that has ``size`` bytes.

        Whoever deletes or replaces a file leaves us writing where nobody will ever read.
        """
        ours = os.fstat(fd)
        try:
            there = path.lstat()
        except OSError:
            there = None
        if there is None or (there.st_dev, there.st_ino) != (ours.st_dev, ours.st_ino):
            raise OSError(errno.ESTALE, NOT_OURS, str(path))
        if ours.st_size != size:
            raise OSError(errno.ESTALE, f"{NOT_OURS}: it has another length", str(path))

    def lock(self, folder: Path, since: str) -> int:
        """Take the exclusive lock of ``folder``; raises Held. The lock ends with the process.

        The folder itself is locked: a file in it could be deleted. The file tells who it is.
        """
        fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
            told = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT | _NO_LINK, 0o600)
            try:
                # A program of release 0.1.0 locks this file and not the folder.
                fcntl.flock(told, fcntl.LOCK_EX | fcntl.LOCK_NB)
                holder = {"pid": os.getpid(), "host": socket.gethostname(), "since": since}
                os.ftruncate(told, 0)
                os.pwrite(told, json.dumps(holder).encode(), 0)
            finally:
                os.close(told)
        except OSError as error:
            os.close(fd)
            if error.errno in (errno.EWOULDBLOCK, errno.EACCES):
                raise Held(_holder(folder)) from error
            raise
        return fd


DISK = Disk()


def _holder(folder: Path) -> Holder:
    pid, host, since = None, "", ""
    with suppress(OSError, ValueError, AttributeError):
        fd = os.open(folder / LOCK_NAME, os.O_RDONLY | _NO_LINK)
        try:
            told = json.loads(os.pread(fd, 4096, 0))
        finally:
            os.close(fd)
        pid, host, since = told.get("pid"), told.get("host", ""), told.get("since", "")
    return Holder(pid=pid if isinstance(pid, int) else None, host=str(host), since=str(since))


def held_by(folder: Path) -> Holder | None:
    """Who holds the lock of ``folder`` at this moment; None if nobody does."""
    for path in (folder, folder / LOCK_NAME):
        try:
            fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
        except FileNotFoundError:
            continue
        try:
            fcntl.flock(fd, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return _holder(folder)
        finally:
            os.close(fd)
    return None


def free_bytes(folder: Path) -> int:
    """Space that is left for us on the disk of ``folder``, in bytes."""
    stats = os.statvfs(folder)
    return stats.f_bavail * stats.f_frsize


def write_synced(disk: Disk, fd: int, content: bytes, path: Path) -> None:
    """Write all of ``content``, sync it, and close ``fd`` whatever happens. Raises OSError."""
    try:
        while content:
            wrote = disk.write(fd, content)
            if wrote == 0:
                raise OSError(errno.EIO, "nothing was written", str(path))
            content = content[wrote:]
        disk.sync(fd)
    finally:
        disk.close(fd)


def raw_lines(path: Path) -> Iterator[bytes]:
    """The lines of an ordinary file with their line ends, overlong ones in pieces."""
    # O_NONBLOCK: a FIFO must not hold us up; IsADirectoryError and the like come from here.
    fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
    with os.fdopen(fd, "rb", buffering=1 << 20) as file:
        if not path.is_file():
            raise OSError(errno.EINVAL, "not an ordinary file", str(path))
        while raw := file.readline(LONGEST_LINE):
            yield raw


def write_whole(path: Path, text: str) -> None:
    """A small file in UTF-8, whole or not at all; its folders are made, private. Raises OSError."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)
        raise
