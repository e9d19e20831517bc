"""Waiting for another process: as long as it takes, while it still says something."""

import os
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Event
from typing import TypeVar

FOR_EVER_S = 60
T = TypeVar("T")


def until(more: Callable[[], list[T]], enough: Callable[[list[T]], bool]) -> list[T]:
    """Collect what ``more`` gives until it is ``enough``; fails when nothing more comes."""
    collected: list[T] = []
    ends = time.monotonic() + FOR_EVER_S
    while time.monotonic() < ends:
        if found := more():
            collected += found
            ends = time.monotonic() + FOR_EVER_S
        if enough(collected):
            return collected
        Event().wait(0.02)
    raise AssertionError(f"waited in vain; until then: {collected}")


def child_pid(module: str) -> int:
    """The one process among our own children that runs ``module``."""

    def children() -> list[int]:
        found: list[int] = []
        for task in Path(f"/proc/{os.getpid()}/task").iterdir():
            for child in map(int, (task / "children").read_text().split()):
                with suppress(OSError):
                    if module.encode() in Path(f"/proc/{child}/cmdline").read_bytes():
                        found.append(child)
        return found

    (pid,) = until(children, bool)
    return pid
