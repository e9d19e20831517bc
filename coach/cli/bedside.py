"""``coach bedside``: what a computer beside the dog bed runs from switching on to switching off."""

import argparse
import os
import sys
import time
from collections.abc import Callable

from coach.cli.exits import Exit
from coach.language import _

RunCommand = Callable[[list[str]], int]


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
    if sys.stdin.isatty() and sys.stdout.isatty():
        from coach.appliance.notify import from_environment
        from coach.cli import run as run_command

        from_environment().started()
        return evening(args.look, run_command, silent=args.silent)
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


def evening(look: str, run_command: RunCommand, *, silent: bool) -> int:
    """What was cut off first, then home, again and again. Ends with the terminal."""
    from coach.bedside.home_status import at_home
    from coach.cli import home
    from coach.screens.terminal import asked_to_end

    for dog in home.homes():
        if at_home(dog.facts).key == "carry_on":
            # A dog lies there with half a session, and both hands are on it.
            run_command(home.words_for("carry_on", dog, look, silent=silent))
            if asked_to_end():
                return Exit.DONE
            if not key_for(_("Press the pedal or any key to go home."), silent=silent):
                return Exit.DONE
            break
    while True:
        home.evening(look, run_command, silent=silent)
        if asked_to_end() or not sys.stdin.isatty():
            return Exit.DONE
        if not key_for(_("Press the pedal or any key to go on."), silent=silent):
            return Exit.DONE


def key_for(text: str, *, silent: bool) -> bool:
    """Say ``text`` and wait for a key; False when nobody can press one any more."""
    from coach.cli.asking import speaking
    from coach.voice.voice_port import speak

    print(f"\n{text}", flush=True)
    with speaking(silent=silent) as own:
        if own is not None:
            # Rendered first: nobody tends the voice while a key is waited for.
            own.voice.prepare([text])
            speak(own.voice, text, now_ns=time.monotonic_ns())
        pressed = any_key()
        if own is not None:
            own.voice.silence()
    return pressed


def any_key() -> bool:
    """Wait for a key; False when nobody can press one any more."""
    import termios
    import tty

    descriptor = sys.stdin.fileno()
    try:
        before = termios.tcgetattr(descriptor)
    except termios.error:
        return False
    try:
        # What was pressed before the question is no answer to it.
        tty.setcbreak(descriptor, termios.TCSAFLUSH)
        return os.read(descriptor, 64) != b""
    except OSError:
        return False
    finally:
        termios.tcsetattr(descriptor, termios.TCSADRAIN, before)


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
