"""A fault of the program ends no session: the log stays open and can be carried on."""

import sys
from pathlib import Path

import pytest

from coach.bedside.flow import Coach, Flow
from coach.bedside.interrupted_session import find_unfinished
from coach.bedside.runner import Runner
from coach.cli import run
from coach.cli.exits import Exit
from coach.lines.line_mode import PlainCoach
from coach.paths import journal_folder
from coach.screens.driver import EveningApp
from coach.session import commands as cmd
from coach.voice.voice_port import SilentVoice
from tests.screens.thin import LONG_BACK

WORDS = ["session", str(LONG_BACK), "--silent", "--dog", "Juniper"]


def begun(runner: Runner) -> None:
    """So far that there is something to carry on."""
    runner.preparing = None
    runner.do(cmd.Start())
    runner.do(cmd.Go())


def failing_run(app: EveningApp[object]) -> None:
    """An app that has told its fault, as the framework does it, and comes back."""
    step = next(app._flow)
    assert isinstance(step, Coach)
    begun(step.runner)
    app._return_code = 1


def answered(*_: object, **__: object) -> Flow[str]:
    yield from ()
    return ""


@pytest.fixture
def spoken(monkeypatch: pytest.MonkeyPatch, own_world: Path) -> list[str]:
    said: list[str] = []
    monkeypatch.setattr(SilentVoice, "say", lambda _, text, **__: said.append(text))
    monkeypatch.setattr("coach.bedside.session_flow.before_session", answered)
    return said


def test_a_screen_that_fails(
    monkeypatch: pytest.MonkeyPatch, spoken: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    for stream in (sys.stdin, sys.stdout):
        monkeypatch.setattr(stream, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(EveningApp, "run", failing_run)
    assert run(WORDS) == Exit.FAILED
    assert "Switch the laser off" in capsys.readouterr().err
    left_open(spoken)


def test_lines_that_fail(
    monkeypatch: pytest.MonkeyPatch, spoken: list[str], tmp_path: Path
) -> None:
    nothing = (tmp_path / "nothing").open("x+")

    def failing(coach: PlainCoach) -> None:
        begun(coach.runner)
        raise RuntimeError("a fault of ours")

    monkeypatch.setattr(PlainCoach, "run", failing)
    monkeypatch.setattr(sys.stdin, "fileno", lambda: nothing.fileno(), raising=False)
    with pytest.raises(RuntimeError):
        run([*WORDS, "--plain"])
    nothing.close()
    left_open(spoken)


def left_open(spoken: list[str]) -> None:
    folder = journal_folder("Juniper", rehearsal=False)
    unfinished = find_unfinished(folder)
    assert unfinished is not None
    assert unfinished.can_carry_on
    assert "Switch the laser off" in spoken[-1]
