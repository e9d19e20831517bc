"""Ten years of daily sessions against ten sessions: what opening them costs.

Real processes, each with a home of its own: 3,650 journals of an invented dog with more than a
million lines, and ten of the same kind. Both have been opened before, as every day but the first.
"""

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

from coach.cli.exits import Exit
from tests.benchmarks.frame import Figure, pairs, say
from tests.homes import write_home

YEARS = 3650
FEW = 10
# Some 300 lines a session: 24 spots of 12 s.
HOLD_S = (12,) * 24
PLANS = Path(__file__).parents[2] / "plans"
COMMANDS = {
    "home": ["home", "--plain"],
    "start": ["session", "--plain", "--silent"],
    "tally": ["tally", "--course", "--json"],
    "course": ["course", "--list"],
}
GOAL = 1.2


def measure(*, quick: bool) -> list[Figure]:
    """CPU seconds of each command in both homes."""
    many = YEARS // 10 if quick else YEARS
    figures = []
    with tempfile.TemporaryDirectory(prefix="coach-homes-") as folder:
        big, small = Path(folder) / "big", Path(folder) / "small"
        for home, count in ((big, many), (small, FEW)):
            dog = home / "state" / "dogs" / "pip"
            say(f"writing {count} journals")
            write_home(dog / "journals", count, hold_s=HOLD_S)
            text = (PLANS / "demo-long-back.toml").read_text(encoding="utf-8")
            (dog / "plan.toml").write_text(text.replace("Juniper", "Pip"), encoding="utf-8")
            say("opening it for the first time")
            _seconds(home, COMMANDS["home"])
        lines = sum(
            path.read_bytes().count(b"\n") for path in (big / "state/dogs/pip/journals").iterdir()
        )
        for name, words in COMMANDS.items():
            say(name)
            ours, baseline = pairs(
                lambda words=words: _seconds(big, words),  # type: ignore[misc]
                lambda words=words: _seconds(small, words),  # type: ignore[misc]
                rounds=5 if quick else 15,
            )
            figures.append(
                Figure(
                    name=f"coach {words[0]}: {many} sessions",
                    ours=ours,
                    baseline=baseline,
                    unit="s CPU",
                    against=f"{FEW} sessions",
                    goal=GOAL,
                    note=f"{lines} lines",
                )
            )
    return figures


def _seconds(home: Path, words: list[str]) -> float:
    """CPU seconds of one run: what others do on the machine does not count."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-m", "coach", *words],
        env={**os.environ, "COACH_HOME": str(home)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        check=False,
    )
    if done.returncode not in (Exit.DONE, Exit.ENDED_EARLY):
        raise SystemExit(f"coach {' '.join(words)}: {done.stderr.decode()}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
