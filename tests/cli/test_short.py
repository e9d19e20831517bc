"""Short sessions and the order told, by the real program: what it says, writes and refuses."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from coach.cli.exits import Exit
from coach.journal.journal import journal_files, read_journal
from coach.record.tally import tally_of
from coach.record.verify import verify
from tests.programs import coach
from tests.rounds import eyes, through

ROOT = Path(__file__).parents[2]
HIPS = ROOT / "plans" / "demo-big-hips.toml"


def rehearse(*words: str) -> subprocess.CompletedProcess[str]:
    return coach("rehearse", str(HIPS), "--plain", "--silent", "--speed", "1000", *words)


def test_what_is_left_for_next_time_is_said_before_the_start_and_recorded(own_world: Path) -> None:
    done = rehearse("--minutes", "10")
    assert done.returncode == Exit.DONE, done.stderr
    before, _, after = done.stdout.partition("Press Enter to start.")
    # Settle 2 x 40 s and ten of the lower back at 50 s are 580 s; the next would be 630.
    assert "Today 12 of 25 spots, 9:40 of 10:00 minutes." in before
    assert "  hip, left, lateral: 1 spot" in before
    assert "Left for next time from the start, not missed:" in after
    folder = own_world / "state" / "dogs" / "barnaby" / "rehearsals"
    (path,) = journal_files(folder)
    header = read_journal(path).lines[0]["data"]
    assert len(header["spots"]) == 12
    assert {spot["position"] for spot in header["spots"]} == {"sternal"}
    tally = tally_of(read_journal(path).lines)
    assert tally.state == "finished"
    assert len(tally.left_for_next) == 13
    assert {spot.outcome for spot in tally.spots} == {"given"}
    assert verify(path).good
    told = json.loads(coach("tally", "--json", str(path)).stdout)
    assert len(told["sessions"][0]["left_for_next"]) == 13


@pytest.mark.long
def test_a_short_session_that_was_cut_is_carried_on_as_short_as_it_was(own_world: Path) -> None:
    words = ["session", str(HIPS), "--plain", "--silent"]
    with subprocess.Popen(
        [sys.executable, "-m", "coach", *words, "--minutes", "10"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as child:
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(through(HIPS) + "\ngo\n")
        child.stdin.flush()
        while "HOLD" not in child.stdout.readline():
            assert child.poll() is None
        child.kill()
    done = coach(*words, "--carry-on", stdin=eyes(HIPS) + "\nstop\n")
    assert done.returncode == Exit.ENDED_EARLY, done.stderr
    (path,) = journal_files(own_world / "state" / "dogs" / "barnaby" / "journals")
    tally = tally_of(read_journal(path).lines)
    assert (len(tally.spots), len(tally.left_for_next), tally.cuts) == (12, 13, 1)
    assert verify(path).good


@pytest.mark.parametrize(
    ("minutes", "words"), [("0", "allowed: whole minutes"), ("1", "not one ordered spot fits")]
)
def test_what_cannot_be_made_so_short_starts_nothing(
    own_world: Path, minutes: str, words: str
) -> None:
    done = rehearse("--minutes", minutes)
    assert done.returncode == Exit.BAD_INPUT
    assert words in done.stderr
    assert not list(own_world.rglob("*.jsonl"))


def test_the_prescriber_can_forbid_it(own_world: Path, tmp_path: Path) -> None:
    plan = tmp_path / "hips.toml"
    text = HIPS.read_text(encoding="utf-8")
    plan.write_text(text.replace("[session]", "[session]\nmay_be_shortened = false"))
    done = coach("rehearse", str(plan), "--plain", "--silent", "--minutes", "10")
    assert done.returncode == Exit.BAD_INPUT
    assert "the prescriber does not allow a shorter session" in done.stderr
    assert "may not be shortened" in coach("check", str(plan)).stdout
    assert not list(own_world.rglob("*.jsonl"))


def test_near_and_far_side_by_the_owners_seat(own_world: Path) -> None:
    # Moving on by itself no key cuts off what is said; cues come out by their time.
    lines = rehearse("--owner-sits", "left", "--advance", "auto").stdout.splitlines()
    stamped = [line.split("] ", 1)[1] for line in lines if line.startswith("[")]
    said = [text for text in stamped if not text.startswith(("MOVE", "HOLD", "END"))]
    first = said.index("Lower back, left, spot one.")
    assert said[first + 1] == "The side nearest you."
    first = said.index("Lower back, right, spot one.")
    assert said[first + 1] == "The far side."
    turn = said.index("Turn the dog: right side up.")
    assert said[turn + 1 : turn + 3] == [
        "Right hip joint, outside.",
        "The side nearest you, on top.",
    ]
    knee = said.index("Left knee, inside.")
    assert said[knee + 1] == "The far side, underneath."


def test_check_tells_the_turns_and_with_order_also_why() -> None:
    words = " ".join(coach("check", str(HIPS)).stdout.split())
    assert "2 turns of the dog, 30 s each" in words
    order = coach("check", str(HIPS), "--order").stdout
    assert all(len(line) <= 60 for line in order.splitlines())
    words = " ".join(order.split())
    assert "What the plan calls first comes first" in words
    assert "2 turns of the dog: no order within these rules has fewer." in words
    # 1040 s of hold, 25 moves of 10 s, two turns of 30 s.
    assert "22:30 in all: 17:20 holding, 4:10 moving, 1:00 turns." in words


def test_a_pinned_order_is_told_beside_the_free_one(tmp_path: Path) -> None:
    plan = tmp_path / "hips.toml"
    text = HIPS.read_text(encoding="utf-8")
    plan.write_text(text.replace("[session]", "[session]\npinned = true"), encoding="utf-8")
    words = " ".join(coach("check", str(plan), "--order").stdout.split())
    assert "The plan pins the order of the spots" in words
    assert "A free order would have" in words
