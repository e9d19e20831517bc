"""``coach take``: a new plan from the prescriber takes the place of the one in use."""

import argparse
import datetime
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.plan.files import PlanFile

DESCRIPTION = """\
Take a new plan, or the next revision of the plan in use. It is checked, what it changes for you is
shown, and you are asked before anything happens. The old plan is kept. An older revision, a plan
for another dog and a plan that is over are refused."""

EPILOG = """\
where the plan is:
  FILE.toml      this file
  FOLDER         the plan in it
  --stick        the plan on a stick that is plugged in

A signature lies beside the plan as FILE.toml.sig; the prescriber makes it with `coach key --sign
FILE.toml`. `coach take --know KEY --name "Dr. Ada Muster"` remembers whose key it is; get the key
from the prescriber in person or on paper.

A plan without a known signature needs its check number when something in it looks wrong, or once a
key is known here: `coach check` prints it for the prescriber, who reads it to you over the
phone."""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "take",
        help="take a new plan: checked, compared, asked; the old one is kept",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("plan", type=Path, nargs="?", metavar="PLAN|FOLDER")
    command.add_argument(
        "--stick", action="store_true", help="the plan lies on a stick: you choose which"
    )
    command.add_argument(
        "--number",
        metavar="N",
        help="the plan's check number, 12 digits; your vet reads it to you over the phone",
    )
    command.add_argument("--yes", action="store_true", help="do not ask")
    command.add_argument("--know", metavar="KEY", help="remember a prescriber's public key (hex)")
    command.add_argument("--name", metavar="NAME", help="whose key it is")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Check, compare, ask, take."""
    from coach import paths
    from coach.handover.take_plan import NotTaken, known_keys

    now = datetime.datetime.now().astimezone()
    if args.stick and args.plan is None and args.know is None:
        return _from_stick(args)
    if args.know is not None or args.plan is None or args.stick:
        return _know(args)
    new = _found(args.plan, now.date())
    if new is None:
        return Exit.BAD_INPUT
    try:
        known = known_keys(paths.prescriber_keys_file())
        return _take(new, known, now, sure=args.yes, number=args.number)
    except (NotTaken, ValueError) as error:
        return _refused(str(error))
    except OSError as error:
        print(f"coach: {error.filename}: {error.strerror}; nothing was taken", file=sys.stderr)
        return Exit.NOT_WRITTEN


def _from_stick(args: argparse.Namespace) -> int:
    """Mount the stick if nobody has, take the plan on it, let go of it again."""
    from coach.appliance.drives import DriveTrouble, borrowed
    from coach.cli.stick import choose
    from coach.language import _

    drive = choose(sure=args.yes)
    if drive is None:
        return Exit.BAD_INPUT
    try:
        with borrowed(drive) as stick:
            args.plan, args.stick = stick, False
            code = run(args)
    except DriveTrouble as error:
        return _refused(str(error))
    print(_("It is safe to pull the stick out now."))
    return code


def _take(
    new: "PlanFile",
    known: dict[str, str],
    now: datetime.datetime,
    *,
    sure: bool,
    number: str | None,
) -> int:
    from coach import paths
    from coach.handover.kept import load_kept
    from coach.handover.take_guard import (
        NO_SECOND_CHECK,
        grave,
        needs_number,
        second_check_missing,
    )
    from coach.handover.take_plan import PLAN, check_follows, put_in_place, signed_by
    from coach.handover.take_plan_text import change_lines, head_lines, second_look_lines
    from coach.language import _
    from coach.plan.problems import PlanProblems

    folder = paths.dog_folder(new.plan.dog.name)
    before = None
    if (folder / PLAN).exists():
        try:
            before = load_kept(folder / PLAN, today=now.date())
        except PlanProblems as problems:
            print(_("The plan in use cannot be read and is set aside:"))
            print(problems)
    check_follows(new, before)
    signed = signed_by(new, known)
    print("\n".join(head_lines(new.plan, signed)))
    if signed.state == "bad":
        return _refused(f"{new.path}.sig: THE SIGNATURE DOES NOT HOLD; the plan is not taken")
    others = [] if before else sorted(p.parent.name for p in paths.own_plans())
    print("\n".join(change_lines(None if before is None else before.plan, new.plan, others)))
    print("\n".join(second_look_lines(new.plan, today=now.date())))
    if second_check_missing(new.plan, signatures=signed.count):
        return _refused(str(_(NO_SECOND_CHECK)))
    reasons = grave(new.plan, None if before is None else before.plan, today=now.date())
    why = needs_number(new.plan, signed, keys_known=bool(known), reasons=reasons)
    if why and not _number_agrees(new, why, number, ask=not sure):
        return Exit.BAD_INPUT
    if not sure and not _agreed():
        print(_("Nothing was changed."))
        return Exit.BAD_INPUT
    kept = put_in_place(new, folder, at=now)
    print(_("Taken on {day}.").format(day=now.date()))
    if kept is not None:
        print(_("The old plan is kept: {path}").format(path=kept))
    return Exit.DONE


def _number_agrees(new: "PlanFile", why: list[str], number: str | None, *, ask: bool) -> bool:
    from coach.handover.take_guard import ASK_NUMBER, WRONG_NUMBER
    from coach.language import _
    from coach.plan.check_number import same_number

    print("\n".join(why))
    if number is None and ask:
        print(_(ASK_NUMBER), end=" ", flush=True)
        try:
            number = input()
        except EOFError:
            print()
    if number is None or not number.strip():
        _refused(_("the check number is needed; nothing was changed"))
        return False
    if not same_number(number, new.digest):
        _refused(_(WRONG_NUMBER))
        return False
    return True


def _agreed() -> bool:
    from coach.language import _

    print(_("Take this plan? Type yes, or no:"), end=" ", flush=True)
    try:
        answer = input().strip().casefold()
    except EOFError:
        # Nobody answers: then nothing happens.
        answer = ""
        print()
    return answer in {"yes", "y", *_("y, yes").split(", ")}


def _found(path: Path, today: datetime.date) -> "PlanFile | None":
    """The one plan that is meant; None after the reason has been told."""
    from coach.cli.plans import load
    from coach.handover.take_plan import plans_in

    if not path.is_dir():
        return load(path)
    plans, problems = plans_in(path, today=today)
    if len(plans) == 1:
        return plans[0]
    for problem in problems:
        print(problem, file=sys.stderr)
    names = ", ".join(plan.path.name for plan in plans) or "no plan"
    _refused(f"{path}: found {names}; allowed: one plan, or name the file")
    return None


def _know(args: argparse.Namespace) -> int:
    from coach import paths
    from coach.cli.verify import public_key
    from coach.handover.take_plan import add_key, known_keys
    from coach.language import _

    if args.know is None or args.plan is not None or not (args.name or "").strip():
        return _refused(
            "found neither or too much; allowed: PLAN, or --stick, or --know KEY --name NAME"
        )
    try:
        key = public_key(args.know)
        before = known_keys(paths.prescriber_keys_file()).get(key)
        add_key(paths.prescriber_keys_file(), name=args.name.strip(), public_key=key)
    except (ValueError, argparse.ArgumentTypeError) as error:
        return _refused(f"--know: {error}")
    if before is not None:
        print(_("Until now this key was known as {name}.").format(name=before))
    print(_("Known from now on: {name}").format(name=args.name.strip()))
    return Exit.DONE


def _refused(why: str) -> int:
    print(f"coach: {why}", file=sys.stderr)
    return Exit.BAD_INPUT
