"""Running a flow from the command line: on the screen, or line by line."""

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from coach.bedside.evening import Evening
    from coach.bedside.flow import Flow

T = TypeVar("T")


def has_terminal() -> bool:
    """Whether somebody sits at a terminal."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def on_a_screen(*, plain: bool) -> bool:
    """Whether there is a terminal to draw on, and that is wanted."""
    return not plain and has_terminal()


def run_flow(
    flow_of: "Callable[[Evening], Flow[T]]",
    args: "argparse.Namespace",
    *,
    record: "Path | None" = None,
    speaks_in_lines: bool = False,
) -> T | None:
    """Run a flow for ``args`` (plain, look, silent, where there are such); what it returns.

    None when nobody was there any more. What has to be told at last goes to stderr, once the
    screen is gone. Line by line nothing is spoken, unless ``speaks_in_lines``.
    """
    from coach import __version__
    from coach.bedside.evening import Evening
    from coach.bedside.speech import Speech
    from coach.cli.keys import read_wishes
    from coach.screens.bindable_keys import key_wishes

    wishes = read_wishes()
    screen = on_a_screen(plain=getattr(args, "plain", False))
    silent = getattr(args, "silent", False) or not (screen or speaks_in_lines)
    evening = Evening(
        speech=Speech(wishes.voice, silent=silent, record=record),
        attended=has_terminal(),
        listens=wishes.listens,
        version=__version__,
        notes=[str(problem) for problem in wishes.problems],
    )
    try:
        if screen:
            from coach.screens import spoken_help
            from coach.screens.driver import EveningApp, run

            evening.driver_says = spoken_help.every_sentence
            speech = evening.speech
            return run(
                EveningApp(
                    flow_of(evening),
                    look=getattr(args, "look", "dark"),
                    keys=key_wishes().keymap(wishes.keys),
                    say=None if silent else speech.say,
                    tend=None if silent else speech.tend,
                )
            )
        from coach.lines.driver import run_in_lines

        return run_in_lines(
            flow_of(evening), typed=sys.stdin, out=sys.stdout, attended=evening.attended
        )
    finally:
        evening.speech.close()
        for note in evening.take_notes():
            print(note, file=sys.stderr)


def by_problem(name: str) -> list[str]:
    """What is wrong with a ``--by``, in a list; nothing if it can be kept."""
    from pydantic import ValidationError

    from coach.journal.diary_entries import LONGEST_NAME, LessonDone

    try:
        LessonDone(right=0, of=0, by=name)
    except ValidationError:
        return [f"--by: found {name!r}; allowed: a name of at most {LONGEST_NAME} letters"]
    return []
