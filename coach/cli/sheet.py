"""``coach sheet``: the plan on paper for the owner's fridge door."""

import argparse
import sys
from pathlib import Path

from coach.cli.exits import Exit


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "sheet",
        help="the plan on paper: numbered spots, seconds, days to tick, when to stop",
        description="Write the owner's sheet of a plan as PDF: A4 or Letter, in your language.",
    )
    command.add_argument("plan", type=Path, nargs="?", help="plan file (default: your dog's plan)")
    command.add_argument("--out", type=Path, metavar="FILE", help="default: PLAN-sheet.pdf here")
    command.add_argument("--paper", choices=("A4", "Letter"), default="A4")
    command.add_argument("--replace", action="store_true", help="write over a sheet that is there")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the sheet."""
    import datetime

    from coach.cli.plans import load
    from coach.handover.owner_sheet import sheet_pdf
    from coach.plan.spots import spots_of

    plan_file = load(args.plan)
    if plan_file is None:
        return Exit.BAD_INPUT
    plan = plan_file.plan
    out = args.out or Path(f"{plan.about.id}-r{plan.about.revision}-sheet.pdf")
    # The same plan gives the same sheet, whenever it is printed.
    made_at = datetime.datetime.combine(plan.about.prescribed_on, datetime.time(), datetime.UTC)
    content = sheet_pdf(plan, spots_of(plan), paper=args.paper, made_at=made_at)
    try:
        with out.open("wb" if args.replace else "xb") as stream:
            stream.write(content)
    except FileExistsError:
        print(f"{out} is there already. Give --replace or --out.", file=sys.stderr)
        return Exit.BAD_INPUT
    except OSError as error:
        print(f"{out} cannot be written: {error.strerror}.", file=sys.stderr)
        return Exit.BAD_INPUT
    print(f"Written: {out}")
    return Exit.DONE
