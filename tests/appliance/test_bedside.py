"""What the computer by the dog bed runs, on a real terminal and without one."""

import os
import socket
import subprocess
import sys
from pathlib import Path

from coach.cli.exits import Exit
from tests.terminal import Terminal


def test_it_shows_home_and_comes_back_to_it(manager: socket.socket) -> None:
    terminal = Terminal("bedside", "--silent")
    try:
        # Before any screen: the owner may take hours to come.
        started = manager.recv(4096).decode().splitlines()
        assert {"READY=1", "WATCHDOG_USEC=0"} <= set(started)
        terminal.until(lambda text: "No dog has a plan here yet" in text)
        terminal.press("q")
        terminal.until(lambda text: "any key to go on" in text)
        terminal.press(" ")
        terminal.until(lambda text: "No dog has a plan here yet" in text)
    finally:
        terminal.close()
        assert terminal.process.wait(30) is not None


def test_without_a_screen_it_says_what_it_needs(own_world: Path) -> None:
    environment = {k: v for k, v in os.environ.items() if k != "WAYLAND_DISPLAY"}
    done = subprocess.run(
        [sys.executable, "-m", "coach", "bedside"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    assert done.returncode == Exit.BAD_INPUT
    assert "neither a terminal nor a compositor" in done.stderr
    assert not own_world.exists()
