"""One file for one phone on the same network: one link, one download, then closed.

Plain HTTP on the address of this computer in the local network. The path holds 32 random bytes;
nothing else is served, no folder, no name that could be guessed. It closes after the first
download that went through, after ten minutes, or after a few wrong tries. It is not encrypted:
who can listen in that network can read along, and that is told before it starts.
"""

import hmac
import secrets
import shutil
import socket
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any, Literal

MINUTES = 10
MOST_WRONG = 20
# A phone that stops in mid-way must not hold the line.
STALLED_S = 20
LOOK_S = 0.5

Outcome = Literal["taken", "over", "wrong", "stopped"]


class NoNetwork(OSError):  # noqa: N818  (told to the owner)
    """This computer is in no network that a phone could be in."""


def local_address() -> str:
    """The address of this computer in its network. Nothing is sent. Raises NoNetwork."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address for documentation (RFC 5737): only the way there is asked for.
            probe.connect(("192.0.2.1", 9))
        except OSError as error:
            raise NoNetwork(error.errno, "this computer is in no network") from error
        return str(probe.getsockname()[0])


@dataclass(slots=True, kw_only=True)
class _State:
    """What the link has seen so far."""

    path: Path
    route: str
    taken: bool = False
    wrong: int = 0


class Link:
    """A link to ``file``, open from the start until :meth:`serve` comes back or it is closed."""

    def __init__(self, file: Path, *, host: str, port: int = 0) -> None:
        token = secrets.token_urlsafe(32)
        self._state = _State(path=file, route=f"/{token}/{file.name}")
        self._server = HTTPServer((host, port), _handler(self._state))
        self._server.timeout = LOOK_S
        address, chosen = self._server.server_address[:2]
        self.url = f"http://{address!s}:{chosen}{self._state.route}"

    def serve(self, *, now_s: Callable[[], float], stop: Callable[[], bool]) -> Outcome:
        """Answer until the file was taken, the time is over, or ``stop`` says so; then close.

        ``now_s`` is a monotonic clock.
        """
        until_s = now_s() + MINUTES * 60
        try:
            while True:
                if self._state.taken:
                    return "taken"
                if self._state.wrong >= MOST_WRONG:
                    return "wrong"
                if now_s() >= until_s:
                    return "over"
                if stop():
                    return "stopped"
                self._server.handle_request()
        finally:
            self.close()

    def close(self) -> None:
        """Let go of the port."""
        self._server.server_close()


def _handler(state: _State) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        """Answers one path, with one file."""

        timeout = STALLED_S
        server_version = "coach"
        sys_version = ""

        def do_GET(self) -> None:
            # The path as it came (self.path is tidied): nothing is decoded, joined or looked up.
            asked = self.requestline.split(" ")[1]
            right = hmac.compare_digest(asked.encode(), state.route.encode())
            if state.taken or not right:
                state.wrong += 1
                self.send_error(HTTPStatus.NOT_FOUND)
                return
            with state.path.open("rb") as stream:
                self.send_response(HTTPStatus.OK)
                for name, value in (
                    ("Content-Type", "application/zip"),
                    ("Content-Length", str(state.path.stat().st_size)),
                    ("Content-Disposition", f'attachment; filename="{state.path.name}"'),
                    ("Cache-Control", "no-store"),
                    ("Referrer-Policy", "no-referrer"),
                    ("X-Content-Type-Options", "nosniff"),
                    ("Connection", "close"),
                ):
                    self.send_header(name, value)
                self.end_headers()
                try:
                    shutil.copyfileobj(stream, self.wfile)
                    self.wfile.flush()
                    self.connection.shutdown(socket.SHUT_WR)
                    # What was sent may lie in a buffer yet; a phone that has all of it hangs up.
                    self.rfile.read(1)
                except TimeoutError:
                    # It holds the line, but all was sent: that was the one download.
                    state.taken = True
                    return
                except OSError:
                    # Broken off on the way: it has not been taken yet, and may be tried again.
                    return
            state.taken = True

        def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 (its name there)
            """Nothing is logged: a line would hold the secret."""

    return Handler
