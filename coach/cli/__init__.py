"""The command line: one file a command, imported late so that help and errors come at once."""

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from importlib import import_module

from coach import __version__, translations
from coach.cli.exits import EXIT_TABLE, Exit
from coach.shown import guarded

# Every file of this folder that adds commands, and which: as they stand in the help.
FILES: dict[str, tuple[str, ...]] = {
    "home": ("home",),
    "session": ("session", "rehearse"),
    "after": ("after",),
    "amend": ("amend",),
    "score": ("score",),
    "household": ("household",),
    "check": ("check",),
    "dose": ("dose",),
    "desk": ("desk",),
    "draft": ("draft",),
    "sheet": ("sheet",),
    "regions": ("regions",),
    "voice": ("voice",),
    "keys": ("keys",),
    "listen": ("listen",),
    "course": ("course",),
    "tally": ("tally",),
    "trend": ("trend",),
    "verify": ("verify", "repair", "key"),
    "handover": ("handover",),
    "take": ("take",),
    "backup": ("backup", "restore"),
    "caseload": ("caseload",),
    "call": ("call",),
    "install": ("install", "uninstall"),
    "selfcheck": ("selfcheck",),
    "serve": ("serve",),
    "remind": ("remind",),
    "bedside": ("bedside",),
}

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
  coach backup --stick               all of it, sealed, in case this computer dies
  coach install                      let it come up by itself with this computer

"""


def parser(command: str | None = None) -> argparse.ArgumentParser:
    """The whole command line, or only the part that ``command`` needs: the rest stays unread."""
    whole = argparse.ArgumentParser(
        prog="coach",
        description=DESCRIPTION,
        epilog=EPILOG + EXIT_TABLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    languages = translations.languages()
    told = "of what the owner reads and hears"
    whole.add_argument("--language", choices=languages, help=told)
    whole.add_argument("--version", action="version", version=f"coach {__version__}")
    commands = whole.add_subparsers(dest="command", metavar="COMMAND")
    for file, names in FILES.items():
        if command is None or command in names:
            import_module(f"coach.cli.{file}").add(commands)
    for name, added in commands.choices.items():
        if name != "dose":  # its words come in any order, and nothing there is for the owner
            added.add_argument(
                "--language", choices=languages, default=argparse.SUPPRESS, help=told
            )
    return whole


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code. What it prints is made safe to show."""
    with guarded():
        return _run(arguments)


def _run(arguments: Sequence[str]) -> int:
    words = list(arguments)
    command = _named(words)
    if command == "dose":
        from coach.cli.dose import arranged

        words = arranged(words)
    args = parser(command).parse_args(words)
    if args.command is None:
        args = parser("home").parse_args([*words, "home"])
    _speak(args.language)
    try:
        return int(args.run(args))
    except BrokenPipeError:
        # Whoever read our output has gone (``coach tally | head``).
        sys.stderr.close()
        return Exit.DONE


def _named(words: Sequence[str]) -> str | None:
    """The command that is asked for; None when there is none, or no such one."""
    plain = (word for word in _without_language(words) if not word.startswith("-"))
    first = next(plain, None)
    return first if any(first in names for names in FILES.values()) else None


def _without_language(words: Sequence[str]) -> Iterator[str]:
    """What is left when ``--language CODE`` is taken away."""
    rest = iter(words)
    for word in rest:
        if word == "--language":
            next(rest, None)
        else:
            yield word


def _speak(asked: str | None) -> None:
    """The owner's language; English, said aloud, when the one that is wished is not there."""
    from coach.paths import settings_file

    code, wish = translations.wished(asked, os.environ, settings_file())
    try:
        translations.speak(code)
    except ValueError as error:
        translations.speak("en")
        print(f"coach: {wish}: language: {error}; English is taken instead", file=sys.stderr)
