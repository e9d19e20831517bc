"""All benchmarks, or those named: ``python -m tests.benchmarks [--quick] [NAME ...]``.

By hand, on a quiet machine; it takes more than an hour, with ``--quick`` some ten minutes.
Figures are printed when all are taken; with ``--json`` those so far are kept after each name.
"""

import argparse
from importlib import import_module
from pathlib import Path

from tests.benchmarks.frame import as_json, machine, table

# Each has a module here with ``measure(quick) -> list[Figure]``.
NAMES = ("board", "log", "ordering", "redraw", "home", "onsets", "handover", "caseload")


def main() -> None:
    """Measure, then print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", choices=[*NAMES, []], metavar="NAME")
    parser.add_argument("--quick", action="store_true", help="fewer and shorter rounds")
    parser.add_argument("--json", type=Path, metavar="FILE", help="keep the figures there too")
    args = parser.parse_args()
    figures = []
    for name in args.names or NAMES:
        figures += import_module(f"tests.benchmarks.{name}").measure(quick=args.quick)
        if args.json is not None:
            args.json.write_text(as_json(figures) + "\n", encoding="utf-8")
    print("\n".join(f"{key}: {value}" for key, value in machine().items()))
    print()
    print(table(figures))


if __name__ == "__main__":
    main()
