"""The one guarded reader of whatever comes from outside: handovers, plans, sticks, mail.

Nothing in here trusts a name, a size or a number that a file states of itself. What cannot be
read raises :class:`NotRead` with one reason, whatever was wrong; the caller tells it and goes on
with the next file. A link, FIFO, socket or device is refused before it is opened for reading: it
could wait for ever or have no end.
"""

import codecs
import csv
import errno
import io
import lzma
import os
import shutil
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO

from pydantic_core import from_json

# A handover of ten years of daily sessions; far larger than any that is mailed.
MOST_BYTES = 1 << 30
MOST_FILES = 20_000
MOST_FILE_BYTES = 64 << 20
MOST_JSON_BYTES = 16 << 20
MOST_CELL = 100_000
# Folders in folders of a handover (it has one), brackets in brackets of its JSON (it has seven).
DEEPEST_FOLDER = 4
DEEPEST_JSON = 40
LONGEST_NAME = 255
# Whole numbers that every program can hold; nanoseconds of 292 years.
LARGEST_NUMBER = (1 << 63) - 1
CHUNK = 1 << 20
_METHODS = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
_ENCRYPTED = 0x1
# What the zip reader of Python raises for bytes that are no zip file of its kind.
_ZIP_FAULTS = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    ValueError,
    OverflowError,
    IndexError,
)


class NotRead(ValueError):  # noqa: N818  (said of a file)
    """A file from outside that is not read; the message says what was found and is allowed."""


def read_file(path: Path, *, most: int = MOST_FILE_BYTES) -> bytes:
    """The bytes of an ordinary file, at most so many. Raises NotRead; FileNotFoundError."""
    try:
        fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK | os.O_NOFOLLOW)
    except FileNotFoundError:
        raise
    except OSError as error:
        raise NotRead(_why(error)) from error
    except ValueError as error:  # a name with a zero byte
        raise NotRead("found a name that no file can have") from error
    with _ordinary(fd) as stream:
        try:
            content = stream.read(most + 1)
        except OSError as error:
            raise NotRead(_why(error)) from error
    if len(content) > most:
        raise NotRead(f"found more than {_size(most)}; allowed: at most that")
    return content


def _ordinary(fd: int) -> BinaryIO:
    kind = os.fstat(fd).st_mode
    if not stat.S_ISREG(kind):
        os.close(fd)
        raise NotRead(f"found {_kind(kind)}; allowed: an ordinary file")
    return os.fdopen(fd, "rb")


def read_text(path: Path, *, most: int = MOST_FILE_BYTES) -> str:
    """The same as text in UTF-8."""
    return text_of(read_file(path, most=most))


def text_of(content: bytes) -> str:
    """Bytes from outside as text in UTF-8. Raises NotRead."""
    try:
        return content.removeprefix(codecs.BOM_UTF8).decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise NotRead(f"line {line}: found a byte that is not UTF-8") from error


def read_json(path: Path, *, most: int = MOST_JSON_BYTES) -> Any:
    """A JSON file whose depth, numbers and texts are bounded. Raises NotRead; FileNotFoundError."""
    return json_of(read_file(path, most=most))


def json_of(content: bytes) -> Any:
    """Decode JSON from outside: no NaN, no number beyond 64 bits, no lone surrogate, not deep."""
    try:
        value = from_json(content, allow_inf_nan=False)
    except (ValueError, RecursionError) as error:
        raise NotRead(f"found no JSON that is allowed: {_one_line(error)}") from error
    _check_values(value)
    return value


def _check_values(value: Any) -> None:
    heap: list[tuple[Any, int]] = [(value, 1)]
    while heap:
        one, depth = heap.pop()
        if depth > DEEPEST_JSON:
            raise NotRead(f"found JSON more than {DEEPEST_JSON} levels deep; allowed: less")
        if isinstance(one, dict):
            heap += [(key, depth) for key in one]
            heap += [(item, depth + 1) for item in one.values()]
        elif isinstance(one, list):
            heap += [(item, depth + 1) for item in one]
        elif isinstance(one, int | float) and not -LARGEST_NUMBER <= one <= LARGEST_NUMBER:
            raise NotRead(f"found the number {str(one)[:40]}; allowed: up to {LARGEST_NUMBER}")


def csv_rows(text: str) -> list[list[str]]:
    """The rows of a table. Raises NotRead."""
    before = csv.field_size_limit(MOST_CELL)
    try:
        return list(csv.reader(io.StringIO(text, newline="")))
    except csv.Error as error:
        raise NotRead(f"found no table: {_one_line(error)}") from error
    finally:
        csv.field_size_limit(before)


def check_tree(folder: Path) -> None:
    """Raise NotRead unless ``folder`` holds only ordinary files and folders, not too many."""
    files, size = 0, 0
    heap = [(folder, 1)]
    while heap:
        place, depth = heap.pop()
        if depth > DEEPEST_FOLDER:
            raise NotRead(f"found folders more than {DEEPEST_FOLDER} deep; allowed: less")
        try:
            with os.scandir(place) as entries:
                for entry in entries:
                    told = entry.stat(follow_symlinks=False)
                    if stat.S_ISDIR(told.st_mode):
                        heap.append((Path(entry.path), depth + 1))
                        continue
                    name = Path(entry.path).relative_to(folder).as_posix()
                    if not stat.S_ISREG(told.st_mode):
                        raise NotRead(
                            f"{name}: found {_kind(told.st_mode)}; allowed: an ordinary file"
                        )
                    if told.st_size > MOST_FILE_BYTES:
                        raise NotRead(f"{name}: found more than {_size(MOST_FILE_BYTES)}")
                    files, size = files + 1, size + told.st_size
                    _check_amount(files, size)
        except OSError as error:
            raise NotRead(_why(error)) from error


