"""How long a caseload of 100,000 sessions takes, on each engine. By hand, on a quiet machine.

python -m tests.benchmarks.caseload [DOGS] [SESSIONS_EACH]
"""

import sys
import tempfile
import time
from pathlib import Path

from coach.handover.caseload import caseload
from tests.handover.many import many


def main(dogs: int, sessions_each: int) -> None:
    """Write the handovers, then read them with each engine."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        many(folder, dogs, sessions_each)
        print(f"{dogs} handovers, {dogs * sessions_each} sessions")
        answers = []
        for engine in ("sqlite", "duckdb"):
            before = time.perf_counter()
            answers.append(caseload(folder, recent="2026-11-12", engine=engine))
            print(f"{engine:8} {time.perf_counter() - before:6.2f} s, {len(answers[-1].rows)} dogs")
        print("the same answer" if answers[0] == answers[1] else "DIFFERENT ANSWERS")


if __name__ == "__main__":
    main(int((sys.argv[1:] or ["2000"])[0]), int((sys.argv[2:] or ["50"])[0]))
