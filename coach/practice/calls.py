"""``calls.jsonl`` beside the handovers: who called whom, when, and until when it rests.

One JSON object a line, only ever added to; a later call of a dog takes the place of the one before
it. Two people may add at once: each line is one write under a lock, and is looked for afterwards.
A line that is cut in half stays as it is, is told, and never swallows the next one.
"""

import contextlib
import datetime
import errno
import fcntl
import json
import os
import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coach.practice.rules import Rules

CALLS = "calls.jsonl"
FORMAT = 1
LONGEST_NOTE = 2000
MOST_BYTES = 256 << 20


class Call(BaseModel):
    """One call.

    ``handover_made`` is when the newest handover was made that the caller could know: what it told
    is answered. ``until``: not to be called before that day; None: the usual rest.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")
    call: Annotated[int, Field(ge=1)] = FORMAT
    id: Annotated[str, Field(min_length=1, max_length=64)]
    at: datetime.datetime
    dog: Annotated[str, Field(max_length=200)]
    device: Annotated[str, Field(max_length=128)] = ""
    by: Annotated[str, Field(min_length=1, max_length=80)]
    note: Annotated[str, Field(max_length=LONGEST_NOTE)] = ""
    until: datetime.date | None = None
    handover_made: Annotated[str, Field(max_length=40)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calls:
    """All calls in the order of the file, and what could not be read."""

    calls: tuple[Call, ...]
    remarks: tuple[str, ...]

    def rows(self, dogs: Mapping[tuple[str, str], str], rules: Rules) -> list[tuple[Any, ...]]:
        """The table ``calls`` of the question: the newest call of each dog."""
        newest: dict[str, tuple[Any, ...]] = {}
        for call in sorted(self.calls, key=lambda one: _utc(one.at)):
            key = dogs.get((call.device, call.dog))
            if key is None:
                continue
            day = call.at.date().toordinal()
            until = 0 if call.until is None else call.until.toordinal()
            seen = max(call.handover_made, str(newest[key][2]) if key in newest else "")
            rests = until or day + rules.rests_days
            newest[key] = (key, _utc(call.at), seen, day, until, rests, call.by, call.note)
        return list(newest.values())


def _utc(moment: datetime.datetime) -> str:
    aware = moment if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)
    return aware.astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def read_calls(folder: Path) -> Calls:
    """The calls in ``folder``. A line that is no call is told and passed over. Raises OSError."""
    path = folder / CALLS
    try:
        fd = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except FileNotFoundError:
        return Calls(calls=(), remarks=())
    with os.fdopen(fd, "rb") as stream:
        raw = stream.read(MOST_BYTES)
    found: list[Call] = []
    remarks: list[str] = []
    ends_whole = raw.endswith(b"\n") or not raw
    lines = raw.split(b"\n")
    seen: set[str] = set()
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            call = Call.model_validate(json.loads(line))
        except (ValueError, RecursionError, ValidationError) as error:
            cut = number == len(lines) and not ends_whole
            what = "a line that is cut in half" if cut else "something that is no call"
            told = f"{path}:{number}: found {what}; passed over, and kept as it is"
            remarks.append(told + ("" if cut else f" ({_first(error)})"))
            continue
        if call.id not in seen:
            seen.add(call.id)
            found.append(call)
    return Calls(calls=tuple(found), remarks=tuple(remarks))


def _first(error: Exception) -> str:
    if isinstance(error, ValidationError):
        one = error.errors(include_url=False, include_input=False)[0]
        return f"{'.'.join(map(str, one['loc'])) or 'line'}: {one['msg']}"[:120]
    return " ".join(str(error).split())[:120]


def add_call(
    folder: Path,
    *,
    at: datetime.datetime,
    dog: str,
    device: str,
    by: str,
    note: str = "",
    until: datetime.date | None = None,
    handover_made: str = "",
) -> Call:
    """Add a call to the file in ``folder``; on the disk before this returns.

    Raises OSError where it cannot be written, and then nothing was added that counts; ValueError
    (pydantic's) for a field that is too long.
    """
    call = Call(
        id=uuid.uuid4().hex,
        at=at,
        dog=dog,
        device=device,
        by=by,
        note=note,
        until=until,
        handover_made=handover_made,
    )
    append_line(
        folder / CALLS, json.dumps(call.model_dump(mode="json"), ensure_ascii=False).encode()
    )
    return call


def append_line(path: Path, line: bytes) -> None:
    """Add a line to a file that others add to as well; on the disk before this returns.

    Raises OSError, and then nothing was added that counts.
    """
    line += b"\n"
    flags = os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK
    fd = os.open(path, flags, 0o660)
    try:
        with _locked(fd):
            size = os.fstat(fd).st_size
            # A line that somebody's machine left in half must not swallow this one.
            if size and os.pread(fd, 1, size - 1) != b"\n":
                line = b"\n" + line
            written = os.write(fd, line)
            if written != len(line):
                # The half of a line is closed, so that it stands alone.
                os.write(fd, b"\n")
                raise OSError(errno.ENOSPC, "only a part of the line could be written", str(path))
            os.fsync(fd)
            if os.pread(fd, len(line), os.fstat(fd).st_size - len(line)) != line:
                raise OSError(errno.EIO, "the line cannot be read back", str(path))
    finally:
        os.close(fd)


@contextlib.contextmanager
def _locked(fd: int) -> Iterator[None]:
    """Alone on the file, also on a shared folder (a POSIX lock goes over NFS and SMB).

    A file system without locks takes the line all the same: it is one write at the end.
    """
    try:
        fcntl.lockf(fd, fcntl.LOCK_EX)
    except OSError as error:
        if error.errno not in (errno.ENOLCK, errno.EOPNOTSUPP, errno.EINVAL):
            raise
        yield
        return
    try:
        yield
    finally:
        fcntl.lockf(fd, fcntl.LOCK_UN)


def newest_calls(calls: Sequence[Call]) -> dict[tuple[str, str], Call]:
    """The last call of each computer and dog."""
    return {(call.device, call.dog): call for call in sorted(calls, key=lambda one: _utc(one.at))}
