"""``coach tally``: what was given against what was planned."""

import argparse
import sys
from pathlib import Path

from coach.cli.exits import Exit
from coach.language import _


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    from coach.cli.journals import WHICH

    command = commands.add_parser(
        "tally",
        help="what was given against the plan",
        description="Tally sessions from their journals: seconds, J and J/cm2 by region, side "
        "and spot; what was missed or cut short, and why. What was corrected afterwards "
        "(coach amend) counts as corrected, and is told. Rehearsals never count.",
    )
    command.add_argument(
        "files",
        type=Path,
        nargs="*",
        metavar="PLAN|JOURNAL",
        help=WHICH,
    )
    command.add_argument(
        "--course",
        nargs="?",
        const="",
        metavar="DOG",
        help="one dog's sessions added up, place by place, with a picture of the dog",
    )
    how = command.add_mutually_exclusive_group()
    how.add_argument("--json", action="store_true", help="machine-readable")
    how.add_argument("--csv", action="store_true", help="with --course: a row a spot")
    command.add_argument(
        "--look",
        choices=("colour", "console"),
        help="characters of the picture: braille and blocks, or only what every console has",
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the tally of every journal meant, or that of a dog's course."""
    if args.course is not None:
        from coach.cli.over import run_course

        return run_course(args)
    if args.csv or args.look:
        print("coach tally: --csv, --look: allowed: only together with --course", file=sys.stderr)
        return Exit.BAD_INPUT
    from coach.cli.journals import journals
    from coach.journal.journal import JournalError, journal_files
    from coach.record.corrected_session import read_amended
    from coach.record.tally import TallyError
    from coach.reports.corrections_text import amended_json, correction_lines
    from coach.reports.session_text import course_lines

    paths, bad = journals(args.files, journal_files)
    sessions = []
    for path in paths:
        try:
            session = read_amended(path)
            for remark in session.remarks:
                print(remark, file=sys.stderr)
            sessions.append(session)
        except JournalError as error:
            print(f"coach: {error}", file=sys.stderr)
            bad = True
        except TallyError as error:
            print(f"coach: {path}: {error}", file=sys.stderr)
            bad = True
    if args.json:
        import json

        print(json.dumps(amended_json(sessions), indent=2))
    elif sessions:
        told = [
            line for one in sessions for line in (*correction_lines(one), "") if one.corrections
        ]
        tallies = [one.corrected for one in sessions if one.corrected is not None]
        print("\n".join([*told, *course_lines(tallies)]))
    elif not bad:
        print(_("No session has been logged yet. Start one with: coach session PLAN"))
    return Exit.BAD_INPUT if bad else Exit.DONE
