"""Tells the service manager that the screen is alive, so that a hung one is started again.

The protocol is sd_notify(3): one datagram of ``NAME=value`` lines to the socket that the service
manager names in ``NOTIFY_SOCKET``. Without that variable nothing is sent and nothing is wrong.
``WATCHDOG_PID`` is not looked at: between the manager and us stand a compositor and a terminal,
and the units say ``NotifyAccess=all``.
"""

import os
import socket
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass

NS_PER_US = 1_000


@dataclass(slots=True)
class Watchdog:
    """Called from the beat of the screen, many times a second; sends few datagrams.

    Attributes:
        send: sends one message; never blocks, never raises.
        limit_us: how long the manager waits without a sign of life; 0 when it does not wait.
        mono_ns: monotonic time.
    """

    send: Callable[[str], None]
    limit_us: int = 0
    mono_ns: Callable[[], int] = time.monotonic_ns
    _next_ns: int = 0

    def started(self) -> None:
        """The program runs, and waits for the owner as long as it takes."""
        off = "WATCHDOG_USEC=0\n" if self.limit_us else ""
        self.send(f"READY=1\n{off}STATUS=waiting for the owner")

    def begin(self) -> None:
        """The screen is there; from now on the manager waits for its beat."""
        self._next_ns = 0
        armed = f"WATCHDOG_USEC={self.limit_us}\n" if self.limit_us else ""
        self.send(f"READY=1\n{armed}STATUS=the screen is there")

    def beat(self) -> None:
        """A sign of life: sent at once, then four times within the limit, whatever it is called."""
        now_ns = self.mono_ns()
        if not self.limit_us or now_ns < self._next_ns:
            return
        self._next_ns = now_ns + self.limit_us * NS_PER_US // 4
        self.send("WATCHDOG=1")

    def end(self) -> None:
        """The screen goes away in good order; what follows may wait for the owner."""
        if self.limit_us:
            # 0 switches the wait off until begin() is called again.
            self.send("WATCHDOG_USEC=0\nSTATUS=between two screens")


def from_environment(environment: Mapping[str, str] = os.environ) -> Watchdog:
    """The watchdog that the service manager asks for, or one that tells nobody."""
    address = environment.get("NOTIFY_SOCKET", "")
    # "@" stands for the NUL byte of an abstract address; nothing else can be reached.
    if address[:1] not in ("/", "@"):
        return Watchdog(lambda _: None)
    limit = environment.get("WATCHDOG_USEC", "")
    path = address.replace("@", "\0", 1) if address.startswith("@") else address
    return Watchdog(
        lambda message: _send(path, message),
        limit_us=int(limit) if limit.isascii() and limit.isdigit() else 0,
    )


def _send(address: str, message: str) -> None:
    # A manager that is gone or does not read must not hold up a session: it is told again soon.
    with suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as plug:
        plug.setblocking(False)
        plug.connect(address)
        plug.send(message.encode())
