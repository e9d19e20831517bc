"""Plan files on disk. The only file of this room that touches the disk."""

import datetime
import hashlib
from dataclasses import dataclass
from pathlib import Path

from coach.plan.model import Plan
from coach.plan.problems import PlanProblems, Problem
from coach.plan.read import read_plan

# A plan is a page or two; anything far larger is some other file.
LARGEST_BYTES = 200_000


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
        size = path.stat().st_size
        if path.is_dir():
            raise refuse("a folder", "a plan file, such as plans/demo-long-back.toml")
        if not path.is_file():
            raise refuse("something that is no ordinary file", "a plan file")
        if size > LARGEST_BYTES:
            raise refuse(f"{size} bytes", f"at most {LARGEST_BYTES} bytes", "is this a plan?")
        raw = path.read_bytes()
    except FileNotFoundError as error:
        raise refuse("no such file", "a plan file", "is the name spelt right?") from error
    except OSError as error:
        raise refuse(f"a file that cannot be read: {error.strerror}", "a plan file") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"a byte that is not UTF-8 (0x{raw[error.start]:02x})"
        raise refuse(found, "text saved as UTF-8", line=line) from error
    plan = read_plan(text, file=str(path), today=today)
    return PlanFile(path=path, plan=plan, digest=hashlib.sha256(raw).hexdigest())
