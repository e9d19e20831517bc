"""A real headless Chromium, driven over its own protocol (Chrome DevTools Protocol)."""

import asyncio
import contextlib
import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import AsyncIterator, Mapping
from pathlib import Path
from typing import Any

import aiohttp

CHROMIUM = shutil.which("chromium")
WAIT_S = 60


class Browser:
    """One page of a browser."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket = socket
        self._sent = 0
        self.events: list[Mapping[str, Any]] = []

    async def do(self, method: str, **params: object) -> Any:
        """One command of the protocol; what it answers."""
        self._sent += 1
        await self._socket.send_json({"id": self._sent, "method": method, "params": params})
        while True:
            told = await self._next()
            if told.get("id") == self._sent:
                assert "error" not in told, told
                return told["result"]

    async def _next(self) -> Mapping[str, Any]:
        told = json.loads(await asyncio.wait_for(self._socket.receive_str(), WAIT_S))
        if "method" in told:
            self.events.append(told)
        return told  # type: ignore[no-any-return]

    async def open(self, page: Path) -> None:
        """Open a file and wait until it is there."""
        for domain in ("Page", "Runtime", "Log", "Network", "Accessibility"):
            await self.do(f"{domain}.enable")
        before = len(self.events)
        await self.do("Page.navigate", url=page.as_uri())
        while not any(one["method"] == "Page.loadEventFired" for one in self.events[before:]):
            await self._next()

    async def size(self, width: int, height: int, *, phone: bool = False) -> None:
        """The size of the window in CSS pixels."""
        await self.do(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=phone,
        )

    async def value(self, script: str) -> Any:
        """What ``script`` gives (a promise is waited for)."""
        told = await self.do(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True
        )
        assert "exceptionDetails" not in told, told
        return told["result"].get("value")

    async def press(self, key: str, *, code: int, text: str = "") -> None:
        """A key of the keyboard."""
        for kind in ("keyDown", "keyUp"):
            await self.do(
                "Input.dispatchKeyEvent",
                type=kind,
                key=key,
                windowsVirtualKeyCode=code,
                text=text if kind == "keyDown" else "",
            )

    async def type(self, text: str) -> None:
        """Words, into what has the focus."""
        await self.do("Input.insertText", text=text)


@contextlib.asynccontextmanager
async def browser() -> AsyncIterator[Browser]:
    """A page of a Chromium of our own, which is ended afterwards."""
    assert CHROMIUM is not None
    with tempfile.TemporaryDirectory(prefix="chromium-", ignore_cleanup_errors=True) as profile:
        words = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run"]
        words += ["--remote-debugging-port=0", f"--user-data-dir={profile}", "about:blank"]
        process = subprocess.Popen(
            words,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "HOME": profile},
            start_new_session=True,
        )
        try:
            port = await _port(Path(profile) / "DevToolsActivePort", process)
            async with aiohttp.ClientSession() as session:
                async with session.get(f"http://127.0.0.1:{port}/json") as answer:
                    pages = await answer.json()
                url = next(one["webSocketDebuggerUrl"] for one in pages if one["type"] == "page")
                async with session.ws_connect(url, max_msg_size=1 << 28) as socket:
                    yield Browser(socket)
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


async def _port(file: Path, process: "subprocess.Popen[bytes]") -> int:
    """Where it listens: it writes the file once it does."""
    for _ in range(WAIT_S * 20):
        if file.exists() and (lines := file.read_text().split()):
            return int(lines[0])
        assert process.poll() is None, "chromium has ended"
        await asyncio.sleep(0.05)
    raise AssertionError("chromium does not listen")
