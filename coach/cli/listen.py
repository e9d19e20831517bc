"""``coach listen``: try the microphone, and let the coach obey spoken words from then on."""

import argparse
import sys
import time
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _, ngettext

if TYPE_CHECKING:
    from coach.voice.listener import Ear, EarReport
    from coach.voice.phrases import Utterance

# The recogniser and the device take a while to come up on a small board.
READY_WITHIN_S = 20.0
SAY_WITHIN_S = 8.0
LOOK_EVERY_S = 0.05
# Of the phrases; fewer, and the keys are the better way in this room.
ENOUGH_PERCENT = 80


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "listen",
        help="try the microphone: say each phrase once, see what was heard",
        description="Say each phrase once, where you will kneel, and see what was heard. If most "
        "are understood and none is taken for another, sessions listen from then on.",
    )
    command.add_argument("--off", action="store_true", help="listen no more")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Try, tell, keep."""
    from coach.voice.listener import ListeningEar

    if args.off:
        return _keep(tried=False)
    ear = ListeningEar()
    ear.start()
    try:
        return trial(ear)
    finally:
        ear.close()


def trial(ear: "Ear", *, say_within_s: float = SAY_WITHIN_S) -> int:
    """Ask for each phrase once; keep that the microphone was tried when it went well."""
    from coach.appliance.clock import today
    from coach.voice.phrases import ACTION_OF, PHRASES, phrase_of

    problem = _not_ready(ear)
    if problem:
        print(f"coach: {problem}", file=sys.stderr)
        print(_("Keys, pedal and button work all the same. Nothing was changed."), flush=True)
        return Exit.BAD_INPUT
    phrases = [phrase for same in PHRASES.values() for phrase in same]
    right = wrong = 0
    for number, phrase in enumerate(phrases, start=1):
        print(
            _("{number} of {of}. Say: {phrase}").format(
                number=number, of=len(phrases), phrase=phrase
            ),
            flush=True,
        )
        utterance = _next(ear, say_within_s)
        heard = phrase_of(utterance.words) if utterance is not None else None
        if utterance is None:
            print("   " + _("I heard nothing."), flush=True)
        elif heard is None:
            words = " ".join(utterance.words).replace("_", " ")
            print("   " + _("That was no command: {words}").format(words=words or "?"), flush=True)
        elif ACTION_OF[heard] == ACTION_OF[phrase]:
            right += 1
            print("   " + _("Heard: {phrase}").format(phrase=heard), flush=True)
        else:
            wrong += 1
            print("   " + _("WRONG, heard: {phrase}").format(phrase=heard), flush=True)
    print(
        ngettext(
            "{right} of {of} understood, {wrong} taken for another command.",
            "{right} of {of} understood, {wrong} taken for other commands.",
            wrong,
        ).format(right=right, of=len(phrases), wrong=wrong)
    )
    result = {"on": today(), "right": right, "wrong": wrong, "of": len(phrases)}
    if wrong or 100 * right < ENOUGH_PERCENT * len(phrases):
        print(_("Better use the keys here. Sessions will not listen."))
        return _keep(tried=False, **result) or Exit.ENDED_EARLY
    return _keep(tried=True, **result)


def _not_ready(ear: "Ear") -> str:
    """Why nobody can listen; "" once the microphone gives sound."""
    ends_s = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < ends_s:
        for told in ear.poll():
            problem = _problem(told)
            if problem is not None:
                return problem
        time.sleep(LOOK_EVERY_S)
    return _("the microphone does not answer")


def _problem(told: "Utterance | EarReport") -> str | None:
    from coach.voice.listener import EarReport

    if not isinstance(told, EarReport):
        return None
    match told.kind:
        case "microphone_ok":
            return ""
        case "microphone_mute":
            return _("the microphone is mute: switch it on, or turn its volume up")
        case "no_recogniser":
            return _("what listens is not installed ({detail}); see the README").format(
                detail=told.detail
            )
        case _:
            return _("no microphone: {detail}").format(detail=told.detail)


def _next(ear: "Ear", within_s: float) -> "Utterance | None":
    from coach.voice.phrases import Utterance

    asked_ns = time.monotonic_ns()
    ends_s = time.monotonic() + within_s
    while time.monotonic() < ends_s:
        for told in ear.poll():
            if isinstance(told, Utterance) and told.begins_ns >= asked_ns and told.words:
                return told
        time.sleep(LOOK_EVERY_S)
    return None


def _keep(*, tried: bool, **result: object) -> int:
    from coach.paths import settings_file
    from coach.voice.settings_file import change_settings

    try:
        change_settings(settings_file(), "listen", {"tried": tried, **result})
    except (OSError, ValueError) as error:
        problem = _("the settings cannot be kept: {error}").format(error=error)
        print(f"coach: {problem}", file=sys.stderr)
        return Exit.BAD_INPUT
    if tried:
        print(_("Sessions listen from now on. Turn it off with coach listen --off."))
    else:
        print(_("Sessions do not listen."))
    return Exit.DONE
