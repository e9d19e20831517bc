"""The command line: one file a command, imported late so that help and errors come at once."""

import argparse
import os
import sys
from collections.abc import Sequence

from coach import __version__, catalogue
from coach.cli import (
    after,
    amend,
    bedside,
    caseload,
    check,
    course,
    dose,
    draft,
    handover,
    home,
    household,
    install,
    keys,
    listen,
    regions,
    remind,
    score,
    selfcheck,
    serve,
    session,
    take,
    tally,
    trend,
    verify,
    voice,
)
from coach.cli.exits import EXIT_TABLE, Exit

DESCRIPTION = """\
A spoken, logged session coach for prescribed at-home laser sessions for dogs.
It counts what the timer ran with the head said to be on the dog: coached, not
measured. The prescriber's plan and local laser-safety rules decide."""

EPILOG = """\
examples:
  coach                              home: the dogs, what is due, one key to start
  coach rehearse                     go through the demo plan, laser off
  coach check plans/my-dog.toml      what the plan means: spots, seconds, joules
  coach dose --mean-power 100mW --time 40s    what that makes in joules
  coach session plans/my-dog.toml    coach, speak and log a session
  coach after                        say how the last session went
  coach amend --what laser_was_off   correct what a log says; the log stays
  coach score                        say how the dog is doing, before a session
  coach course                       what is due, given and missed, on the calendar
  coach tally                        what was given against the plan
  coach trend                        your scores over time, beside the dose
  coach regions "lower back"         where a place is, how to hold, a picture
  coach draft                        for the prescriber: write a plan
  coach voice                        hear the voice, set how it speaks and how loud
  coach keys                         what a pedal sends, and what it shall mean
  coach listen                       try the microphone: words instead of keys
  coach verify                       are the journals as they were written?
  coach handover --to /media/stick   a folder for the vet
  coach take /media/stick            the next revision of the plan
  coach install                      let it come up by itself with this computer

"""


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    whole = argparse.ArgumentParser(
        prog="coach",
        description=DESCRIPTION,
        epilog=EPILOG + EXIT_TABLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    languages = catalogue.languages()
    told = "of what the owner reads and hears"
    whole.add_argument("--language", choices=languages, help=told)
    whole.add_argument("--version", action="version", version=f"coach {__version__}")
    commands = whole.add_subparsers(dest="command", metavar="COMMAND")
    for module in (
        home,
        session,
        after,
        amend,
        score,
        household,
        check,
        dose,
        draft,
        regions,
        voice,
        keys,
        listen,
        course,
        tally,
        trend,
        verify,
        handover,
        take,
        caseload,
        install,
        selfcheck,
        serve,
        remind,
        bedside,
    ):
        module.add(commands)
    for name, command in commands.choices.items():
        if name != "dose":  # its words come in any order, and nothing there is for the owner
            command.add_argument(
                "--language", choices=languages, default=argparse.SUPPRESS, help=told
            )
    return whole


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code."""
    args = parser().parse_args(dose.arranged(arguments))
    if args.command is None:
        args = parser().parse_args([*arguments, "home"])
    _speak(args.language)
    try:
        return int(args.run(args))
    except BrokenPipeError:
        # Whoever read our output has gone (``coach tally | head``).
        sys.stderr.close()
        return Exit.DONE


def _speak(asked: str | None) -> None:
    """The owner's language; English, said aloud, when the one that is wished is not there."""
    from coach.places import settings_file

    code, wish = catalogue.wished(asked, os.environ, settings_file())
    try:
        catalogue.speak(code)
    except ValueError as error:
        catalogue.speak("en")
        print(f"coach: {wish}: language: {error}; English is taken instead", file=sys.stderr)
