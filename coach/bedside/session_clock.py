"""The session's clock: the monotonic clock, or a faster one for rehearsals."""

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SessionClock:
    """Session time runs ``speed`` times as fast as the monotonic clock since ``began_ns``."""

    monotonic_ns: Callable[[], int] = time.monotonic_ns
    speed: int = 1
    began_ns: int = 0

    def now_ns(self) -> int:
        """The moment in session time."""
        return self.began_ns + (self.monotonic_ns() - self.began_ns) * self.speed

    def real_ns(self, session_ns: int) -> int:
        """Session time as monotonic time, for whoever plays sound."""
        return self.began_ns + (session_ns - self.began_ns) // self.speed
