"""``coach serve``: the coach in the browser of a tablet beside the dog bed."""

import argparse
import sys
import time
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _

if TYPE_CHECKING:
    from collections.abc import Callable

    from coach.appliance.access_code import Door

PORT = 8765
SAY_AGAIN_AFTER_NS = 20_000_000_000


def _port(text: str) -> int:
    if not text.isdigit() or not 1024 <= int(text) <= 65_535:
        raise argparse.ArgumentTypeError(f"found {text!r}; allowed: a whole number, 1024 to 65535")
    return int(text)


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "serve",
        help="the coach in the browser of a tablet",
        description="Serve the screen of coach bedside to a browser. Only this device can reach "
        "it, unless --network is given: then each browser needs a code once, which the device "
        "shows and says. One browser has the screen at a time; sound stays on the device. When "
        "the browser goes away in a session, the session pauses and waits for it for half an hour.",
    )
    command.add_argument(
        "--network", action="store_true", help="let browsers in the house's network in, by code"
    )
    command.add_argument("--port", type=_port, default=PORT, help=f"default {PORT}")
    command.add_argument("--silent", action="store_true", help="no voice and no tones")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Serve until stopped."""
    try:
        from coach.appliance.web import CoachServer
    except ModuleNotFoundError as error:
        print(
            f"coach: {error.name} is not installed. In the project's folder: "
            f"{sys.executable} -m pip install -e '.[serve]'",
            file=sys.stderr,
        )
        return Exit.BAD_INPUT
    import secrets
    import socket

    from coach.appliance.access_code import Door

    door = None
    host, name = "127.0.0.1", "localhost"
    if args.network:
        host, name = "0.0.0.0", socket.gethostname()  # noqa: S104  (asked for, and behind a code)
        door = Door(
            draw_code=lambda: f"{secrets.randbelow(10**6):06d}",
            draw_token=secrets.token_urlsafe,
            mono_ns=time.monotonic_ns,
        )
    words = [sys.executable, "-m", "coach", "bedside", *(["--silent"] if args.silent else [])]
    try:
        # Taken before it is told, so that what is told is true.
        listening = socket.create_server((host, args.port))
    except OSError as error:
        print(f"coach: port {args.port}: {error.strerror}; choose another: --port", file=sys.stderr)
        return Exit.BAD_INPUT
    print(
        _("Open in a browser: {address}").format(address=f"http://{name}:{args.port}"), flush=True
    )
    CoachServer(
        words, listening=listening, door=door, asked=_shower(door, silent=args.silent)
    ).serve()
    return Exit.DONE


def _shower(door: "Door | None", *, silent: bool) -> "Callable[[], None]":
    """Shows the code when a browser asks for it, and says it, but not over and over."""
    said_ns = [time.monotonic_ns() - SAY_AGAIN_AFTER_NS]
    shown = [""]

    def show() -> None:
        if door is None:
            return
        now_ns = time.monotonic_ns()
        if door.code == shown[0] and now_ns - said_ns[0] < SAY_AGAIN_AFTER_NS:
            return
        shown[0], said_ns[0] = door.code, now_ns
        print(_("Code for the browser: {code}").format(code=door.code), flush=True)
        if not silent:
            from threading import Thread

            Thread(target=_say, args=(door.code,), daemon=True).start()

    return show


def _say(code: str) -> None:
    from coach.cli.keys import settings
    from coach.cli.voice import say_once

    digits = ", ".join(code)
    say_once(_("The code is {digits}.").format(digits=digits), settings().voice, tone=None)
