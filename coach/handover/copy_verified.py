"""Carries a handover onto a stick: written, synced, read back from the stick, compared, named.

Until all of it was read back it stands under a hidden name, so that a stick that was pulled out,
or was full, never shows a handover that is not whole.
"""

import errno
import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from coach.journal.disk import free_bytes

CHUNK = 1 << 20
# Names, and the smallest piece that a stick gives out, for each file.
ROOM_A_FILE = 64 << 10


class NotCarried(Exception):  # noqa: N818  (told to the owner)
    """Nothing that counts is on the stick; the message says why."""


class Calls:
    """What is asked of the stick, in one place, so that tests can fail it. All raise OSError."""

    def make_folder(self, path: Path) -> None:
        """A new folder for the owner's eyes only (where the stick knows of such)."""
        path.mkdir(mode=0o700)

    def write(self, path: Path, chunks: Iterator[bytes]) -> None:
        """A new file, on the stick before this returns."""
        fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        with os.fdopen(fd, "wb") as stream:
            for chunk in chunks:
                stream.write(chunk)
            stream.flush()
            os.fsync(stream.fileno())

    def sync_folder(self, path: Path) -> None:
        """The names in a folder on the stick."""
        fd = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)

    def digest(self, path: Path) -> str:
        """SHA-256 of what the stick holds, not of what the memory still knows."""
        fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        with os.fdopen(fd, "rb") as stream:
            os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
            return hashlib.file_digest(stream, "sha256").hexdigest()

    def rename(self, path: Path, name: Path) -> None:
        """The last step; never over something that is there."""
        if name.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(name))
        path.rename(name)

    def remove(self, path: Path) -> None:
        """Take away a file or an empty folder."""
        path.rmdir() if path.is_dir() else path.unlink()


CALLS = Calls()


def carry(source: Path, stick: Path, calls: Calls = CALLS) -> Path:
    """Copy the handover ``source`` (folder or file) into the folder ``stick``; its new place.

    Raises NotCarried.
    """
    _room(source, stick)
    hidden = stick / f".{source.name}.part"
    name = _free_name(stick, source)
    try:
        _remove(hidden, calls)
        copied = _copy(source, hidden, calls)
        _compare(hidden, hidden, copied, calls)
        calls.rename(hidden, name)
        calls.sync_folder(stick)
        try:
            # Once more: there are drivers that lose what is in a folder when it gets its name.
            _compare(hidden, name, copied, calls)
        except (NotCarried, OSError):
            calls.rename(name, hidden)
            raise
    except OSError as error:
        _tidy(hidden, calls)
        raise NotCarried(_why(error, stick)) from error
    except NotCarried:
        _tidy(hidden, calls)
        raise
    return name


def _room(source: Path, stick: Path) -> None:
    files = [path for path in (source, *source.rglob("*")) if path.is_file()]
    need = sum(path.stat().st_size + ROOM_A_FILE for path in files)
    try:
        free = free_bytes(stick)
    except OSError as error:
        raise NotCarried(_why(error, stick)) from error
    if free < need:
        raise NotCarried(
            f"the stick has {free // 1000} kB left; {need // 1000} kB are needed: "
            "make room on it, or use another one"
        )


def _copy(source: Path, target: Path, calls: Calls) -> list[tuple[Path, str]]:
    if source.is_file():
        digest = hashlib.sha256()

        def chunks() -> Iterator[bytes]:
            with source.open("rb") as stream:
                while chunk := stream.read(CHUNK):
                    digest.update(chunk)
                    yield chunk

        calls.write(target, chunks())
        return [(target, digest.hexdigest())]
    calls.make_folder(target)
    copied: list[tuple[Path, str]] = []
    for path in sorted(source.iterdir()):
        copied += _copy(path, target / path.name, calls)
    calls.sync_folder(target)
    return copied


def _compare(written: Path, there: Path, copied: list[tuple[Path, str]], calls: Calls) -> None:
    """Read back what was ``written`` and is ``there`` now."""
    for path, digest in copied:
        place = there / path.relative_to(written)
        try:
            same = calls.digest(place) == digest
        except FileNotFoundError:
            same = False
        if not same:
            raise NotCarried(
                f"{place.name} reads back otherwise than it was written: use another stick"
            )


def _free_name(stick: Path, source: Path) -> Path:
    path, number = stick / source.name, 1
    while path.exists():
        number += 1
        path = stick / f"{source.stem}-{number}{source.suffix}"
    return path


def _remove(path: Path, calls: Calls) -> None:
    """Take away what an earlier try left, if it did."""
    if not path.exists():
        return
    for inner in sorted(path.rglob("*"), reverse=True):
        calls.remove(inner)
    calls.remove(path)


def _tidy(hidden: Path, calls: Calls) -> None:
    try:
        _remove(hidden, calls)
    except OSError:
        # The stick is gone or will take nothing more. What is left bears a hidden name.
        return


def _why(error: OSError, stick: Path) -> str:
    if error.errno == errno.ENOSPC:
        return "the stick is full: make room on it, or use another one"
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return f"nothing may be written on the stick ({os.strerror(error.errno)})"
    if error.errno in (errno.EIO, errno.ENODEV, errno.ENXIO, errno.ENOENT, errno.ESTALE):
        return "the stick was pulled out, or is broken: plug it in and try again"
    return f"{stick}: {error.strerror or error}"
