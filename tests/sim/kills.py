"""kill -9 of the real program at random moments, again and again.

The program runs a rehearsal fast, line by line, on the real disk. What it had told on stdout
before it died must be in the journal, and the journal must hold: the disk comes before the owner.

    python -m tests.sim.kills 200         two hundred kills
    python -m tests.sim.kills 200 7       the same from seed 7 on
"""

import os
import random
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from coach.journal.journal import JournalUnreadable, journal_files, read_journal
from coach.record.tally import tally_of
from coach.record.verify import verify

ROOT = Path(__file__).parents[2]
WORDS = ["plans/demo-long-back.toml", "--plain", "--silent", "--advance", "auto", "--speed", "100"]


def kill_once(seed: int, home: Path) -> str:
    """One kill; returns what state it found the session in. AssertionError when it broke."""
    dice = random.Random(seed)
    told_lines = dice.randint(1, 95)
    child = subprocess.Popen(
        [sys.executable, "-m", "coach", "rehearse", *WORDS],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "COACH_HOME": str(home)},
    )
    told: list[str] = []
    with child:
        assert child.stdout is not None
        # Killed after a random line, plus a random instant that falls anywhere between writes.
        for line in child.stdout:
            told.append(line)
            if len(told) == told_lines:
                for _ in range(dice.randint(0, 20_000)):
                    pass
                child.send_signal(signal.SIGKILL)
                break
        told += child.stdout.readlines()
    (path,) = journal_files(home / "state" / "dogs" / "juniper" / "rehearsals")
    try:
        reading = read_journal(path)
    except JournalUnreadable:
        assert not any("MOVE" in line for line in told), f"seed {seed}: told, but not written"
        return "killed before the first line"
    assert reading.damage is None, f"seed {seed}: {reading.damage}"
    tally = tally_of(reading.lines)
    assert tally.problems == (), f"seed {seed}: {tally.problems}"
    kinds = Counter(line["kind"] for line in reading.lines)
    for kind, words in (
        ("move_started", "MOVE to spot"),
        ("hold_started", "] HOLD "),
        ("hold_ended", "END OF HOLD"),
        ("session_finished", "FINISHED"),
    ):
        heard = sum(words in line for line in told)
        assert kinds[kind] >= heard, f"seed {seed}: {heard} x {kind} told, {kinds[kind]} written"
    for spot in tally.spots:
        assert spot.given_ns <= spot.planned_ns, f"seed {seed}: spot {spot.index + 1}"
    verdict = verify(path).verdict
    assert verdict == ("whole" if reading.closed else "not_closed"), f"seed {seed}: {verdict}"
    return "closed already" if reading.closed else f"{tally.state} after a kill"


def main(words: Sequence[str]) -> int:
    """Kill so many times, from a seed on."""
    times, first = int(words[0]), int(words[1]) if len(words) > 1 else 0
    found: Counter[str] = Counter()
    for seed in range(first, first + times):
        with tempfile.TemporaryDirectory(prefix="coach-kill-") as home:
            found[kill_once(seed, Path(home))] += 1
    for what, count in found.most_common():
        print(f"{count:6} {what}")
    print(f"{times} kills, all journals hold")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
