"""``coach check``: what a plan means, and what a careful colleague would remark."""

import argparse
import textwrap
from pathlib import Path

from coach.cli.exits import Exit
from coach.cli.safety import EXPOSURES, exposure


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "check",
        help="what a plan means: regions, spots, seconds, joules, findings",
        description="Read a plan and say what it means for the owner, or everything that is wrong.",
    )
    command.add_argument("plan", type=Path, nargs="?", help="plan file (default: your dog's plan)")
    command.add_argument(
        "--safety",
        action="store_true",
        help="the laser-safety page of the plan's laser: hazard distance, eyewear, what to cover",
    )
    command.add_argument(
        "--for",
        dest="exposure",
        type=exposure,
        metavar="TIME",
        help=f"--safety for a look of {', '.join(EXPOSURES)} (by itself 10s, below 600 nm 100s)",
    )
    command.add_argument(
        "--findings",
        action="store_true",
        help="every finding whole, with the published rows, their sources and how we saw them",
    )
    command.add_argument("--json", action="store_true", help="machine-readable")
    command.add_argument(
        "--order", action="store_true", help="the order of the spots, the turns, and why"
    )
    command.add_argument(
        "--fields",
        nargs="?",
        const="",
        metavar="TABLE",
        help="every field that a plan file can have, or those of one table, such as regions",
    )
    command.add_argument("--markdown", action="store_true", help="--fields as Markdown")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the plan."""
    if args.fields is not None:
        return _print_fields(args.fields, markdown=args.markdown)
    from coach.appliance.clock import today
    from coach.cli.plans import load
    from coach.plan.order_text import why
    from coach.plan.phase_findings import all_findings
    from coach.plan.spots import session_of
    from coach.plan.summary_text import WIDTH, finding_lines, summary_json, summary_lines

    plan_file = load(args.plan)
    if plan_file is None:
        return Exit.BAD_INPUT
    if args.safety:
        from coach.cli.safety import print_safety

        return print_safety(plan_file.plan.laser, as_json=args.json, exposure_s=args.exposure)
    session = session_of(plan_file.plan)
    spots = session.spots
    found = all_findings(plan_file.plan, today=today())
    if args.json:
        import json

        print(json.dumps(summary_json(plan_file.plan, spots, found), indent=2))
    elif args.findings:
        print("\n".join(finding_lines(found) or ["Findings: none."]))
    elif args.order:
        for line in why(session.items, session.ordered, free=session.free):
            print(textwrap.fill(line, WIDTH, subsequent_indent="  "))
    else:
        print("\n".join(summary_lines(plan_file, spots, found)))
    return Exit.DONE


def _print_fields(table: str, *, markdown: bool) -> int:
    import sys

    from coach.plan.problems import meant
    from coach.plan.reference import models, reference_lines, reference_markdown

    if markdown:
        print(reference_markdown(), end="")
        return Exit.DONE
    if table and table not in models():
        known = ", ".join(models())
        guess = meant(table, list(models()))
        hint = f" ({guess})" if guess else ""
        print(f"--fields: found {table}; allowed: {known}{hint}", file=sys.stderr)
        return Exit.BAD_INPUT
    print("\n".join(reference_lines(table or None)))
    return Exit.DONE
