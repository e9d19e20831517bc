"""``coach home``, and ``coach`` alone: the dogs, what is due today, and one key to start."""

import argparse
import datetime
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _

if TYPE_CHECKING:
    from coach.cli.home_facts import Home

RunCommand = Callable[[list[str]], int]


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
    if args.plain or not (sys.stdin.isatty() and sys.stdout.isatty()):
        from coach.bedside.home_status import at_home, home_lines

        print("\n".join(home_lines([at_home(dog.facts) for dog in homes()], now=local_now())))
        return Exit.DONE
    from coach.cli import run as run_command

    return evening(args.look, run_command, silent=args.silent)


def local_now() -> datetime.datetime:
    """The clock on the wall."""
    return datetime.datetime.now().astimezone()


def homes() -> "list[Home]":
    """Every dog at this moment, in the order of their folders."""
    from coach.cli.home_facts import home_of, stamp_now
    from coach.paths import state_folder
    from coach.record.dog_course import local_zone

    folders = sorted(path for path in (state_folder() / "dogs").glob("*") if path.is_dir())
    return [home_of(folder, stamp_now(), local_zone()) for folder in folders]


def evening(look: str, run_command: RunCommand, *, silent: bool) -> int:
    """Home, where it leads, and home again, until it is closed."""
    from coach.bedside.home_status import at_home
    from coach.cli.asking import Aloud
    from coach.cli.bedside import key_for
    from coach.cli.home_pages import opened
    from coach.cli.keys import settings
    from coach.screens.bindable_keys import key_wishes
    from coach.screens.home import HomeApp
    from coach.screens.terminal import asked_to_end

    keymap = key_wishes().keymap(settings().keys)
    at, tells = 0, True
    # A terminal that is gone is none any more: a screen on it would never end.
    while sys.stdin.isatty():
        dogs = homes()
        with Aloud(silent=silent) as aloud:
            app = HomeApp(
                [at_home(dog.facts) for dog in dogs],
                look=look,
                at=at,
                now=local_now,
                opens=opened(dogs),
                say=aloud.say,
                tend=aloud.tend,
                tells=tells,
            )
            app.set_keymap({action: ",".join(keys) for action, keys in keymap.items()})
            wish = app.run()
        if wish is None or asked_to_end():
            return Exit.DONE
        look, at = app.theme, wish.at
        # Nobody is spoken to in the night because a new day has begun.
        tells = wish.name != "look_again"
        if not tells:
            continue
        run_command(words_for(wish.name, dogs[at] if dogs else None, look, silent=silent))
        if asked_to_end() or not sys.stdin.isatty():
            break
        if not key_for(_("Press the pedal or any key to go home."), silent=silent):
            break
    return Exit.DONE


def words_for(name: str, dog: "Home | None", look: str, *, silent: bool = False) -> list[str]:
    """The command behind a key of the home screen."""
    quiet = ["--silent"] if silent else []
    if name == "vet":
        whose = [] if dog is None else [dog.folder.name]
        return ["handover", *whose, "--screen", "--look", look, *quiet]
    if name == "rehearse" or dog is None:
        plan = [] if dog is None or dog.plan_file is None else [str(dog.plan_file.path)]
        return ["rehearse", *plan, "--look", look, *quiet]
    if name == "score":
        return ["score", dog.folder.name, *quiet]
    carry_on = ["--carry-on"] if name == "carry_on" else []
    return ["session", str(dog.folder / "plan.toml"), *carry_on, "--look", look, *quiet]
