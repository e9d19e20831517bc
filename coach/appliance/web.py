"""The coach in a browser beside the dog bed. One seat; sound stays on the device.

The page and what it speaks with are textual-serve's; the program runs on a terminal of its own
(:mod:`coach.appliance.browser_terminal`), so that it is the very one that the device's own screen
shows.
"""

import asyncio
import json
import logging
import signal
import socket
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import aiohttp_jinja2
from aiohttp import WSMsgType, web
from textual_serve.server import Server

from coach.appliance.access_code import Door
from coach.appliance.browser_terminal import Seat
from coach.language import _

PAGES = Path(__file__).parent / "pages"
COOKIE = "coach_browser"
LOCAL_NAMES = {"localhost", "127.0.0.1", "::1"}
# A tablet that is gone is missed after one to two of these.
HEARTBEAT_S = 5
LARGEST_MESSAGE = 65_536


class CoachServer(Server):
    """Serves one program to one browser at a time.

    Args:
        words: the program.
        listening: the socket on which browsers come.
        door: asks for the code; None lets everyone in who is on this device.
        asked: called when a browser is asked for the code, to show or say it.
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
        web.run_app(
            self._make_app(), sock=self.listening, handle_signals=False, loop=loop, print=None
        )

    def initialize_logging(self) -> None:
        """Only what went wrong; the page's own requests are no news."""
        logging.basicConfig(level=logging.WARNING)

    async def on_startup(self, app: web.Application) -> None:
        """Says nothing; the command line has said where it is."""

    async def on_shutdown(self, app: web.Application) -> None:
        """The server ends: so does the program, in good order."""
        self.seat.close()

    @web.middleware
    async def _guard(self, request: web.Request, handler: Any) -> web.StreamResponse:
        here = urlsplit(f"//{request.host}").hostname
        if self.door is None and here not in LOCAL_NAMES:
            # Another site's name for this device: its pages shall not reach the coach.
            raise web.HTTPForbidden(text="This server answers on this device only.")
        origin = request.headers.get("Origin")
        if origin is not None and urlsplit(origin).netloc != request.host:
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
        form = await request.post()
        token = None if self.door is None else self.door.knock(str(form.get("code", "")))
        if token is None:
            self.asked()
            return self._code_page(request, _("That is not the code."), 403)
        response = web.Response(status=303, headers={"Location": "/"})
        response.set_cookie(COOKIE, token, httponly=True, samesite="Strict")
        return response

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
        except (ValueError, TypeError, LookupError):
            # Not from our page. Nothing in a browser's message may end the session.
            return


async def _show(shown: "asyncio.Queue[bytes]", socket: web.WebSocketResponse) -> None:
    while data := await shown.get():
        await socket.send_bytes(data)
    await socket.close()


def _whole(value: Any, otherwise: int) -> int:
    text = str(value)
    return max(1, int(text)) if text.isascii() and text.isdigit() and len(text) < 4 else otherwise
