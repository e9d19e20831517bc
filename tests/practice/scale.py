"""How reading and asking grow with the number of handovers, by hand (README and closing notes).

python -m tests.practice.scale 100 1000 10000 [--url postgresql://...]

Each step runs in a process of its own, which tells its time and its peak memory: the first reading,
the second one over unchanged handovers, and the question on each engine. Ten handovers a dog, each
with more of its twenty sessions than the one before; only the files that the list reads.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HANDOVERS_EACH = 10
SESSIONS_EACH = 20
MIB = 1 << 10


def step(what: str, folder: Path, url: str) -> None:
    """One measurement, told as JSON."""
    from coach.practice.call_list import answered, call_list_on_database
    from coach.practice.duck import duck_of, write_lake
    from coach.practice.rules import house_rules
    from coach.practice.store import SqliteStore, load, with_store
    from tests.practice.many import TODAY

    rules = house_rules()
    started = time.perf_counter()
    took: dict[str, float] = {}

    def work(store: SqliteStore) -> None:
        load(store, folder, rules)
        took["read"] = time.perf_counter() - started
        if what == "lake":
            write_lake(store, folder.parent / "lake", practice="p")
        elif what in ("ask", "duckdb"):
            engine = duck_of(store) if what == "duckdb" else store
            took["filled"] = time.perf_counter() - started
            dogs = answered(engine, folder, TODAY, rules, ()).dogs
            took["dogs"] = len(dogs)

    if what == "postgresql":
        call_list_on_database(folder, TODAY, rules, url=url)
    else:
        with_store(folder, rules, [], work)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MIB
    print(json.dumps({**took, "all": time.perf_counter() - started, "peak_mib": round(peak)}))


def main() -> None:
    """Write, measure, tell."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("counts", type=int, nargs="*", default=[100, 1000])
    parser.add_argument("--url", default="")
    parser.add_argument("--steps", nargs="*", default=["first", "second", "ask", "duckdb", "lake"])
    parser.add_argument("--step", nargs=2)
    args = parser.parse_args()
    if args.step:
        step(args.step[0], Path(args.step[1]), args.url)
        return
    from tests.practice.many import many

    steps = args.steps
    steps += ["postgresql", "postgresql"] if args.url else []
    for count in args.counts:
        with tempfile.TemporaryDirectory(prefix="scale-") as name:
            folder = Path(name) / "in"
            many(folder, max(1, count // HANDOVERS_EACH), SESSIONS_EACH, handovers=HANDOVERS_EACH)
            home = {**os.environ, "COACH_HOME": f"{name}/home"}
            for what in steps:
                words = [sys.executable, "-m", "tests.practice.scale", "--step", what, str(folder)]
                words += ["--url", args.url]
                done = subprocess.run(words, env=home, capture_output=True, text=True, check=True)
                print(count, what, done.stdout.strip(), flush=True)


if __name__ == "__main__":
    main()
