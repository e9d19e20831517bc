"""The real program as a real process: rehearsed through, killed in a hold, given nonsense."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests import programs
from tests.rounds import through

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "plans" / "demo-long-back.toml"


def coach(*words: str, stdin: str | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "coach", *words],
        input=stdin,
        stdin=subprocess.DEVNULL if stdin is None else None,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def journal_lines(path: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def test_a_rehearsal_without_a_terminal_goes_through_every_spot(own_world: Path) -> None:
    done = coach("rehearse", str(DEMO), "--silent", "--speed", "1000")
    assert done.returncode == 0, done.stderr
    assert "No terminal here" in done.stdout
    assert done.stdout.count("HOLD ") - done.stdout.count("END OF HOLD") >= 0
    assert done.stdout.count("END OF HOLD") == 21
    assert "FINISHED" in done.stdout
    (journal,) = own_world.glob("state/dogs/juniper/rehearsals/0*.jsonl")
    kinds = [line["kind"] for line in journal_lines(journal)]
    assert kinds[0] == "session_opened"
    assert kinds[-1] == "session_closed"
    assert kinds.count("hold_ended") == 21


@pytest.mark.long
def test_a_rehearsal_is_never_counted(own_world: Path) -> None:
    coach("rehearse", str(DEMO), "--silent", "--speed", "1000")
    done = coach("tally", str(DEMO))
    assert done.returncode == 0
    assert "No session has been logged yet" in done.stdout


def test_kill_9_in_a_hold_loses_at_most_a_heartbeat(own_world: Path) -> None:
    running = subprocess.Popen(
        [sys.executable, "-m", "coach", "session", str(DEMO), "--plain", "--silent"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert running.stdin is not None
    assert running.stdout is not None
    running.stdin.write(through(DEMO) + "\ngo\n")
    running.stdin.flush()
    for line in running.stdout:
        if "HOLD" in line:
            break
    (journal,) = own_world.glob("state/dogs/juniper/journals/0*.jsonl")
    while journal.read_text(encoding="utf-8").count('"heartbeat"') < 2:
        pass
    running.send_signal(signal.SIGKILL)
    running.wait()
    running.stdin.close()
    running.stdout.close()
    beats = [line for line in journal_lines(journal) if line["kind"] == "heartbeat"]
    given_ns = beats[-1]["data"]["given_ns"]  # type: ignore[index]
    assert given_ns >= 2 * 10**9

    told = coach("tally", str(journal))
    assert told.returncode == 0, told.stderr
    assert "cut off" in told.stdout
    (session,) = json.loads(coach("tally", str(journal), "--json").stdout)["sessions"]
    assert session["state"] == "cut_off"
    assert session["spots"][0]["given_ns"] == given_ns


@pytest.mark.long
def test_a_second_session_of_the_same_dog_is_refused() -> None:
    first = subprocess.Popen(
        [sys.executable, "-m", "coach", "session", str(DEMO), "--plain", "--silent"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert first.stdout is not None
    assert first.stdin is not None
    assert "Get ready" in first.stdout.readline()
    second = coach("session", str(DEMO), "--plain", "--silent", stdin="stop\n")
    first.stdin.write("stop\n")
    first.stdin.close()
    first.stdout.read()
    first.stdout.close()
    assert second.returncode == 4
    assert str(first.pid) in second.stderr
    assert first.wait() == 3


def test_sigterm_stops_and_closes_the_record(own_world: Path) -> None:
    running = subprocess.Popen(
        [sys.executable, "-m", "coach", "session", str(DEMO), "--plain", "--silent"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert running.stdin is not None
    assert running.stdout is not None
    running.stdin.write(through(DEMO) + "\n")
    running.stdin.flush()
    for line in running.stdout:
        if "MOVE" in line:
            break
    running.terminate()
    running.stdout.read()
    assert running.wait() == 3
    running.stdin.close()
    running.stdout.close()
    (journal,) = own_world.glob("state/dogs/juniper/journals/0*.jsonl")
    kinds = [line["kind"] for line in journal_lines(journal)]
    assert kinds[-2:] == ["session_stopped", "session_closed"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["check", "no-such-file.toml"], "no such file"),
        (["session", "no-such-file.toml"], "no such file"),
        (["rehearse", "--speed", "0"], "1 to 1000"),
        (["rehearse", "--speed", "fast"], "1 to 1000"),
        (["sesion"], "invalid choice"),
        (["session"], "no plan given"),
        (["session", "--speed", "5"], "unrecognized arguments"),
    ],
)
def test_nonsense_is_refused_with_exit_code_2_and_nothing_starts(
    words: list[str], told: str, own_world: Path
) -> None:
    done = programs.coach(*words)
    assert done.returncode == 2
    assert told in done.stderr
    assert not (own_world / "state").exists()


def test_help_teaches_with_examples_and_exit_codes() -> None:
    done = coach("--help")
    assert done.returncode == 0
    assert "coach rehearse" in done.stdout
    assert "exit codes" in done.stdout


def test_output_that_nobody_reads_is_no_error() -> None:
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(
        [sys.executable, "-m", "coach", "check", str(DEMO)],
        stdout=writer,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(writer)
    assert done.stderr == ""
