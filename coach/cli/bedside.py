"""``coach bedside``: what a computer beside the dog bed runs from switching on to switching off."""

import argparse
import os
import sys

from coach.cli.exits import Exit
from coach.cli.running import has_terminal


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "bedside",
        help="what the computer by the dog bed runs; coach install puts it in place",
        description="The home screen, where it leads, and home again. A session that was cut off "
        "is carried on with at once. In a bare compositor it first opens a terminal with letters "
        "as large as the display allows.",
    )
    command.add_argument(
        "--look", choices=("dark", "daylight", "console"), default="dark", help="colours"
    )
    command.add_argument("--silent", action="store_true", help="no voice and no tones")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Open the terminal, or be there until the terminal is gone."""
    if has_terminal():
        from coach.appliance.notify import from_environment
        from coach.bedside.home import by_the_bed
        from coach.cli.running import run_flow

        from_environment().started()
        run_flow(by_the_bed, args)
        return Exit.DONE
    if os.environ.get("WAYLAND_DISPLAY"):
        return _open_terminal(_switches(args))
    print(
        "coach: found neither a terminal nor a compositor; allowed: one of them (coach install "
        "puts it in place). Without a screen: coach session --plain",
        file=sys.stderr,
    )
    return Exit.BAD_INPUT


def _switches(args: argparse.Namespace) -> list[str]:
    return ["--look", args.look, *(["--silent"] if args.silent else [])]


def _open_terminal(switches: list[str]) -> int:
    from coach.appliance.display import displays, terminal_command

    inner = [sys.executable, "-m", "coach", "bedside", *switches]
    words = terminal_command(inner, displays())
    try:
        os.execvp(words[0], words)  # noqa: S606  (a fixed name and our own words)
    except OSError as error:
        print(
            f"coach: the terminal foot cannot be started: {error.strerror}. "
            "On Debian and Raspberry Pi OS: sudo apt-get install foot fonts-dejavu-core",
            file=sys.stderr,
        )
        return Exit.FAILED
