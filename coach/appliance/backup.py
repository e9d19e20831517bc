"""All that a household cannot make again, as one sealed file; and back from it.

Inside the seal is a gzipped tar: first ``backup.json`` with every file's size and SHA-256, then the
files by their place in the state folder: each dog's plan, old plans, logs, rehearsals and diary,
who treats, the prescribers' keys. The key with which this device signs goes along only when asked:
two devices with one key could no longer be told apart. What is derived is made anew.
"""

import datetime
import errno
import hashlib
import io
import json
import os
import re
import stat
import tarfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach import __version__
from coach.journal.disk import free_bytes, held_by, write_whole
from coach.sealing import Sealed, seal, unseal

LIST = "backup.json"
DEVICE_KEY = "device-key.pem"
EARLIER_KEYS = "earlier-keys.json"
SUFFIX = ".tar.gz.age"
MOST_BYTES = 2 << 30
MOST_FILES = 200_000
_PLACES = re.compile(
    r"dogs/[a-z0-9][a-z0-9-]*/(?:plan\.toml|diary(?:-damaged-\d+)?\.jsonl"
    r"|(?:journals|rehearsals|old-plans)/[^/\x00-\x1f]{1,200}\.(?:jsonl|toml))"
    r"|household\.toml|prescriber-keys\.json|earlier-keys\.json|device-key\.pem"
)


