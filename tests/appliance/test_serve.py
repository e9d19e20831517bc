"""The coach in a browser: who is let in, and one seat whose session outlives the browser."""

import itertools
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import suppress
from pathlib import Path

import aiohttp
import pyte
import pytest

from coach.appliance.access_code import TRIES, WAIT_NS, Door
from coach.cli.exits import Exit
from coach.journal.journal import journal_files, read_journal
from coach.screens.session_app import READ_NS
from coach.units import NS_PER_S
from coach.voice.key_input import DOUBLE_NS
from tests.appliance.conftest import cut_off
from tests.terminal import PATIENCE_S


def door(now: list[int]) -> Door:
    codes = (f"{number:06d}" for number in itertools.count(111_111))
    tokens = (f"token-{number}" for number in itertools.count())
    return Door(
        draw_code=lambda: next(codes), draw_token=lambda: next(tokens), mono_ns=lambda: now[0]
    )


def test_a_code_lets_one_browser_in_and_no_other() -> None:
    here = door([0])
    code = here.code
    assert here.knock("000000") is None
    token = here.knock(f" {code} ")
    assert token is not None
    assert here.knows(token)
    assert here.code != code
    assert here.knock(code) is None
    assert not here.knows("")
    assert not here.knows("tökén")


def test_guessing_shuts_the_door_for_a_while_and_changes_the_code() -> None:
    now = [0]
    here = door(now)
    code = here.code
    for _ in range(TRIES):
        assert here.knock("999999") is None
    assert here.code != code
    assert here.knock(here.code) is None
    now[0] += WAIT_NS
    assert here.knock(here.code) is not None


class Served:
    """A real ``coach serve`` and what it prints."""

    def __init__(self, *words: str) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "coach", "serve", "--silent", "--port", str(self.port), *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        self.told("Open in a browser")

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def told(self, words: str) -> str:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if words in line:
                return line
        raise AssertionError(f"ended without {words!r}")

    def end(self) -> int:
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(PATIENCE_S)


@pytest.fixture
def network() -> Iterator[Served]:
    served = Served("--network")
    yield served
    if served.process.poll() is None:
        served.process.kill()
        served.process.wait()
    assert served.process.stdout is not None
    served.process.stdout.close()


@pytest.fixture
async def browser() -> AsyncIterator[aiohttp.ClientSession]:
    async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session:
        yield session


class Tablet:
    """What a browser shows of the terminal."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self.socket = socket
        self.screen = pyte.Screen(80, 24)
        self.stream = pyte.ByteStream(self.screen)

    async def until(self, wanted: Callable[[str], bool]) -> str:
        deadline_s = time.monotonic() + PATIENCE_S
        while not wanted(text := "\n".join(self.screen.display)):
            # The screen lives on by itself: waiting for the next frame alone would never end.
            assert time.monotonic() < deadline_s, f"never seen; last was\n{text}"
            message = await self.socket.receive(PATIENCE_S)
            assert message.type is aiohttp.WSMsgType.BINARY, f"{message}; last was\n{text}"
            self.stream.feed(message.data)
        return text

    async def answer(self) -> None:
        """The one key, once a question of the readiness round has been there long enough."""
        await self.watch(READ_NS)
        await self.press(" ")

    async def watch(self, duration_ns: int) -> None:
        """Take in what is drawn for so long, and a little longer."""
        ends_s = time.monotonic() + duration_ns / NS_PER_S + 0.1
        while (left_s := ends_s - time.monotonic()) > 0:
            with suppress(TimeoutError):
                self.stream.feed((await self.socket.receive(left_s)).data)

    async def gone(self) -> None:
        """Until the server has closed it."""
        while (await self.socket.receive(PATIENCE_S)).type is aiohttp.WSMsgType.BINARY:
            pass
        assert self.socket.closed

    async def press(self, keys: str) -> None:
        """One press, and not the second half of a double one."""
        await self.watch(DOUBLE_NS)
        await self.socket.send_json(["stdin", keys])


@pytest.mark.long
async def test_a_session_in_the_browser_pauses_without_it_and_waits_for_it(
    network: Served, browser: aiohttp.ClientSession, own_world: Path
) -> None:
    cut_off(own_world)
    async with browser.get(f"{network.address}/") as page:
        assert str(page.url).endswith("/code")
    code = re.findall(r"\d{6}", network.told("Code for the browser"))[0]
    wrong = f"{(int(code) + 1) % 1_000_000:06d}"
    async with browser.post(f"{network.address}/code", data={"code": wrong}) as page:
        assert page.status == 403
    with pytest.raises(aiohttp.WSServerHandshakeError):
        await browser.ws_connect(f"{network.address}/ws")
    async with browser.post(f"{network.address}/code", data={"code": code}) as page:
        assert page.status == 200
        # Nothing from the internet: the house may have none.
        addresses = re.findall(r"(?:src=|href=|url[(])\"([^\"]+)", await page.text())
        assert addresses
        assert all(address.startswith("/") for address in addresses)
    for origin in ("https://elsewhere.example", "null"):
        with pytest.raises(aiohttp.WSServerHandshakeError):
            await browser.ws_connect(f"{network.address}/ws", headers={"Origin": origin})

    first = Tablet(await browser.ws_connect(f"{network.address}/ws?width=80&height=24"))
    await first.until(lambda text: "eyewear" in text)
    await first.answer()
    await first.until(lambda text: "covered or turned" in text)
    await first.answer()
    await first.until(lambda text: "PAUSED" in text)
    await first.press(" ")
    await first.until(lambda text: "HOLD" in text)
    for nonsense in ("", "[]", "[7]", '["stdin"]', '["resize", {"width": "x"}]', "{}"):
        await first.socket.send_str(nonsense)
    await first.socket.close()

    again = Tablet(await browser.ws_connect(f"{network.address}/ws?width=80&height=24"))
    await again.until(lambda text: "PAUSED" in text and "SPACE carry on" in text)
    other = Tablet(await browser.ws_connect(f"{network.address}/ws?width=80&height=24"))
    await other.until(lambda text: "PAUSED" in text)
    await again.gone()
    await other.press(" ")
    await other.until(lambda text: "HOLD" in text)
    assert network.end() == Exit.DONE
    (path,) = journal_files(own_world / "state/dogs/juniper/journals")
    lines = read_journal(path).lines
    kinds = [line["kind"] for line in lines]
    assert kinds.count("paused") == 1
    assert kinds[-1] == "session_closed"


@pytest.mark.long
async def test_without_a_code_only_this_device_is_served(browser: aiohttp.ClientSession) -> None:
    served = Served()
    try:
        async with browser.get(f"{served.address}/") as page:
            assert page.status == 200
        # A name of another site that points at this device (DNS rebinding).
        for headers in ({"Host": "evil.example"}, {"Origin": "https://evil.example"}):
            async with browser.get(f"{served.address}/", headers=headers) as page:
                assert page.status == 403
        taken = subprocess.run(
            [sys.executable, "-m", "coach", "serve", "--port", str(served.port)],
            capture_output=True,
            text=True,
            check=False,
            timeout=PATIENCE_S,
        )
        assert (taken.returncode, taken.stdout) == (Exit.BAD_INPUT, "")
        assert "choose another: --port" in taken.stderr
        assert served.end() == Exit.DONE
    finally:
        if served.process.poll() is None:
            served.process.kill()
            served.process.wait()
        assert served.process.stdout is not None
        served.process.stdout.close()
