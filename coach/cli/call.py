"""``coach call``: for the practice: who was called, by whom, and until when it rests."""

import argparse
import datetime
import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.practice.call_list import Dog

DESCRIPTION = """\
For the practice: note that the owner of a dog was called. What the handovers told up to now is
answered by it and leaves the list; what comes later stands in it again. What only time can change
(behind, silence, a recheck) rests for a week, or until the day of --until, on which the dog is
listed to be called again.

The note is a line in calls.jsonl beside the handovers: only added to, safe for two people at once.
Without DOG the calls are listed."""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "call",
        help="for the practice: note whom you called",
        description=DESCRIPTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("dog", nargs="?", metavar="DOG", help="the name in the list")
    command.add_argument(
        "--in", dest="folder", type=Path, metavar="FOLDER", help="default: the current one"
    )
    command.add_argument("--by", metavar="NAME", help="who called; default: your login name")
    command.add_argument("--note", default="", metavar="TEXT", help="what was said, in one line")
    command.add_argument(
        "--until", type=_day, metavar="DAY", help="to be called again on that day (2026-12-01)"
    )
    command.add_argument(
        "--computer", default="", metavar="KEY", help="of two dogs of one name: letters of its key"
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Note a call, or list them."""
    from coach.plan.problems import PlanProblems
    from coach.practice.call_list import call_list
    from coach.practice.rules import rules_for

    folder: Path = args.folder or Path.cwd()
    now = datetime.datetime.now().astimezone()
    try:
        if args.dog is None:
            return _list(folder)
        rules = rules_for(folder)
        found = call_list(folder, now.date(), rules)
        dogs = [
            dog
            for dog in found.dogs
            if dog.dog.casefold() == args.dog.casefold() and args.computer.lower() in dog.key
        ]
        if len(dogs) != 1:
            return _bad(_which(args.dog, dogs, [dog.dog for dog in found.dogs]))
        return _note(folder, dogs[0], now, args)
    except OSError as error:
        return _bad(f"{error.filename or folder}: {error.strerror or error}")
    except (PlanProblems, ValueError) as error:
        return _bad(str(error))


def _note(folder: Path, dog: "Dog", now: datetime.datetime, args: argparse.Namespace) -> int:
    from pydantic import ValidationError

    from coach.practice.calls import CALLS, add_call

    if args.until is not None and args.until < now.date():
        return _bad(f"--until: found {args.until}; allowed: today or later")
    try:
        call = add_call(
            folder,
            at=now,
            dog=dog.dog,
            device=dog.device,
            by=args.by or getpass.getuser(),
            note=" ".join(args.note.split()),
            until=args.until,
            handover_made=dog.made_at,
        )
    except ValidationError as error:
        one = error.errors(include_url=False, include_input=False)[0]
        return _bad(f"--{one['loc'][0]}: {one['msg'].lower()}")
    except OSError as error:
        print(f"coach: {folder / CALLS}: {error.strerror}; nothing was noted", file=sys.stderr)
        return Exit.NOT_WRITTEN
    again = f"; to be called again on {call.until}" if call.until else ""
    print(f"Noted: {dog.dog} called by {call.by}{again}.")
    return Exit.DONE


def _list(folder: Path) -> int:
    from coach.practice.call_text import shown
    from coach.practice.calls import read_calls

    if not folder.is_dir():
        return _bad(f"{folder}: found no folder; allowed: the folder with the handovers")
    found = read_calls(folder)
    for remark in found.remarks:
        print(f"coach: {remark}", file=sys.stderr)
    for call in found.calls:
        until = f" (again {call.until})" if call.until else ""
        note = f": {shown(call.note)}" if call.note else ""
        print(f"{call.at:%Y-%m-%d %H:%M}  {shown(call.dog)} by {shown(call.by)}{until}{note}")
    if not found.calls:
        print("No call was noted here.")
    return Exit.BAD_INPUT if found.remarks else Exit.DONE


def _which(name: str, dogs: "list[Dog]", known: list[str]) -> str:
    if dogs:
        keys = " or ".join(f"--computer {dog.device[:12]}" for dog in dogs)
        return f"{name}: found {len(dogs)} dogs of that name; allowed: {keys}"
    from coach.plan.problems import meant

    hint = meant(name, known) if known else "no handover is in this folder; say --in FOLDER"
    return f"{name}: found no such dog in the list{f' ({hint})' if hint else ''}"


def _bad(text: str) -> int:
    print(f"coach: {text}", file=sys.stderr)
    return Exit.BAD_INPUT


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"found {text!r}; allowed: a day such as 2026-12-01"
        ) from None
