"""Asking a round of questions from the command line: full screen, or line by line."""

import argparse
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, ExitStack, contextmanager
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.units import NS_PER_S

if TYPE_CHECKING:
    from coach.journal.journal_lines import Stamp
    from coach.screens.ask import Keeper
    from coach.screens.screen_sequence import Make
    from coach.session.questions import Answer, Asking
    from coach.voice.tended import Tended
    from coach.voice.voice_port import Voice

Say = Callable[[str], None]
# Asks a round on the screen and aloud; the answers by the id of their question.
Ask = Callable[["Asking"], "Mapping[str, Answer]"]

# A question stands until it is answered: it is worth saying when the voice is slow to start, too.
SAID_WITHIN_NS = 30 * NS_PER_S


def on_a_screen(*, plain: bool) -> bool:
    """Whether there is a terminal to draw on, and that is wanted."""
    return not plain and sys.stdin.isatty() and sys.stdout.isatty()


def by_problem(name: str) -> list[str]:
    """What is wrong with a ``--by``, in a list; nothing if it can be kept."""
    from pydantic import ValidationError

    from coach.journal.diary_entries import LONGEST_NAME, LessonDone

    try:
        LessonDone(right=0, of=0, by=name)
    except ValidationError:
        return [f"--by: found {name!r}; allowed: a name of at most {LONGEST_NAME} letters"]
    return []


def stamp() -> "Callable[[], Stamp]":
    """Stamps by the clocks of this computer."""
    from coach.appliance.clock import stamper

    return stamper(time.monotonic_ns)


def speaker(tended: "Tended | None") -> Say | None:
    """Says words at once, "" to be quiet."""
    if tended is None:
        return None
    from coach.voice.voice_port import speak

    voice = tended.voice
    return lambda text: speak(voice, text, now_ns=time.monotonic_ns(), within_ns=SAID_WITHIN_NS)


@contextmanager
def speaking(*, silent: bool) -> "Iterator[Tended | None]":
    """A voice for a round of questions on its own; None where it shall be silent."""
    from coach.cli.keys import settings
    from coach.cli.voice import spoken_voice
    from coach.voice.tended import Tended

    if silent:
        yield None
        return
    voice = spoken_voice(settings().voice)
    try:
        yield Tended(voice)
    finally:
        voice.close()


def speaking_on_screen(*, silent: bool, plain: bool) -> "AbstractContextManager[Tended | None]":
    """The same for a round on the screen: line by line nothing is spoken."""
    return speaking(silent=silent or not on_a_screen(plain=plain))


class Aloud:
    """Speaks; the voice is opened with the first words, so that a screen need not wait for it."""

    def __init__(self, *, silent: bool) -> None:
        self._silent = silent
        self._open = ExitStack()
        self._voice: Tended | None = None

    def say(self, text: str) -> None:
        """Say ``text`` instead of whatever is being said; "" is quiet."""
        if self._silent:
            return
        if self._voice is None:
            self._voice = self._open.enter_context(speaking(silent=False))
        say = speaker(self._voice)
        assert say is not None
        say(text)

    def tend(self) -> None:
        """Let the voice go on with its work."""
        if self._voice is not None:
            self._voice.tend()

    def __enter__(self) -> "Aloud":
        return self

    def __exit__(self, *_: object) -> None:
        # Whoever goes on does not wait for the end of what is said here.
        if self._voice is not None:
            self._voice.voice.silence()
        self._open.close()


def say_last(voice: "Voice", text: str) -> None:
    """Say ``text`` and close the voice when it is said."""
    from coach.voice.voice_port import speak

    # It is closed at once: nobody is there to play what is rendered later.
    voice.prepare([text])
    speak(voice, text, now_ns=time.monotonic_ns(), within_ns=SAID_WITHIN_NS)
    voice.close()


def refused(
    args: argparse.Namespace,
    code: Exit,
    problem: str,
    voice: "Voice | None" = None,
    *,
    aloud: str = "",
) -> int:
    """Say why nothing starts, aloud too where the owner was asked on a screen; close ``voice``."""
    from coach.session.cues import sentence

    print(f"coach: {problem}", file=sys.stderr)
    screen = on_a_screen(plain=args.plain)
    with speaking(silent=args.silent or voice is not None or not screen) as own:
        speaks = own.voice if own is not None else voice
        if speaks is not None and screen:
            say_last(speaks, aloud or sentence(f"{problem}."))
        elif speaks is not None:
            speaks.close()
    return code


class Said:
    """Keeps answers in memory."""

    def __init__(self) -> None:
        self.answers: dict[str, Answer] = {}

    def keep(self, question: str, answer: "Answer") -> str:
        """Keep it; nothing can go wrong."""
        self.answers[question] = answer
        return ""


class NotStarted(Exception):  # noqa: N818  (an answer of the owner, not a failure)
    """The owner said so, or left a question that must be answered: nothing starts."""


def asker(args: argparse.Namespace, *, title: str, voice: "Tended | None" = None) -> Ask | None:
    """What asks a round on the screen and aloud; None where it goes line by line.

    Without ``voice`` each round has one of its own.
    """
    if not on_a_screen(plain=args.plain):
        return None

    def ask(asking: "Asking") -> "Mapping[str, Answer]":
        said = Said()
        with ExitStack() as own:
            speaks = voice or own.enter_context(speaking(silent=args.silent))
            asked(asking, said, title=title, plain=False, look=args.look, voice=speaks)
        return said.answers

    return ask


def rounds(
    screens: "Iterable[Make]",
    *,
    look: str = "dark",
    voice: "Tended | None" = None,
) -> bool:
    """Show screens one after the other, with the owner's own keys; False when one was refused."""
    from coach.cli.keys import settings
    from coach.screens.bindable_keys import key_wishes
    from coach.screens.screen_sequence import RoundsApp

    app = RoundsApp(screens, look=look, tend=None if voice is None else voice.tend)
    keymap = key_wishes().keymap(settings().keys)
    app.set_keymap({action: ",".join(keys) for action, keys in keymap.items()})
    return bool(app.run())


def asked(
    asking: "Asking",
    keeper: "Keeper",
    *,
    title: str,
    plain: bool,
    look: str = "dark",
    voice: "Tended | None" = None,
) -> None:
    """Ask ``asking`` to its end, or until nobody answers any more."""
    if on_a_screen(plain=plain):
        from coach.screens.ask import AskScreen

        say = speaker(voice)
        rounds(
            [
                lambda: AskScreen(
                    asking, keeper=keeper, title=title, mono_ns=time.monotonic_ns, say=say
                )
            ],
            look=look,
            voice=voice,
        )
        return
    from coach.lines.line_mode import ask_plainly

    ask_plainly(asking, keeper.keep, next_line, tell)


def next_line() -> str | None:
    """A line from stdin; None at its end, and when the owner has had enough (Ctrl-C)."""
    try:
        return input()
    except (EOFError, KeyboardInterrupt):
        return None


def tell(text: str) -> None:
    """A line at once."""
    print(text, flush=True)
