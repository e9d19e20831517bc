"""Choosing a stick, putting a handover on it, and saying when it may be pulled out."""

import sys
from pathlib import Path

from coach.appliance.drives import Drive, DriveTrouble, borrowed, drives
from coach.cli.exits import Exit
from coach.handover.copy_verified import NotCarried, carry
from coach.language import _


def choose(*, sure: bool) -> Drive | None:
    """The stick that is meant; None after the reason has been told."""
    try:
        found = drives()
    except DriveTrouble as error:
        print(f"coach: {error}", file=sys.stderr)
        return None
    if not found:
        print(_("No stick is plugged in. Plug one in and try again."), file=sys.stderr)
        return None
    for number, drive in enumerate(found, start=1):
        print(
            _("{number}: {name}, {size}").format(
                number=number, name=drive.name, size=drive.size_text
            )
        )
    if len(found) == 1 and sure:
        return found[0]
    print(_("Which one? Type its number, or nothing to leave it:"), end=" ", flush=True)
    try:
        answer = input().strip()
    except EOFError:
        answer = ""
        print()
    if answer.isdecimal() and 1 <= int(answer) <= len(found):
        return found[int(answer) - 1]
    print(_("No stick was chosen. Nothing was done."), file=sys.stderr)
    return None


def put_on(source: Path, drive: Drive) -> int:
    """Carry ``source`` onto ``drive`` and say how it went."""
    if drive.read_only:
        print(_("Nothing can be written on {name}.").format(name=drive.name), file=sys.stderr)
        return Exit.NOT_WRITTEN
    try:
        with borrowed(drive) as stick:
            told = _("Writing on {name} and reading it back ...").format(name=drive.name)
            print(told, flush=True)
            path = carry(source, stick)
    except (DriveTrouble, NotCarried) as error:
        print(_("It is not on the stick: {why}").format(why=error), file=sys.stderr)
        return Exit.NOT_WRITTEN
    print(_("On {name}: {what}").format(name=drive.name, what=path.name))
    print(_("Read back and compared. It is safe to pull the stick out now."))
    return Exit.DONE
