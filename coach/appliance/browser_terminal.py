"""The one place at the coach that a browser can take: a program on a terminal of our own.

The program goes on while no browser is there, so that a tablet that falls asleep ends nothing; it
is only asked to pause. A browser that comes back finds the screen as it is.
"""

import asyncio
import fcntl
import os
import pty
import re
import signal
import struct
import subprocess
import termios
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field

# DEC private modes, such as the alternate screen and reports of the mouse.
MODE = re.compile(rb"\x1b\[\?([0-9;]+)([hl])")
ALTERNATE_SCREEN = b"1049"
KEPT_BYTES = 4000
READ_BYTES = 65_536
# Common practice, no source: as long as a session that was cut off may be carried on by default.
EMPTY_FOR_S = 30 * 60


@dataclass(slots=True)
class Seat:
    """Runs ``words`` for whoever takes the place; ``take`` and ``leave`` run in one event loop."""

    words: Sequence[str]
    empty_for_s: float = EMPTY_FOR_S
    _process: "subprocess.Popen[bytes] | None" = None
    _fd: int = -1
    _show: "asyncio.Queue[bytes] | None" = None
    _modes: dict[bytes, bytes] = field(default_factory=dict)
    _last: bytes = b""
    _closing: "asyncio.TimerHandle | None" = None

    def take(self, width: int, height: int) -> "asyncio.Queue[bytes]":
        """Take the place; what is to be shown comes out of the queue, b"" when the program ends.

        Whoever had it before gets b"" too: there is only one.
        """
        self._told_to_go()
        if self._closing is not None:
            self._closing.cancel()
            self._closing = None
        shown: asyncio.Queue[bytes] = asyncio.Queue()
        if self._process is None:
            self._start(width, height)
        else:
            modes = b"".join(b"\x1b[?" + mode + flag for mode, flag in self._modes.items())
            on_screen = self._modes.get(ALTERNATE_SCREEN) == b"h"
            shown.put_nowait(modes if on_screen else modes + self._last)
            # A size that changes has everything drawn anew.
            self.resize(width, max(1, height - 1))
            self.resize(width, height)
        self._show = shown
        return shown

    def vacate(self) -> None:
        """Send away whoever has the place: the session pauses."""
        if self._show is not None:
            shown = self._show
            self.leave(shown)
            shown.put_nowait(b"")

    def leave(self, shown: "asyncio.Queue[bytes]") -> None:
        """Leave the place, if it is still held with ``shown``: the session pauses."""
        if self._show is not shown:
            return
        self._show = None
        if self._process is not None:
            self._process.send_signal(signal.SIGUSR1)
            self._closing = asyncio.get_running_loop().call_later(self.empty_for_s, self.close)

    def write(self, data: bytes) -> None:
        """What was typed or tapped. Lost when the program does not read."""
        if self._fd >= 0:
            with suppress(OSError):
                os.write(self._fd, data)

    def resize(self, width: int, height: int) -> None:
        """The browser's window has so many columns and rows."""
        if self._fd >= 0:
            size = struct.pack("HHHH", min(height, 999), min(width, 999), 0, 0)
            fcntl.ioctl(self._fd, termios.TIOCSWINSZ, size)

    def close(self) -> None:
        """Take the terminal away; the program ends as it does when a window is closed."""
        process, self._process = self._process, None
        if self._fd >= 0:
            asyncio.get_running_loop().remove_reader(self._fd)
            os.close(self._fd)
            self._fd = -1
        self._told_to_go()
        self._modes.clear()
        self._last = b""
        if process is not None:
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def _told_to_go(self) -> None:
        shown, self._show = self._show, None
        if shown is not None:
            shown.put_nowait(b"")

    def _start(self, width: int, height: int) -> None:
        self._fd, theirs = pty.openpty()
        os.set_blocking(self._fd, False)
        self.resize(width, height)
        environment = {
            name: text for name, text in os.environ.items() if name not in ("COLUMNS", "LINES")
        }
        try:
            self._process = subprocess.Popen(  # noqa: S603  (our own words)
                self.words,
                stdin=theirs,
                stdout=theirs,
                stderr=theirs,
                env={**environment, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
                preexec_fn=_own_terminal,
            )
        finally:
            os.close(theirs)
        asyncio.get_running_loop().add_reader(self._fd, self._read)

    def _read(self) -> None:
        try:
            data = os.read(self._fd, READ_BYTES)
        except BlockingIOError:
            return
        except OSError:  # a terminal whose other end is gone
            data = b""
        if not data:
            self.close()
            return
        for modes, flag in MODE.findall(data):
            for mode in modes.split(b";"):
                self._modes[mode] = flag
        self._last = (self._last + data)[-KEPT_BYTES:]
        if self._show is not None:
            self._show.put_nowait(data)


def _own_terminal() -> None:
    os.setsid()
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    # Until the program says what it does when asked to pause, it is not ended by it.
    signal.signal(signal.SIGUSR1, signal.SIG_IGN)
