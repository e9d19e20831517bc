"""The draft of a desk on disk: hidden beside the plan, for the owner of the file alone."""

import contextlib
import os
import re
from pathlib import Path

from coach.plan.desk import Desk
from coach.plan.files import LARGEST_BYTES

_COPIED = re.compile(r"# draft; regions copied and not looked at yet:([ 0-9]*)\n")
MODE = 0o600


def draft_path(plan: Path) -> Path:
    """Where the draft of the plan at ``plan`` lies."""
    return plan.with_name(f".{plan.stem}.draft.toml")


def keep_draft(path: Path, desk: Desk) -> None:
    """Write the draft whole or not at all. Raises OSError."""
    copied = "".join(f" {number + 1}" for number, mark in enumerate(desk.version.copied) if mark)
    first = f"# draft; regions copied and not looked at yet:{copied}\n"
    part = path.with_name(f"{path.name}.part")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW, MODE)
    with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
        stream.write(first + desk.version.text.text())
        stream.flush()
        os.fsync(stream.fileno())
    part.replace(path)


def read_draft(path: Path) -> tuple[str, frozenset[int]] | None:
    """The text of a draft and the regions (from 0) marked as copied; None where there is none.

    Raises OSError, or ValueError for a file that is no draft.
    """
    if not path.is_file():
        return None
    text = path.read_text(encoding="utf-8")
    if len(text) > LARGEST_BYTES:
        raise ValueError("too large for a draft")
    found = _COPIED.match(text)
    if found is None:
        raise ValueError("the first line is not that of a draft")
    return text[found.end() :], frozenset(int(number) - 1 for number in found[1].split())


def drop_draft(path: Path) -> None:
    """Forget the draft: the plan is saved."""
    with contextlib.suppress(FileNotFoundError):
        path.unlink()
