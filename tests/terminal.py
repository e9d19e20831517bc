"""A real program on a real terminal: a pty, read by a terminal emulator."""

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable

import pyte

from coach.session.readiness_timing import MOST_READ_NS
from coach.units import NS_PER_S
from coach.voice.key_input import DOUBLE_NS

# Only ends a hang: nothing drawn and nobody gone for so long.
PATIENCE_S = 90
# And nothing of what is waited for among what is drawn for so long.
AT_MOST_S = 900


class Terminal:
    """``python -m MODULE WORDS`` on a pty of so many columns and rows."""

    def __init__(
        self, *words: str, module: str = "coach", columns: int = 60, rows: int = 20
    ) -> None:
        self.fd, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.screen = pyte.Screen(columns, rows)
        self.stream = pyte.ByteStream(self.screen)
        self.process = subprocess.Popen(
            [sys.executable, "-m", module, *words],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env=_environment(),
            preexec_fn=_own_terminal,
        )
        os.close(theirs)

    def until(self, wanted: Callable[[str], bool]) -> str:
        """Read until the screen is as wanted; what it shows then."""
        ends_s = time.monotonic() + AT_MOST_S
        while not wanted(self.text):
            drawn = select.select([self.fd], [], [], PATIENCE_S)[0]
            assert drawn, f"nothing is drawn any more; last was\n{self.text}"
            assert time.monotonic() < ends_s, f"never seen; last was\n{self.text}"
            self.stream.feed(os.read(self.fd, 65536))
        return self.text

    def answer(self) -> None:
        """The one key, once a question of the readiness round has been there long enough."""
        self.show(MOST_READ_NS / NS_PER_S)
        self.press(" ")

    def show(self, seconds: float) -> None:
        """Take in what is drawn for so long."""
        deadline_s = time.monotonic() + seconds
        while (left_s := deadline_s - time.monotonic()) > 0:
            if select.select([self.fd], [], [], left_s)[0]:
                self.stream.feed(os.read(self.fd, 65536))

    def watch(self, seconds: float) -> None:
        """Let it draw for so long and look away; for benchmarks."""
        deadline_s = time.monotonic() + seconds
        while (left_s := deadline_s - time.monotonic()) > 0:
            if select.select([self.fd], [], [], left_s)[0]:
                os.read(self.fd, 65536)

    @property
    def text(self) -> str:
        """The screen."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def press(self, keys: str) -> None:
        """Type, as somebody who has seen what is on the screen: it is no second press."""
        self.show(DOUBLE_NS / NS_PER_S + 0.1)
        os.write(self.fd, keys.encode())

    def close(self) -> None:
        """Take the terminal away."""
        if self.fd >= 0:
            os.close(self.fd)
            self.fd = -1

    def ended(self) -> int:
        """Read on until the program is gone; its exit code."""
        while True:
            try:
                if not os.read(self.fd, 65536):
                    break
            except OSError:  # a pty whose other end is gone
                break
        return self.process.wait(PATIENCE_S)


def _environment() -> dict[str, str]:
    """Ours, but the size is asked of the terminal: a test runner may name its own."""
    kept = {name: text for name, text in os.environ.items() if name not in ("COLUMNS", "LINES")}
    return {**kept, "TERM": "xterm-256color"}


def _own_terminal() -> None:
    os.setsid()
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