class NotBackedUp(Exception):  # noqa: N818  (told to the owner)
    """Nothing was written, or nothing was restored; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """What was written or restored."""

    path: Path
    dogs: tuple[str, ...]
    files: int
    with_key: bool
    public_key: str


def write_backup(
    state: Path,
    to: Path,
    *,
    now: datetime.datetime,
    public_key: str,
    with_key: bool = False,
    passphrase: str | None = None,
    public_keys: Sequence[str] = (),
) -> Backup:
    """Write a new sealed file into the folder ``to`` and read it back. ``public_key`` is our own.

    Raises NotBackedUp, NotSealed; then nothing new is left in ``to``.
    """
    _quiet(state)
    try:
        files = {path.relative_to(state).as_posix(): _read(path) for path in _wanted(state)}
    except OSError as error:
        raise NotBackedUp(f"{error.filename}: {error.strerror}") from error
    if not with_key:
        files.pop(DEVICE_KEY, None)
    elif DEVICE_KEY not in files:
        raise NotBackedUp("this device has no key yet: coach key makes one")
    if not any(name.startswith("dogs/") for name in files):
        raise NotBackedUp("there is no dog yet, so that there is nothing to keep")
    made = {
        "backup": 1,
        "made": now.isoformat(timespec="seconds"),
        "program": __version__,
        "public_key": public_key,
        "files": {
            name: {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
            for name, content in files.items()
        },
    }
    sealed = seal(_packed(made, files), passphrase=passphrase, public_keys=public_keys)
    path = write_sealed(sealed, to, f"coach-backup-{now:%Y-%m-%d}", SUFFIX)
    return Backup(
        path=path, dogs=_dogs(files), files=len(files), with_key=with_key, public_key=public_key
    )


def restore_backup(
    path: Path,
    state: Path,
    *,
    passphrase: str | None = None,
    identity: str | None = None,
) -> Backup:
    """Put back what ``path`` holds. Nothing that is there is ever replaced.

    Raises NotBackedUp, NotSealed; then nothing was restored.
    """
    _quiet(state)
    try:
        content = _read(path)
    except OSError as error:
        raise NotBackedUp(f"{path}: {error.strerror}") from error
    made, files = _unpacked(unseal(content, passphrase=passphrase, identity=identity))
    there = sorted({_top(name) for name in files if (state / _top(name)).exists()})
    if there:
        raise NotBackedUp(
            f"found {', '.join(there)} in {state}; nothing is replaced: move that away first"
        )
    try:
        _put_back(files, state)
        public_key = str(made.get("public_key") or "")
        if DEVICE_KEY not in files and public_key:
            _remember(state / EARLIER_KEYS, public_key)
    except OSError as error:
        raise NotBackedUp(f"{error.filename}: {error.strerror}") from error
    return Backup(
        path=path,
        dogs=_dogs(files),
        files=len(files),
        with_key=DEVICE_KEY in files,
        public_key=public_key,
    )


def earlier_keys(state: Path) -> tuple[str, ...]:
    """The public keys of the devices before this one, whose logs were restored here."""
    try:
        keys = json.loads((state / EARLIER_KEYS).read_bytes())
        return tuple(str(key) for key in keys if re.fullmatch("[0-9a-f]{64}", str(key)))
    except (OSError, ValueError, TypeError, RecursionError):
        return ()


def _remember(path: Path, public_key: str) -> None:
    known = earlier_keys(path.parent)
    write_whole(path, json.dumps(sorted({*known, public_key.lower()})) + "\n")


def _quiet(state: Path) -> None:
    for journals in (state / "dogs").glob("*/journals"):
        holder = held_by(journals)
        if holder is not None:
            raise NotBackedUp(f"a session is running ({holder}); come back when it is over")


def _wanted(state: Path) -> Iterator[Path]:
    for place in sorted(state.rglob("*")):
        name = place.relative_to(state).as_posix()
        if _PLACES.fullmatch(name) and stat.S_ISREG(place.lstat().st_mode):
            yield place


def _read(path: Path) -> bytes:
    """An ordinary file as the disk holds it. Raises OSError."""
    fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK)
    with os.fdopen(fd, "rb") as stream:
        told = os.fstat(fd)
        if not stat.S_ISREG(told.st_mode):
            raise OSError(errno.EINVAL, "no ordinary file", str(path))
        if told.st_size > MOST_BYTES:
            raise OSError(errno.EFBIG, os.strerror(errno.EFBIG), str(path))
        os.posix_fadvise(fd, 0, 0, os.POSIX_FADV_DONTNEED)
        return stream.read(MOST_BYTES)


def _packed(made: Mapping[str, Any], files: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz", compresslevel=6) as archive:
        head = json.dumps(made, ensure_ascii=False).encode()
        for name, content in {LIST: head, **files}.items():
            info = tarfile.TarInfo(name)
            info.size, info.mode = len(content), 0o600
            archive.addfile(info, io.BytesIO(content))
    return out.getvalue()


def _unpacked(content: bytes) -> tuple[dict[str, Any], dict[str, bytes]]:
    """The list and the files, each as it was listed. Raises NotBackedUp."""
    files: dict[str, bytes] = {}
    size = 0
    try:
        with tarfile.open(fileobj=io.BytesIO(content), mode="r|gz") as archive:
            for info in archive:
                size += info.size
                if size > MOST_BYTES or len(files) > MOST_FILES or not info.isreg():
                    raise NotBackedUp(f"found {info.name!r}, which no backup of the coach holds")
                stream = archive.extractfile(info)
                files[info.name] = b"" if stream is None else stream.read()
        made = json.loads(files.pop(LIST))
        listed = {str(name): str(told["sha256"]) for name, told in made["files"].items()}
    except (tarfile.TarError, OSError, EOFError, zlib.error) as error:
        raise NotBackedUp(f"found no backup of the coach in it ({error})") from error
    except (KeyError, ValueError, TypeError, AttributeError, RecursionError) as error:
        raise NotBackedUp(f"found no backup of the coach in it ({error!r})"[:200]) from error
    found = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    odd = [name for name in found if not _PLACES.fullmatch(name)]
    if odd or found != listed:
        raise NotBackedUp("found other files in it than its list says; nothing is restored")
    return made, files


def _put_back(files: Mapping[str, bytes], state: Path) -> None:
    """All files under hidden names first; then each dog, and each file, takes its place."""
    state.mkdir(mode=0o700, parents=True, exist_ok=True)
    if free_bytes(state) < sum(map(len, files.values())) * 2:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(state))
    hidden = state / f".restore-{os.getpid()}"
    hidden.mkdir(mode=0o700)
    try:
        for name, content in files.items():
            place = hidden / name
            place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            fd = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
            with os.fdopen(fd, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(fd)
        (state / "dogs").mkdir(mode=0o700, exist_ok=True)
        for top in sorted({_top(name) for name in files}):
            (hidden / top).rename(state / top)
        _sync(state / "dogs")
        _sync(state)
    finally:
        _remove(hidden)


def write_sealed(sealed: Sealed, to: Path, title: str, suffix: str) -> Path:
    """A new file, on the disk and read back before it has its name. Raises NotBackedUp."""
    part = to / f".{title}.{os.getpid()}.part"
    try:
        to.mkdir(parents=True, exist_ok=True)
        if free_bytes(to) < len(sealed.content) + (1 << 20):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(to))
        fd = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        with os.fdopen(fd, "wb") as stream:
            stream.write(sealed.content)
            stream.flush()
            os.fsync(fd)
        if not sealed.holds(_read(part)):
            raise NotBackedUp("it reads back otherwise than it was written: use another stick")
        number = 1
        while (path := to / f"{title}{'' if number == 1 else f'-{number}'}{suffix}").exists():
            number += 1
        part.rename(path)
        _sync(to)
    except OSError as error:
        raise NotBackedUp(f"{to}: {error.strerror}; nothing was written") from error
    finally:
        part.unlink(missing_ok=True)
    return path


def _sync(folder: Path) -> None:
    fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def _remove(folder: Path) -> None:
    for path in sorted(folder.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    folder.rmdir()


def _top(name: str) -> str:
    """What must not be there yet: a dog's folder, or a file of the household."""
    parts = name.split("/")
    return "/".join(parts[:2]) if parts[0] == "dogs" else name


def _dogs(files: Mapping[str, bytes]) -> tuple[str, ...]:
    return tuple(sorted({name.split("/")[1] for name in files if name.startswith("dogs/")}))
