"""Plan files on disk. The only file of this room that touches the disk."""

import codecs
import datetime
import hashlib
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from coach.plan.model import Plan
from coach.plan.problems import PlanProblems, Problem
from coach.plan.read import read_plan

# A plan is a page or two; anything far larger is some other file.
LARGEST_BYTES = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFile:
    """A plan with the file it came from and the SHA-256 (hex) of its bytes."""

    path: Path
    plan: Plan
    digest: str


def load_plan(path: Path, *, today: datetime.date) -> PlanFile:
    """Read and check a plan file. Raises PlanProblems with everything that is wrong."""

    def refuse(found: str, allowed: str, hint: str = "", line: int | None = None) -> PlanProblems:
        problem = Problem(
            file=str(path), field="", found=found, allowed=allowed, hint=hint, line=line
        )
        return PlanProblems([problem])

    try:
        if path.is_dir():
            raise refuse("a folder", "a plan file, such as plans/demo-long-back.toml")
        path.stat()
        # Not opened unless ordinary: a pipe would wait for somebody to write.
        if not path.is_file():
            raise refuse("something that is no ordinary file", "a plan file")
        with path.open("rb") as stream:
            raw = stream.read(LARGEST_BYTES + 1)
    except FileNotFoundError as error:
        raise refuse("no such file", "a plan file", "is the name spelt right?") from error
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise refuse(f"a file that cannot be read: {reason}", "a plan file") from error
    if len(raw) > LARGEST_BYTES:
        found = f"more than {LARGEST_BYTES // 1000} kB"
        raise refuse(found, f"at most {LARGEST_BYTES // 1000} kB", "is this a plan?")
    content = raw.removeprefix(codecs.BOM_UTF8)
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        found = f"a byte that is not UTF-8 (0x{content[error.start]:02x})"
        raise refuse(found, "text saved as UTF-8", line=line) from error
    plan = read_plan(text, file=str(path), today=today)
    return PlanFile(path=path, plan=plan, digest=hashlib.sha256(raw).hexdigest())


class PlanThere(FileExistsError):  # noqa: N818  (an answer to the prescriber, not a failure)
    """There is a file of that name already."""


def save_plan(path: Path, text: str, *, replace: bool = False) -> None:
    """Write a plan file whole or not at all.

    Raises PlanThere when there is such a file and ``replace`` is not set, else OSError.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    part = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(0o644)
        if replace:
            part.replace(path)
        else:
            _put_new(part, path)
    except FileExistsError as error:
        raise PlanThere(error.errno, error.strerror, str(path)) from error
    finally:
        part.unlink(missing_ok=True)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _put_new(part: Path, path: Path) -> None:
    """``part`` as ``path``. FileExistsError when that is there; a rename would take its place."""
    try:
        path.hardlink_to(part)
    except FileExistsError:
        raise
    except OSError:
        # A memory stick has no links: take the name first, then fill it.
        path.open("xb").close()
        part.replace(path)
