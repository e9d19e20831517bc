"""SIGTERM ends home and whatever it opened; a terminal that is gone is no fault of the program."""

import os
import signal
from pathlib import Path

import pytest

from coach.cli.exits import Exit
from tests.appliance.conftest import cut_off
from tests.screens.thin import LONG_BACK
from tests.terminal import PATIENCE_S, Terminal

pytestmark = pytest.mark.long


def ended(terminal: Terminal) -> int:
    """The exit code, or the signal as a negative number; nothing is left behind."""
    code = terminal.ended()
    assert terminal.process.poll() is not None
    return code


def test_sigterm_on_home_ends_it(own_world: Path) -> None:
    terminal = Terminal("home", "--silent")
    try:
        terminal.until(lambda text: "Q" in text)
        terminal.process.send_signal(signal.SIGTERM)
        assert ended(terminal) == Exit.DONE
    finally:
        terminal.close()


def test_sigterm_in_what_home_opened_ends_both(own_world: Path) -> None:
    cut_off(own_world)
    terminal = Terminal("home", "--silent", columns=80, rows=24)
    try:
        terminal.until(lambda text: "carry on" in text.lower())
        terminal.press(" ")
        terminal.until(lambda text: "eyewear" in text)
        terminal.process.send_signal(signal.SIGTERM)
        assert ended(terminal) in (Exit.DONE, Exit.ENDED_EARLY)
    finally:
        terminal.close()


def test_a_terminal_that_is_gone_gives_the_code_of_the_session(own_world: Path) -> None:
    terminal = Terminal("rehearse", str(LONG_BACK), "--silent", "--no-lesson", "--no-questions")
    terminal.until(lambda text: "SPACE start" in text)
    terminal.press(" ")
    terminal.until(lambda text: "MOVE" in text)
    terminal.close()
    assert terminal.process.wait(PATIENCE_S) == Exit.ENDED_EARLY


def test_what_was_typed_ahead_answers_no_question_that_was_not_shown(own_world: Path) -> None:
    cut_off(own_world)
    words = ("session", str(own_world / "state/dogs/juniper/plan.toml"), "--plain", "--silent")
    terminal = Terminal(*words, "--carry-on", columns=100, rows=40)
    try:
        # Everything that might be asked, typed before anything is.
        os.write(terminal.fd, b"\n" * 30 + b"yes\n" * 5)
        terminal.until(lambda text: "eyewear" in text.lower())
        terminal.show(3)
        asked = terminal.text.lower()
        assert "hold" not in asked.split("get ready")[-1]
        assert terminal.process.poll() is None
    finally:
        terminal.process.kill()
        terminal.process.wait()
        terminal.close()
