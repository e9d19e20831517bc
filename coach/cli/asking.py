"""Asking a round of questions from the command line: full screen, or line by line."""

import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from coach.record.chain import Stamp
    from coach.screens.ask import Keeper
    from coach.screens.asking_app import Make
    from coach.session.asking import Asking
    from coach.voice.tended import Tended

Say = Callable[[str], None]


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


def speaker(tended: "Tended | None") -> Say | None:
    """Says words at once, "" to be quiet."""
    if tended is None:
        return None
    from coach.voice.speaker import speak

    voice = tended.voice
    return lambda text: speak(voice, text, now_ns=time.monotonic_ns())


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


def rounds(
    screens: "Iterable[Make]",
    *,
    look: str = "dark",
    voice: "Tended | None" = None,
) -> bool:
    """Show screens one after the other, with the owner's own keys; False when one was refused."""
    from coach.cli.keys import settings
    from coach.screens.asking_app import RoundsApp
    from coach.screens.bindable import key_wishes

    app = RoundsApp(screens, look=look, tend=None if voice is None else voice.tend)
    keymap = key_wishes().keymap(settings().keys)
    app.set_keymap({"one_key": ",".join(keymap["one_key"])})
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
    from coach.plain import ask_plainly

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