def unpack(
    packed: Path,
    folder: Path,
    *,
    only: Sequence[str] | None = None,
    if_there: Sequence[str] = (),
) -> None:
    """Unpack the zip file ``packed`` into the empty ``folder``, or only the files named.

    Those of ``if_there`` may be missing. Raises NotRead; what was unpacked until then stays in
    ``folder``.
    """
    try:
        fd = os.open(packed, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
    except OSError as error:
        raise NotRead(_why(error)) from error
    with _ordinary(fd) as stream:
        try:
            with zipfile.ZipFile(stream) as archive:
                _unpack(archive, folder, only, if_there)
        except NotRead:
            raise
        except OSError as error:
            raise NotRead(_why(error)) from error
        except _ZIP_FAULTS as error:
            raise NotRead(f"found no zip file that is allowed: {_one_line(error)}") from error


def _unpack(
    archive: zipfile.ZipFile,
    folder: Path,
    only: Sequence[str] | None,
    if_there: Sequence[str],
) -> None:
    infos = [info for info in archive.infolist() if not info.is_dir()]
    if only is not None:
        infos = [info for info in infos if info.filename in (*only, *if_there)]
        missing = [name for name in only if name not in {info.filename for info in infos}]
        if missing:
            raise NotRead(f"found no {missing[0]} in it")
    _check_amount(len(infos), sum(info.file_size for info in infos))
    stated = sum(info.file_size for info in infos)
    # Twice: what unpacks a lot must not fill a disk that may be the memory.
    if 2 * stated > shutil.disk_usage(folder).free:
        raise NotRead(f"unpacked it needs {_size(stated)}: there is no room for that here")
    for info in infos:
        _check_entry(info)
    names = [info.filename.casefold() for info in infos]
    if len(set(names)) < len(names):
        raise NotRead("found two files of one name in it; allowed: one")
    for info in infos:
        target = folder.joinpath(*PurePosixPath(info.filename).parts)
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        left = info.file_size
        with archive.open(info) as source, target.open("xb") as sink:
            while chunk := source.read(CHUNK):
                left -= len(chunk)
                if left < 0:
                    raise NotRead(f"{info.filename!r}: found more in it than it states")
                sink.write(chunk)


def _check_entry(info: zipfile.ZipInfo) -> None:
    name = info.filename
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or "\\" in name or ":" in name:
        raise NotRead(f"found a name that leads out of it: {name!r}")
    if not name.isprintable() or max(map(len, path.parts), default=999) > LONGEST_NAME:
        raise NotRead(f"found a name that is not allowed: {name[:80]!r}")
    if len(path.parts) > DEEPEST_FOLDER:
        raise NotRead(f"found folders more than {DEEPEST_FOLDER} deep: {name[:80]!r}")
    kind = stat.S_IFMT(info.external_attr >> 16)
    if kind not in (0, stat.S_IFREG):
        raise NotRead(f"{name}: found {_kind(kind)}; allowed: an ordinary file")
    if info.flag_bits & _ENCRYPTED:
        raise NotRead(f"{name}: found a file that is locked with a password; allowed: an open one")
    if info.compress_type not in _METHODS:
        raise NotRead(f"{name}: found compression {info.compress_type}; allowed: deflate, or none")
    if info.file_size > MOST_FILE_BYTES:
        raise NotRead(f"{name}: found more than {_size(MOST_FILE_BYTES)}; allowed: at most that")


@contextmanager
def opened(path: Path) -> Iterator[Path]:
    """The folder of a handover that comes as a folder or a zip file. Raises NotRead."""
    if path.is_dir():
        check_tree(path)
        yield path
        return
    with tempfile.TemporaryDirectory(prefix="handover-") as name:
        unpack(path, Path(name))
        yield Path(name)


def _check_amount(files: int, size: int) -> None:
    if files > MOST_FILES:
        raise NotRead(f"found more than {MOST_FILES} files; allowed: at most that")
    if size > MOST_BYTES:
        raise NotRead(f"found more than {_size(MOST_BYTES)}; allowed: at most that")


def _kind(mode: int) -> str:
    for is_it, word in (
        (stat.S_ISLNK, "a link"),
        (stat.S_ISFIFO, "a pipe"),
        (stat.S_ISSOCK, "a socket"),
        (stat.S_ISDIR, "a folder"),
        (stat.S_ISBLK, "a device"),
        (stat.S_ISCHR, "a device"),
    ):
        if is_it(mode):
            return word
    return "something else"


def _why(error: OSError) -> str:
    if error.errno in (errno.ELOOP, errno.EMLINK):
        return "found a link; allowed: an ordinary file"
    if error.errno in (errno.ENXIO, errno.ENODEV):
        return "found a pipe, a socket or a device; allowed: an ordinary file"
    return f"cannot be read: {error.strerror or error}"


def _size(count: int) -> str:
    return f"{count >> 20} MiB" if count >= 1 << 20 else f"{count} bytes"


def _one_line(error: BaseException) -> str:
    return " ".join(str(error).split())[:200] or type(error).__name__
