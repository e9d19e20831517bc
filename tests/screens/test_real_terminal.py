"""The real program on a real terminal (a pty, read by a terminal emulator), closed from outside."""

import json
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from coach.cli.exits import Exit
from tests.screens.thin import LONG_BACK
from tests.terminal import PATIENCE_S, Terminal


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    """A rehearsal on a terminal of its own; killed if a test leaves it running."""
    words = ("--silent", "--no-lesson", "--no-questions")
    made = Terminal("rehearse", str(LONG_BACK), *words)
    yield made
    if made.process.poll() is None:
        made.process.kill()
        made.process.wait()
    made.close()


def kinds(home: Path) -> list[tuple[str, str]]:
    """Kind and reason of every line of the one rehearsal."""
    (journal,) = home.glob("state/dogs/juniper/rehearsals/0*.jsonl")
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


@pytest.mark.long
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


@pytest.mark.long
def test_a_terminal_that_goes_away_in_a_hold_is_written_down(
    terminal: Terminal, own_world: Path
) -> None:
    holding(terminal)
    terminal.close()
    terminal.process.wait(PATIENCE_S)
    assert ("session_stopped", "closed") in kinds(own_world)
    assert kinds(own_world)[-1][0] == "session_closed"
