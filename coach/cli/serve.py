"""``coach serve``: the coach in the browser of a tablet beside the dog bed."""

import argparse
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from coach.appliance import tablet_knock
from coach.cli.exits import Exit
from coach.language import _

if TYPE_CHECKING:
    from asyncio import AbstractEventLoop

    from coach.appliance.access_code import Door
    from coach.appliance.web import CoachServer

PORT = 8765
# So often at most the device says that a tablet asks.
QUIET_NS = 60_000_000_000
LOOK_S = 0.5
ANSWERED_S = 5


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
        "shows and says when T is pressed here (coach serve --code where it runs unseen); F "
        "forgets all tablets. One browser has the screen at a time; sound stays on the device. "
        "When the browser goes away in a session, the session pauses and waits for half an hour.",
    )
    command.add_argument(
        "--network", action="store_true", help="let browsers in the house's network in, by code"
    )
    command.add_argument("--port", type=_port, default=PORT, help=f"default {PORT}")
    command.add_argument("--silent", action="store_true", help="no voice and no tones")
    command.add_argument(
        "--code", action="store_true", help="show the code of the server that runs on this device"
    )
    command.add_argument(
        "--forget", action="store_true", help="let no tablet in any more without a new code"
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Serve until stopped, or tell the server that runs what the owner wants."""
    if args.code or args.forget:
        return _wish("t" if args.code else "f")
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
    desk = Desk(door, silent=args.silent)
    server = CoachServer(words, listening=listening, door=door, asked=desk.knocked)
    server.on_start = partial(desk.listen, server)
    with single_keys():
        server.serve()
    return Exit.DONE


@dataclass
class Desk:
    """What the owner sees and does at the device while tablets ask."""

    door: "Door | None"
    silent: bool
    _told_ns: int = -QUIET_NS

    def knocked(self) -> None:
        """One quiet line, now and then: a code is shown when somebody at the device wants it."""
        now_ns = time.monotonic_ns()
        if self.door is None or now_ns - self._told_ns < QUIET_NS:
            return
        self._told_ns = now_ns
        print(_("A tablet asks: T shows the code."), flush=True)
        tablet_knock.tell()

    def show(self) -> None:
        """The code, seen and heard."""
        if self.door is None:
            return
        code = self.door.show()
        tablet_knock.shown(code)
        print(_("Code for the browser: {code}").format(code=code), flush=True)
        if not self.silent:
            from threading import Thread

            Thread(target=_say, args=(code,), daemon=True).start()

    def forget(self, server: "CoachServer") -> None:
        """Every tablet needs a new code."""
        print(_("Forgotten: {n}. Each tablet needs a new code.").format(n=server.forget()))
        sys.stdout.flush()

    def listen(self, server: "CoachServer", loop: "AbstractEventLoop") -> None:
        """Obey T and F at the device: typed here, or wished for by ``coach serve --code``."""
        wishes: dict[str, Callable[[], None]] = {
            "t": self.show,
            "f": lambda: self.forget(server),
        }

        def typed() -> None:
            text = os.read(sys.stdin.fileno(), 100).decode(errors="replace").lower()
            if not text:
                loop.remove_reader(sys.stdin.fileno())
            for key in text:
                wishes.get(key, lambda: None)()

        def wished() -> None:
            for key in tablet_knock.wishes():
                wishes.get(key, lambda: None)()
            loop.call_later(LOOK_S, wished)

        if self.door is not None:
            if sys.stdin.isatty():
                loop.add_reader(sys.stdin.fileno(), typed)
            wished()


def _wish(what: tablet_knock.Wish) -> int:
    """Hand it to the server that runs; its code is shown here."""
    try:
        tablet_knock.wish(what)
    except OSError as error:
        print(f"coach: {error.filename}: {error.strerror}", file=sys.stderr)
        return Exit.NOT_WRITTEN
    until_s = time.monotonic() + ANSWERED_S
    while time.monotonic() < until_s:
        if what == "t" and (code := tablet_knock.code()):
            print(_("Code for the browser: {code}").format(code=code))
            return Exit.DONE
        if what == "f" and not tablet_knock.waits():
            print(_("Each tablet needs a new code."))
            return Exit.DONE
        time.sleep(LOOK_S / 5)
    tablet_knock.wishes()
    print(
        "coach: found no server; allowed: coach serve --network runs on this device",
        file=sys.stderr,
    )
    return Exit.BAD_INPUT


@contextmanager
def single_keys() -> Iterator[None]:
    """Each key is told at once, without Enter; the terminal is as before afterwards."""
    if not sys.stdin.isatty():
        yield
        return
    import termios
    import tty

    before = termios.tcgetattr(sys.stdin.fileno())
    tty.setcbreak(sys.stdin.fileno())
    try:
        yield
    finally:
        with suppress(termios.error):
            termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, before)


def _say(code: str) -> None:
    from coach.cli.keys import settings
    from coach.cli.voice import say_once

    digits = ", ".join(code)
    say_once(_("The code is {digits}.").format(digits=digits), settings().voice, tone=None)
