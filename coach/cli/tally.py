"""``coach tally``: what was given against what was planned."""

import argparse
import sys
from pathlib import Path

from coach.cli.exits import Exit


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "tally",
        help="what was given against the plan",
        description="Tally sessions from their journals: seconds, J and J/cm2 by region, side "
        "and spot; what was missed or cut short, and why. Rehearsals never count.",
    )
    command.add_argument(
        "files",
        type=Path,
        nargs="*",
        metavar="PLAN|JOURNAL",
        help="a plan: all its dog's sessions; journals or folders of them; default: all dogs",
    )
    command.add_argument("--json", action="store_true", help="machine-readable")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the tally of every journal meant."""
    from coach.record.journal import JournalError, read_journal
    from coach.record.report import course_lines, tallies_json
    from coach.record.tally import tally_of

    paths, bad = _journals(args.files)
    tallies = []
    for path in paths:
        try:
            reading = read_journal(path)
            for remark in reading.remarks:
                print(remark, file=sys.stderr)
            tallies.append(tally_of(reading.lines))
        except (JournalError, OSError) as error:
            print(f"coach: {error}", file=sys.stderr)
            bad = True
    if args.json:
        import json

        print(json.dumps(tallies_json(tallies), indent=2))
    elif tallies:
        print("\n".join(course_lines(tallies)))
    elif not bad:
        print("No session has been logged yet. Start one with: coach session PLAN")
    return Exit.BAD_INPUT if bad else Exit.DONE


def _journals(given: list[Path]) -> tuple[list[Path], bool]:
    """The journal files meant, and whether something named was no good."""
    from coach import places
    from coach.cli.plans import load

    if not given:
        return sorted((places.state_folder() / "dogs").glob("*/journals/*.jsonl")), False
    found: list[Path] = []
    bad = False
    for path in given:
        if path.suffix == ".toml":
            plan_file = load(path)
            if plan_file is None:
                bad = True
                continue
            folder = places.journal_folder(plan_file.plan.dog.name, rehearsal=False)
            found += sorted(folder.glob("*.jsonl"))
        elif path.is_dir():
            found += sorted(path.glob("*.jsonl"))
        else:
            found.append(path)
    return found, bad
