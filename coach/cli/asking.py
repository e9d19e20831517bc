"""Asking a round of questions from the command line: full screen, or line by line."""

import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from coach.record.chain import Stamp
    from coach.screens.ask import Keeper
    from coach.session.asking import Asking


def on_a_screen(*, plain: bool) -> bool:
    """Whether there is a terminal to draw on, and that is wanted."""
    return not plain and sys.stdin.isatty() and sys.stdout.isatty()


def by_problem(name: str) -> list[str]:
    """What is wrong with a ``--by``, in a list; nothing if it can be kept."""
    from pydantic import ValidationError

    from coach.record.entries import LONGEST_NAME, LessonDone

    try:
        LessonDone(right=0, of=0, by=name)
    except ValidationError:
        return [f"--by: found {name!r}; allowed: a name of at most {LONGEST_NAME} letters"]
    return []


def stamp() -> "Callable[[], Stamp]":
    """Stamps by the clocks of this computer."""
    from coach.appliance.clock import stamper

    return stamper(time.monotonic_ns)


def asked(asking: "Asking", keeper: "Keeper", *, title: str, plain: bool) -> None:
    """Ask ``asking`` to its end, or until nobody answers any more."""
    if on_a_screen(plain=plain):
        from coach.screens.ask import AskScreen
        from coach.screens.asking_app import RoundsApp

        RoundsApp(
            [lambda: AskScreen(asking, keeper=keeper, title=title, mono_ns=time.monotonic_ns)]
        ).run()
        return
    from coach.plain import ask_plainly

    ask_plainly(asking, keeper.keep, next_line, tell)


def next_line() -> str | None:
    """A line from stdin; None at its end."""
    try:
        return input()
    except EOFError:
        return None


def tell(text: str) -> None:
    """A line at once."""
    print(text, flush=True)
