"""``coach keys``: what a pedal or key sends, and what it shall mean."""

import argparse
import sys
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coach.voice.settings_file import Settings


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "keys",
        help="what a pedal, page-turner or key sends, and what it shall mean",
        description="Pedals, page-turners and presenters send ordinary keys. Shows what arrives, "
        "and binds it to an action.",
        epilog="examples: coach keys; coach keys --bind one_key; coach keys --bind say pageup",
    )
    choice = command.add_mutually_exclusive_group()
    choice.add_argument(
        "--bind",
        nargs="+",
        metavar=("ACTION", "KEY"),
        help="let KEY mean ACTION; without KEY, the next key that is pressed",
    )
    choice.add_argument("--usual", metavar="ACTION", help="only the usual keys for ACTION again")
    command.set_defaults(run=run)


def read_wishes() -> "Settings":
    """The owner's settings, with what is wrong with them."""
    from coach.paths import settings_file
    from coach.screens.bindable_keys import key_wishes
    from coach.voice.settings_file import read_settings

    return read_settings(settings_file(), key_wishes=key_wishes())


def settings() -> "Settings":
    """The owner's settings; what is wrong with them goes to stderr, and the defaults hold."""
    read = read_wishes()
    for problem in read.problems:
        print(problem, file=sys.stderr)
    return read


def run(args: argparse.Namespace) -> int:
    """Show or bind."""
    from coach.screens.bindable_keys import key_wishes

    if args.bind:
        return _bind(args.bind[0], args.bind[1:])
    if args.usual:
        return _usual(args.usual)
    wishes = key_wishes()
    keymap = wishes.keymap(settings().keys)
    if sys.stdin.isatty() and sys.stdout.isatty():
        _arrivals(keymap, None)
    for action, keys in keymap.items():
        print(f"{action:<10} {', '.join(keys)}")
    return Exit.DONE


def _bind(action: str, keys: list[str]) -> int:
    from coach.paths import settings_file
    from coach.plan.problems import Report
    from coach.screens.bindable_keys import key_wishes
    from coach.voice.settings_file import change_settings

    wishes = key_wishes()
    current = settings()
    if current.problems:
        return _refused(_("nothing bound: the settings file needs mending first"))
    if action in wishes.usual and not keys:
        if not (sys.stdin.isatty() and sys.stdout.isatty()):
            return _refused(_("no terminal to press a key in; name the key: --bind ACTION KEY"))
        pressed = _arrivals(wishes.keymap(current.keys), action)
        if pressed is None:
            return _refused(_("nothing was pressed; nothing bound"))
        keys = [pressed]
    table = {**current.keys, action: [*current.keys.get(action, ()), *keys]}
    report = Report(str(settings_file()), "")
    bound = wishes.of({name: list(listed) for name, listed in table.items()}, report)
    if report:
        return _refused("\n".join(str(problem) for problem in report.problems()))
    try:
        change_settings(settings_file(), "keys", {action: list(bound[action])})
    except OSError as error:
        return _refused(_("the settings cannot be kept: {error}").format(error=error))
    print(f"{action}: {', '.join(wishes.keymap(bound)[action])}")
    return Exit.DONE


def _usual(action: str) -> int:
    from coach.paths import settings_file
    from coach.screens.bindable_keys import key_wishes
    from coach.voice.settings_file import change_settings

    wishes = key_wishes()
    if action not in wishes.usual:
        return _refused(f"found {action!r}; allowed: {', '.join(wishes.usual)}")
    try:
        change_settings(settings_file(), "keys", {action: None})
    except (OSError, ValueError) as error:
        return _refused(_("the settings cannot be kept: {error}").format(error=error))
    print(f"{action}: {', '.join(wishes.keymap(settings().keys)[action])}")
    return Exit.DONE


def _arrivals(keymap: "Mapping[str, tuple[str, ...]]", wanted: str | None) -> str | None:
    from coach.screens.key_tester import ArrivalsApp

    means = {key: action for action, keys in keymap.items() for key in keys}
    return ArrivalsApp(means, wanted).run()


def _refused(why: str) -> int:
    print(f"coach: {why}", file=sys.stderr)
    return Exit.BAD_INPUT
