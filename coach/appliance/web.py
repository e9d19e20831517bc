"""The coach in a browser beside the dog bed. One seat; sound stays on the device.

The page and what it speaks with are textual-serve's; the program runs on a terminal of its own
(:mod:`coach.appliance.browser_terminal`), so that it is the very one that the device's own screen
shows.
"""

import asyncio
import json
import logging
import re
import secrets
import signal
import socket
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import aiohttp_jinja2
from aiohttp import WSMsgType, web
from textual_serve.server import Server

from coach.appliance.access_code import DELAY_S, NS_PER_S, TOKEN_HOLDS_NS, WAIT_NS, Door
from coach.appliance.browser_terminal import Seat
from coach.language import _

PAGES = Path(__file__).parent / "pages"
COOKIE = "coach_browser"
LOCAL_NAMES = {"localhost", "127.0.0.1", "::1"}
# A tablet that is gone is missed after one to two of these.
HEARTBEAT_S = 5
LARGEST_MESSAGE = 65_536
LARGEST_FORM = 4096
_HOST = re.compile(r"^(?:[A-Za-z0-9._-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\])(?::[0-9]{1,5})?$")
# The page's own script is named by a number that nobody can foresee; nothing comes from elsewhere.
_POLICY = (
    "default-src 'none'; script-src 'self' 'nonce-{nonce}'; style-src 'self' 'unsafe-inline'; "
    "font-src 'self'; img-src 'self' data:; connect-src 'self' ws://{host}; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class _OneLine(logging.Formatter):
    """A fault of a request in one line: what a browser sent is no reason for a traceback."""

    def format(self, record: logging.LogRecord) -> str:
        error = record.exc_info[1] if record.exc_info else None
        told = f"{record.getMessage()}: {error!r}" if error is not None else record.getMessage()
        return " ".join(told.split())


class CoachServer(Server):
    """Serves one program to one browser at a time.

    Args:
        words: the program.
        listening: the socket on which browsers come.
        door: asks for the code; None lets everyone in who is on this device.
        asked: called when a browser is asked for the code: the owner may then want to see it.
    """

    def __init__(
        self,
        words: Sequence[str],
        *,
        listening: socket.socket,
        door: Door | None,
        asked: Callable[[], None],
    ) -> None:
        host, port = listening.getsockname()[:2]
        super().__init__("coach", host=host, port=port, templates_path=PAGES)
        self.listening = listening
        self.seat = Seat(words)
        self.door = door
        self.asked = asked
        self.on_start: Callable[[asyncio.AbstractEventLoop], object] = lambda _loop: None

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self._guard)
        app.add_routes([web.get("/code", self._ask), web.post("/code", self._answer)])
        return app

    def serve(self, debug: bool = False) -> None:
        """Until a signal asks it to end. The framework's own would open a socket of its own."""
        self.initialize_logging()
        loop = asyncio.new_event_loop()
        for number in (signal.SIGINT, signal.SIGTERM):
            loop.add_signal_handler(number, self.request_exit)
        loop.call_soon(self.on_start, loop)
        web.run_app(
            self._make_app(), sock=self.listening, handle_signals=False, loop=loop, print=None
        )

    def initialize_logging(self) -> None:
        """Only what went wrong; the page's own requests are no news."""
        handler = logging.StreamHandler()
        handler.setFormatter(_OneLine())
        logging.basicConfig(level=logging.WARNING, handlers=[handler])

    def forget(self) -> int:
        """Send every browser away; each needs a new code. How many were known."""
        known = 0 if self.door is None else self.door.forget()
        self.seat.vacate()
        return known

    async def on_startup(self, app: web.Application) -> None:
        """Says nothing; the command line has said where it is."""

    async def on_shutdown(self, app: web.Application) -> None:
        """The server ends: so does the program, in good order."""
        self.seat.close()

    @web.middleware
    async def _guard(self, request: web.Request, handler: Any) -> web.StreamResponse:
        request["nonce"] = secrets.token_urlsafe(16)
        try:
            response: web.StreamResponse = await self._checked(request, handler)
        except web.HTTPException as refusal:
            self._put_headers(request, refusal)
            raise
        if not response.prepared:
            self._put_headers(request, response)
        return response

    def _put_headers(self, request: web.Request, response: web.StreamResponse) -> None:
        host = request.host if _HOST.match(request.host) else ""
        response.headers.update(_HEADERS)
        response.headers["Content-Security-Policy"] = _POLICY.format(
            nonce=request["nonce"], host=host
        )

    async def _checked(self, request: web.Request, handler: Any) -> web.StreamResponse:
        if not _HOST.match(request.host):
            raise web.HTTPBadRequest(text="Host: found no name of a computer.")
        here = urlsplit(f"//{request.host}").hostname
        if self.door is None and here not in LOCAL_NAMES:
            # Another site's name for this device: its pages shall not reach the coach.
            raise web.HTTPForbidden(text="This server answers on this device only.")
        origin = request.headers.get("Origin")
        if origin is not None and _netloc(origin) != request.host:
            raise web.HTTPForbidden(text="Asked for by the page of another site.")
        if (
            self.door is not None
            and request.path != "/code"
            and not self.door.knows(request.cookies.get(COOKIE, ""))
        ):
            raise web.HTTPSeeOther("/code")
        response: web.StreamResponse = await handler(request)
        return response

    async def _ask(self, request: web.Request) -> web.Response:
        self.asked()
        return self._code_page(request, "", 200)

    async def _answer(self, request: web.Request) -> web.Response:
        if (request.content_length or 0) > LARGEST_FORM:
            raise web.HTTPRequestEntityTooLarge(LARGEST_FORM, request.content_length or 0)
        try:
            form = await request.post()
            code = str(form.get("code", ""))
        except (ValueError, LookupError) as error:
            raise web.HTTPBadRequest(
                text="Found no form; allowed: the one of this page."
            ) from error
        if self.door is None:
            raise web.HTTPSeeOther("/")
        answer = self.door.knock(code, request.remote or "")
        if answer.verdict == "in":
            response = web.Response(status=303, headers={"Location": "/"})
            response.set_cookie(
                COOKIE,
                answer.token,
                httponly=True,
                samesite="Strict",
                max_age=TOKEN_HOLDS_NS // NS_PER_S,
            )
            return response
        if answer.verdict == "wait":
            told = _("Too many wrong codes. Wait {n} s, then try again.")
            return self._code_page(request, told.format(n=WAIT_NS // NS_PER_S), 429)
        # A right code is never kept waiting; a wrong one costs time.
        await asyncio.sleep(DELAY_S)
        self.asked()
        if answer.verdict == "no_code":
            told = _("There is no code now. Ask for one at the coach.")
            return self._code_page(request, told, 403)
        return self._code_page(request, _("That is not the code."), 403)

    def _code_page(self, request: web.Request, refused: str, status: int) -> web.Response:
        asks = _("The code that the coach shows or says:")
        return aiohttp_jinja2.render_template(
            "code.html", request, {"asks": asks, "refused": refused}, status=status
        )

    @aiohttp_jinja2.template("app_index.html")
    async def handle_index(self, request: web.Request) -> dict[str, Any]:
        """The page with the terminal; addresses as the browser knows this device."""
        return {
            "font_size": 16,
            "app_websocket_url": f"ws://{request.host}/ws",
            "config": {"static": {"url": "/static/"}},
            "application": {"name": _("Dog-bed coach")},
            "nonce": request["nonce"],
        }

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """The browser takes the seat until it goes, another takes it, or the program ends."""
        socket = web.WebSocketResponse(heartbeat=HEARTBEAT_S, max_msg_size=LARGEST_MESSAGE)
        await socket.prepare(request)
        size = (_whole(request.query.get("width"), 80), _whole(request.query.get("height"), 24))
        shown = self.seat.take(*size)
        showing = asyncio.create_task(_show(shown, socket))
        try:
            async for message in socket:
                if message.type is WSMsgType.TEXT:
                    await self._message(message.data, socket)
        finally:
            self.seat.leave(shown)
            showing.cancel()
        return socket

    async def _message(self, text: str, socket: web.WebSocketResponse) -> None:
        try:
            kind, *rest = json.loads(text)
            if kind == "stdin":
                self.seat.write(str(rest[0]).encode())
            elif kind == "resize":
                self.seat.resize(_whole(rest[0]["width"], 80), _whole(rest[0]["height"], 24))
            elif kind == "ping":
                await socket.send_json(["pong", rest[0]])
        except (ValueError, TypeError, LookupError, RecursionError):
            # Not from our page. Nothing in a browser's message may end the session.
            return


async def _show(shown: "asyncio.Queue[bytes]", socket: web.WebSocketResponse) -> None:
    while data := await shown.get():
        await socket.send_bytes(data)
    await socket.close()


def _netloc(origin: str) -> str:
    """Host and port of an origin; "" for what is none."""
    try:
        return urlsplit(origin).netloc
    except ValueError:
        return ""


def _whole(value: Any, otherwise: int) -> int:
    text = str(value)
    return max(1, int(text)) if text.isascii() and text.isdigit() and len(text) < 4 else otherwise
