"""The disk fails in the middle of a session: heard, seen, and nothing counted that is not written.

A file that is open for writing keeps a disk from turning read-only in an orderly way (the kernel
refuses the remount), so an error at the write stands in for the disk that the kernel itself turns
read-only, and for the stick that is pulled. The full disk is a real one, where mounting is
allowed.
"""

import errno
import io
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from coach.bedside.runner import NO_JOURNAL, Runner, header_of
from coach.cli.exits import Exit
from coach.journal.disk import Disk
from coach.journal.journal import Journal, journal_files, read_journal
from coach.lines.line_mode import PlainCoach
from coach.record.tally import tally_of
from coach.session.cues import LOG_LOST, every_text
from coach.session.machine import Phase
from coach.units import NS_PER_S
from coach.voice.voice_port import SilentVoice
from tests.e2e.virtual import FakeTime, Script, runner_for
from tests.rounds import through
from tests.screens.one_app import session_app
from tests.worlds import Clock

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "plans" / "demo-long-back.toml"
# The first hold of the demo plan lasts 30 s; a line a second.
WHOLE_LINES = 20


@dataclass
class FailingDisk(Disk):
    """After so many lines every write fails like this."""

    error: int
    lines: int = WHOLE_LINES

    def write(self, fd: int, data: bytes) -> int:
        if self.lines == 0:
            raise OSError(self.error, os.strerror(self.error))
        self.lines -= 1
        return super().write(fd, data)


@dataclass
class Listener(SilentVoice):
    """Keeps what an owner would hear."""

    heard: list[tuple[str, bool]] = field(default_factory=list)

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        self.heard.append((text, urgent))

    def silence(self) -> None:
        self.heard.append(("(silence)", True))


def failing(tmp_path: Path, time: FakeTime, error: int) -> Runner:
    runner = runner_for(DEMO, tmp_path / "unused", time)
    runner.journal.close()
    runner.journal = Journal.create(
        tmp_path / "failing",
        header=header_of(
            runner.plan_file,
            runner.machine.spots,
            runner.machine.options,
            version="test",
            rehearsal=False,
        ),
        stamp=Clock().stamp,
        disk=FailingDisk(error=error),
    )
    runner.voice = Listener()
    return runner


def check(runner: Runner, *, then: str = "") -> None:
    """Told at once, and last but for what can be done ``then``; shown is no more than written."""
    assert isinstance(runner.voice, Listener)
    heard = list(runner.voice.heard)
    if then:
        assert heard.pop()[0].endswith(then)
    assert heard[-2:] == [("(silence)", True), (LOG_LOST, True)]
    assert runner.machine.phase is Phase.STOPPED
    reading = read_journal(runner.path)
    assert len(reading.lines) == WHOLE_LINES
    tally = tally_of(reading.lines)
    written_ns = [spot.given_ns for spot in tally.spots]
    assert list(runner.machine.sitting.given_ns) == written_ns
    assert 0 < written_ns[0] < runner.machine.spots[0].hold_ns
    assert "LOG CANNOT BE WRITTEN" in " ".join(runner.view().notices)


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EROFS, errno.EIO, errno.ENODEV])
def test_line_by_line_it_is_heard_and_seen_at_once(tmp_path: Path, error: int) -> None:
    time = FakeTime()
    runner = failing(tmp_path, time, error)
    out = io.StringIO()
    PlainCoach(runner, Script(time, [(0, "")]), out).run()
    # Heard, then seen; nothing that had been lined up for later is told after it.
    heard, seen = out.getvalue().splitlines()[-2:]
    assert heard.endswith(LOG_LOST)
    assert seen.endswith(NO_JOURNAL)
    check(runner)
    runner.close()
    assert os.strerror(error) in runner.failure
    check(runner)


async def test_on_the_full_screen_it_is_heard_and_seen_at_once(tmp_path: Path) -> None:
    time = FakeTime()
    runner = failing(tmp_path, time, errno.EROFS)
    app = session_app(runner, mono_ns=time)
    async with app.run_test(size=(80, 24)) as pilot:
        # A key that is down when the screen comes means nothing to it.
        time.now_ns += NS_PER_S
        await pilot.press("space")
        while runner.machine.phase is not Phase.STOPPED:
            due_s = runner.next_deadline_s()
            assert due_s is not None
            time.now_ns += round(due_s * NS_PER_S)
            app.beat()
        await pilot.pause()
        shown = app.export_screenshot().replace("&#160;", " ")
        assert "THE LOG CANNOT BE WRITTEN" in shown
        assert "Switch the laser off" in shown
        check(runner, then="Q: close.")
    runner.close()


def test_the_words_for_it_are_rendered_ahead(tmp_path: Path) -> None:
    runner = runner_for(DEMO, tmp_path, FakeTime())
    assert LOG_LOST in every_text(runner.machine.spots, laser_button=False)
    runner.close()


@pytest.fixture
def small_disk(own_world: Path) -> Iterator[Path]:
    """COACH_HOME on a disk of 4 MiB."""
    own_world.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=4m", "coach-test", str(own_world)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        pytest.skip("mounting a tmpfs is not allowed here")
    try:
        yield own_world
    finally:
        subprocess.run(["umount", str(own_world)], check=True)


@pytest.mark.long
def test_a_real_session_on_a_disk_that_fills_up(small_disk: Path) -> None:
    child = subprocess.Popen(
        [sys.executable, "-m", "coach", "session", str(DEMO), "--plain", "--silent"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    with child:
        assert child.stdin is not None
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdin.write(through(DEMO) + "\ngo\n")
        child.stdin.flush()
        while "HOLD" not in child.stdout.readline():
            assert child.poll() is None
        with (small_disk / "ballast").open("wb", buffering=0) as file, suppress(OSError):
            while file.write(b"x" * 512):
                pass
        told = child.stdout.read()
        complaint = child.stderr.read()
        assert child.wait() == Exit.NOT_WRITTEN
    assert LOG_LOST in told
    assert "No space left" in complaint
    (path,) = journal_files(small_disk / "state" / "dogs" / "juniper" / "journals")
    reading = read_journal(path)
    assert (reading.closed, reading.damage) == (False, None)
    assert reading.lines[-1]["kind"] in ("hold_started", "heartbeat")
