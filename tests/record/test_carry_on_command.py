"""A real session is killed in a hold; the next start carries on with it, or closes it."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from coach.cli.exits import Exit
from coach.journal.journal import Journal, journal_files, read_journal
from coach.record.tally import tally_of
from coach.record.verify import verify
from tests.programs import coach
from tests.rounds import eyes, through
from tests.worlds import Clock, header_for, spots_for

pytestmark = pytest.mark.long

ROOT = Path(__file__).parents[2]
SESSION = [sys.executable, "-m", "coach", "session", "plans/demo-long-back.toml"]
WORDS = ["--plain", "--silent"]
PLAN = ROOT / "plans" / "demo-long-back.toml"


@pytest.fixture
def cut(own_world: Path) -> Path:
    """The journal folder after a session was killed right after its first hold began."""
    child = subprocess.Popen(
        [*SESSION, *WORDS], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    with child:
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(through(PLAN) + "\ngo\n")
        child.stdin.flush()
        while "HOLD" not in child.stdout.readline():
            assert child.poll() is None
        child.send_signal(signal.SIGKILL)
    folder = own_world / "state" / "dogs" / "juniper" / "journals"
    (path,) = journal_files(folder)
    assert not read_journal(path).closed
    return folder


def again(*words: str, stdin: str = "") -> subprocess.CompletedProcess[str]:
    return coach(*SESSION[3:], *WORDS, *words, stdin=stdin)


def test_carried_on_it_is_one_session_in_one_whole_signed_journal(cut: Path) -> None:
    done = again("--carry-on", stdin=eyes(PLAN) + "\nstop\n")
    assert done.returncode == Exit.ENDED_EARLY, done.stderr
    (path,) = journal_files(cut)
    tally = tally_of(read_journal(path).lines)
    assert (tally.state, tally.cuts, tally.closed) == ("stopped", 1, True)
    assert verify(path).good
    assert verify(path).signature == "good"


def test_without_a_word_it_is_closed_and_a_new_one_begins(cut: Path) -> None:
    done = again()
    assert "is closed" in done.stdout
    first, second = journal_files(cut)
    tally = tally_of(read_journal(first).lines)
    assert (tally.state, tally.closed) == ("cut_off", True)
    assert verify(first).good
    assert verify(second).good


def test_another_session_that_holds_the_folder_is_left_alone(cut: Path) -> None:
    (path,) = journal_files(cut)
    before = path.read_bytes()
    # Somebody else has the folder open: here a session of another kind, in this very process.
    holder = Journal.create(cut, header=header_for(spots_for([10])), stamp=Clock().stamp)
    try:
        done = again("--carry-on")
    finally:
        holder.close()
    assert done.returncode == Exit.BUSY
    assert "is running: process" in done.stderr
    assert path.read_bytes() == before
