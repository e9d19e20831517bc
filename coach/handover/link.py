"""One file for one phone on the same network: one link, one download, then closed.

Plain HTTP on the address of this computer in the local network. The path holds 32 random bytes;
nothing else is served, no folder, no name that could be guessed. It closes after the first
download that went through, after ten minutes, or when one address has tried many wrong secrets. It
is not encrypted: who can listen in that network can read along, and that is told before it starts.

Each connection has a thread and a deadline of its own, so that one slow client holds up neither the
phone nor the end. Nothing is ever printed: a code for the phone stands on the screen.
"""

import hmac
import secrets
import socket
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Literal

MINUTES = 10
# Wrong secrets from one address. What a browser asks by itself (a picture for the tab) is none.
MOST_WRONG = 20
# A connection that says nothing for so long is closed; one that says little, after the second.
STALLED_S = 10
ASKED_WITHIN_S = 8
SENT_WITHIN_S = 180
# Who fills these needs dozens of addresses, and must come again every few seconds.
MOST_AT_ONCE = 200
MOST_FROM_ONE = 6
LOOK_S = 0.5
CHUNK = 64 << 10
SECRET_BYTES = 32
# 32 bytes in base64 are 43 letters; whatever has another length was no try at one.
SECRET_LETTERS = 43

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
    """What the link has seen so far; ``lock`` is held to look or change."""

    path: Path
    route: str
    taken: bool = False
    wrong: Counter[str] = field(default_factory=Counter)
    open: Counter[str] = field(default_factory=Counter)
    lock: threading.Lock = field(default_factory=threading.Lock)


class _Server(ThreadingHTTPServer):
    """Threads that die with the program, not more than a few, and never a word on the screen."""

    daemon_threads = True
    block_on_close = False
    request_queue_size = 64

    def __init__(self, address: tuple[str, int], state: _State) -> None:
        self.state = state
        super().__init__(address, _handler(state))

    def verify_request(self, request: Any, client_address: Any) -> bool:
        """Whether there is room for one more connection, and for one more of this address."""
        here = str(client_address[0])
        with self.state.lock:
            opened = self.state.open
            if opened.total() >= MOST_AT_ONCE or opened[here] >= MOST_FROM_ONE:
                return False
            opened[here] += 1
        return True

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        try:
            super().process_request_thread(request, client_address)
        finally:
            with self.state.lock:
                self.state.open[str(client_address[0])] -= 1

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A client that breaks off or sends nonsense is no fault, and a code is on the screen."""


class Link:
    """A link to ``file``, open from the start until :meth:`serve` comes back or it is closed."""

    def __init__(self, file: Path, *, host: str, port: int = 0) -> None:
        token = secrets.token_urlsafe(SECRET_BYTES)
        self._state = _State(path=file, route=f"/{token}/{file.name}")
        self._server = _Server((host, port), self._state)
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
                with self._state.lock:
                    taken = self._state.taken
                    wrong = max(self._state.wrong.values(), default=0)
                if taken:
                    return "taken"
                if wrong >= MOST_WRONG:
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

        def handle(self) -> None:
            """One request, to be asked within its time."""
            late = threading.Timer(ASKED_WITHIN_S, self._cut)
            late.daemon = True
            late.start()
            self._late = late
            try:
                super().handle()
            finally:
                late.cancel()

        def _cut(self) -> None:
            try:
                self.connection.shutdown(socket.SHUT_RDWR)
            except OSError:
                # It is gone already.
                return

        def do_GET(self) -> None:
            # The path as it came (self.path is tidied): nothing is decoded, joined or looked up.
            words = self.requestline.split(" ")
            asked = words[1] if len(words) > 1 else ""
            right = hmac.compare_digest(asked.encode(errors="replace"), state.route.encode())
            with state.lock:
                taken = state.taken
                if not right and _tries(asked):
                    state.wrong[str(self.client_address[0])] += 1
            if taken or not right:
                self.send_error(HTTPStatus.NOT_FOUND)
                return
            self._late.cancel()
            if self._send():
                with state.lock:
                    state.taken = True

        def _send(self) -> bool:
            """Send the file; whether all of it went through."""
            until_s = time.monotonic() + SENT_WITHIN_S
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
                try:
                    self.end_headers()
                    while chunk := stream.read(CHUNK):
                        if time.monotonic() > until_s:
                            return False
                        self.wfile.write(chunk)
                    self.wfile.flush()
                    self.connection.shutdown(socket.SHUT_WR)
                    # What was sent may lie in a buffer yet; a phone that has all of it hangs up.
                    self.rfile.read(1)
                except TimeoutError:
                    # It holds the line. If all was sent, that was the one download.
                    return not stream.read(1)
                except OSError:
                    # Broken off on the way: it has not been taken yet, and may be tried again.
                    return False
            return True

        def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 (its name there)
            """Nothing is logged: a line would hold the secret."""

    return Handler


def _tries(asked: str) -> bool:
    """Whether a path is a try at the secret, and not what browsers ask by themselves."""
    first = asked.strip("/").partition("/")[0]
    return len(first) == SECRET_LETTERS
