"""Waiting for another process: as long as it takes, but not for ever."""

import time
from collections.abc import Callable
from threading import Event
from typing import TypeVar

FOR_EVER_S = 60
T = TypeVar("T")


def until(more: Callable[[], list[T]], enough: Callable[[list[T]], bool]) -> list[T]:
    """Collect what ``more`` gives until it is ``enough``; fails when it never is."""
    collected: list[T] = []
    ends = time.monotonic() + FOR_EVER_S
    while time.monotonic() < ends:
        collected += more()
        if enough(collected):
            return collected
        Event().wait(0.02)
    raise AssertionError(f"waited in vain; until then: {collected}")
