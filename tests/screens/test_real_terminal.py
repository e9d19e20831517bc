"""The real program on a real terminal (a pty, read by a terminal emulator), closed from outside."""

import fcntl
import json
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pyte
import pytest

from coach.cli.exits import Exit
from tests.screens.thin import LONG_BACK

PATIENCE_S = 90


class Terminal:
    """A program on a pty of 60x20."""

    def __init__(self, *words: str) -> None:
        self.fd, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 20, 60, 0, 0))
        self.screen = pyte.Screen(60, 20)
        self.stream = pyte.ByteStream(self.screen)
        self.process = subprocess.Popen(
            [sys.executable, "-m", "coach", *words],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env=_environment(),
            preexec_fn=_own_terminal,
        )
        os.close(theirs)

    def until(self, wanted: Callable[[str], bool]) -> str:
        """Read until the screen is as wanted; what it shows then."""
        deadline_s = time.monotonic() + PATIENCE_S
        while not wanted(self.text):
            left_s = deadline_s - time.monotonic()
            assert left_s > 0, f"never seen; last was\n{self.text}"
            if select.select([self.fd], [], [], left_s)[0]:
                self.stream.feed(os.read(self.fd, 65536))
        return self.text

    @property
    def text(self) -> str:
        """The screen."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def press(self, keys: str) -> None:
        """Type."""
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


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    """A rehearsal on a terminal of its own; killed if a test leaves it running."""
    made = Terminal("rehearse", str(LONG_BACK), "--silent")
    yield made
    if made.process.poll() is None:
        made.process.kill()
        made.process.wait()
    made.close()


def kinds(home: Path) -> list[tuple[str, str]]:
    """Kind and reason of every line of the one rehearsal."""
    (journal,) = home.glob("state/dogs/juniper/rehearsals/*.jsonl")
    lines = [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]
    return [(line["kind"], str(line["data"].get("reason", ""))) for line in lines]


def holding(terminal: Terminal) -> None:
    terminal.until(lambda text: "SPACE start" in text)
    terminal.press(" ")
    terminal.until(lambda text: "MOVE" in text and "G go now" in text)
    terminal.press("g")
    shown = terminal.until(lambda text: text.startswith("■■■ HOLD") and "D dog moved" in text)
    assert "REHEARSAL: LASER OFF" in shown


def test_stop_and_close_by_the_keys(terminal: Terminal, own_world: Path) -> None:
    holding(terminal)
    terminal.press("x")
    terminal.until(lambda text: "Switch the laser off." in text and "Q close" in text)
    assert ("session_stopped", "asked") in kinds(own_world)
    terminal.press("q")
    assert terminal.ended() == Exit.ENDED_EARLY
    assert kinds(own_world)[-1][0] == "session_closed"


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_signal_in_a_hold_is_written_down(
    terminal: Terminal, own_world: Path, number: signal.Signals
) -> None:
    holding(terminal)
    terminal.process.send_signal(number)
    assert terminal.ended() == Exit.ENDED_EARLY
    said = kinds(own_world)
    assert said[-3:] == [
        ("hold_ended", "stopped"),
        ("session_stopped", "closed"),
        ("session_closed", ""),
    ]


def test_a_terminal_that_goes_away_in_a_hold_is_written_down(
    terminal: Terminal, own_world: Path
) -> None:
    holding(terminal)
    terminal.close()
    terminal.process.wait(PATIENCE_S)
    assert ("session_stopped", "closed") in kinds(own_world)
    assert kinds(own_world)[-1][0] == "session_closed"
