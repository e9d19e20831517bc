"""``coach amend``: say that a session was not as the log has it. The log stays as it is."""

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.journal.diary_entries import Correction

DESCRIPTION = """\
Correct what the log of a session says, or add a note to it. The log is never changed: a new
entry in the dog's diary points at what it corrects, the tally counts by it, and the vet sees
both. Without --spot or --line it is about the whole session."""

EPILOG = """\
what:
  wrong_side      the other side of the dog was treated
  wrong_region    another place was treated
  laser_was_off   the laser gave no light
  not_this_dog    it was another dog (the whole session)
  note            only a note

examples:
  coach amend --what laser_was_off --text "the battery was flat"
  coach amend Juniper --session 12 --what wrong_side --spot 3"""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "amend",
        help="correct what the log of a session says; the log stays",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("dog", nargs="?", metavar="DOG|PLAN", help="default: the only dog")
    command.add_argument(
        "--session", type=int, metavar="N", help="number of the session (default: the last one)"
    )
    command.add_argument("--what", required=True, metavar="WHAT", help="see below")
    command.add_argument("--spot", type=int, metavar="N", help="number of the spot, from 1")
    command.add_argument("--line", type=int, metavar="N", help="line of the log, from 1")
    command.add_argument("--text", default="", metavar="TEXT", help="in your own words")
    command.add_argument("--by", default="", metavar="NAME", help="who says so")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Check the correction, put it in the diary, tell what counts now."""
    from coach.bedside.dogs import NoSuchDog, dog_home
    from coach.journal.diary import DiaryError, write_entry
    from coach.journal.journal import JournalError
    from coach.language import _
    from coach.record.corrected_session import read_amended
    from coach.record.tally import TallyError

    try:
        home = dog_home(args.dog)
    except NoSuchDog as error:
        return _refused([str(error)])
    path = _journal(home.journals, args.session)
    if isinstance(path, str):
        return _refused([path])
    entry = _entry(args, path)
    if isinstance(entry, list):
        return _refused(entry)
    from coach.appliance.clock import stamper

    try:
        write_entry(home.folder, entry, dog=home.name, stamp=stamper(time.monotonic_ns))
        now = read_amended(path)
    except DiaryError as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.NOT_WRITTEN
    except (JournalError, TallyError) as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    from coach.reports.corrections_text import correction_lines
    from coach.reports.session_text import report_lines

    print(_("Written down. The log itself stays as it is."))
    print("\n".join(correction_lines(now)))
    if now.corrected is not None:
        print("\n".join(("", *report_lines(now.corrected))))
    return Exit.DONE


def _entry(args: argparse.Namespace, path: Path) -> "Correction | list[str]":
    """The entry, or everything that is wrong with it."""
    from pydantic import ValidationError

    from coach.journal.diary_entries import CORRECTIONS, LONGEST_NAME, LONGEST_WORDS, Correction
    from coach.journal.journal import JournalError, read_journal

    try:
        lines = read_journal(path).lines
    except JournalError as error:
        return [str(error)]
    spots = len(lines[0]["data"].get("spots", ()))
    allowed = {
        "what": ", ".join(CORRECTIONS),
        "spot": f"1 to {spots}",
        "line": f"a line about a spot, 1 to {len(lines)}",
        "text": f"at most {LONGEST_WORDS} letters",
        "by": f"a name of at most {LONGEST_NAME} letters",
    }
    problems = []
    fields = {name: getattr(args, name) for name in allowed}
    if args.spot is not None and not 1 <= args.spot <= spots:
        problems.append("spot")
    if args.line is not None and not (
        1 <= args.line <= len(lines) and "spot" in lines[args.line - 1]["data"]
    ):
        problems.append("line")
    try:
        entry = Correction.model_validate({"session": path.stem, **fields})
    except ValidationError as error:
        problems += [str(detail["loc"][0]) for detail in error.errors()]
    told = [
        f"--{name}: found {fields[name]!r}; allowed: {allowed[name]}"
        for name in dict.fromkeys(problems)
    ]
    if args.spot is not None and args.line is not None:
        told.append("--line: found with --spot; allowed: one of them")
    if args.what == "not_this_dog" and (args.spot, args.line) != (None, None):
        told.append("--what: found not_this_dog for a part; allowed: for the whole session")
    return told or entry


def _journal(folder: Path, number: int | None) -> Path | str:
    from coach.journal.journal import journal_files, number_of

    files = {number_of(path): path for path in journal_files(folder)}
    if not files:
        return f"no session is logged in {folder}"
    if number is None:
        return files[max(files)]
    if number not in files:
        return f"--session: found {number}; allowed: {min(files)} to {max(files)}"
    return files[number]


def _refused(why: list[str]) -> int:
    print("\n".join(f"coach: {text}" for text in why), file=sys.stderr)
    return Exit.BAD_INPUT
