"""``coach install`` and ``coach uninstall``: let the coach come up by itself beside the dog bed."""

import argparse
import os
import sys
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.appliance.install import Intent, Machine


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add both commands to the command line."""
    install = commands.add_parser(
        "install",
        help="let the coach come up by itself with this computer",
        description="Show what would be put in place so that the coach comes up with this "
        "computer, for the user who runs this; --yes does it. Nothing runs as root; sudo is asked "
        "only to put the display's service in place. What others wrote is never touched.",
    )
    install.add_argument(
        "--screen",
        choices=("kiosk", "console", "none"),
        default="kiosk",
        help="full screen with graphics (kiosk, the default), the plain console, or no display",
    )
    install.add_argument(
        "--no-reminder", action="store_true", help="do not say when a session is due"
    )
    install.add_argument(
        "--tablet", action="store_true", help="also serve a browser (see coach serve)"
    )
    install.set_defaults(run=run_install)
    uninstall = commands.add_parser(
        "uninstall",
        help="take away what install put in place",
        description="Show what would be taken away; --yes does it. Dogs, plans and logs stay.",
    )
    uninstall.set_defaults(run=run_uninstall)
    for command in (install, uninstall):
        command.add_argument("--yes", action="store_true", help="do it, instead of only telling")


def run_install(args: argparse.Namespace) -> int:
    """Tell or do."""
    from coach.appliance.install import to_install

    machine = _machine()
    if machine is None:
        return Exit.BAD_INPUT
    return _carry_out(
        args,
        to_install(machine, screen=args.screen, reminder=not args.no_reminder, tablet=args.tablet),
    )


def run_uninstall(args: argparse.Namespace) -> int:
    """Tell or do."""
    from coach.appliance.install import to_uninstall

    machine = _machine()
    return Exit.BAD_INPUT if machine is None else _carry_out(args, to_uninstall(machine))


def _machine() -> "Machine | None":
    from coach.appliance.install_run import machine_here
    from coach.paths import cache_folder, settings_file, state_folder

    if os.getuid() == 0:
        print(
            "coach: found root; allowed: the user who sits by the dog bed. Nothing of the coach "
            "runs as root; nothing was done.",
            file=sys.stderr,
        )
        return None
    return machine_here(state=state_folder(), cache=cache_folder(), config=settings_file().parent)


def _carry_out(args: argparse.Namespace, intent: "Intent") -> int:
    from coach.appliance.install import lines
    from coach.appliance.install_run import NotDone, do

    if intent.problems:
        for problem in intent.problems:
            print(f"coach: {problem}", file=sys.stderr)
        print("coach: nothing was done", file=sys.stderr)
        return Exit.BAD_INPUT
    print("\n".join(lines(intent, dry=not args.yes)), flush=True)
    if not args.yes:
        return Exit.DONE
    try:
        do(intent)
    except NotDone as error:
        print(f"coach: not done, and nothing after it: {error}", file=sys.stderr)
        return Exit.FAILED
    print("Done.")
    return Exit.DONE
