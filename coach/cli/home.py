"""``coach home``, and ``coach`` alone: the dogs, what is due today, and one key to start."""

import argparse

from coach.cli.exits import Exit
from coach.cli.running import has_terminal


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "home",
        help="the dogs, what is due today, one key to start (as coach alone)",
        description="Show each dog: what is due today, how the last session went, and what to do "
        "next. One key starts a session. Without a terminal the same is printed.",
    )
    command.add_argument("--plain", action="store_true", help="print it, line by line")
    command.add_argument(
        "--look", choices=("dark", "daylight", "console"), default="dark", help="colours"
    )
    command.add_argument("--silent", action="store_true", help="no voice and no tones")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Show home; go from there and come back until it is closed."""
    from coach.bedside.home import home
    from coach.cli.running import run_flow

    if args.plain or not has_terminal():
        from coach.bedside.evening import Evening
        from coach.bedside.home import page_now

        evening = Evening()
        print("\n".join(page_now(evening).lines()))
        return Exit.DONE
    run_flow(home, args)
    return Exit.DONE
