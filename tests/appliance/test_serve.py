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

from coach.appliance import tablet_knock
from coach.appliance.access_code import (
    CODE_HOLDS_NS,
    MANY,
    MOST_ADDRESSES,
    TOKEN_HOLDS_NS,
    TRIES,
    WAIT_NS,
    Door,
)
from coach.cli.exits import Exit
from coach.journal.journal import journal_files, read_journal
from coach.session.readiness_timing import MOST_READ_NS
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


HOME, OTHER = "192.168.1.20", "192.168.1.66"


def test_a_code_lets_one_browser_in_and_no_other() -> None:
    here = door([0])
    code = here.show()
    assert here.show() == code
    assert here.knock("000000", HOME).verdict == "wrong"
    answer = here.knock(f" {code} ", HOME)
    assert answer.verdict == "in"
    assert here.knows(answer.token)
    assert here.knock(code, HOME).verdict == "no_code"
    assert here.show() != code
    assert not here.knows("")
    assert not here.knows("t\u00f6k\u00e9n\ud800")


def test_without_a_code_shown_nothing_can_be_guessed() -> None:
    now = [0]
    here = door(now)
    for number in range(2000):
        assert here.knock(f"{number:06d}", HOME).verdict in ("no_code", "wait")
    code = here.show()
    now[0] += CODE_HOLDS_NS
    assert here.knock(code, OTHER).verdict == "no_code"


def test_one_who_guesses_waits_and_nobody_else_does() -> None:
    now = [0]
    here = door(now)
    code = here.show()
    for _ in range(TRIES):
        assert here.knock("999999", OTHER).verdict == "wrong"
    # Told to wait, not that the right code is wrong.
    assert here.knock(code, OTHER).verdict == "wait"
    assert here.knock(code, HOME).verdict == "in"
    code = here.show()
    now[0] += WAIT_NS
    assert here.knock(code, OTHER).verdict == "in"


def test_right_codes_get_in_whoever_guesses_beside_them() -> None:
    now = [0]
    here = door(now)
    for _ in range(102):
        for _guess in range(20):
            here.knock("999999", OTHER)
        assert here.knock(here.show(), HOME).verdict == "in"
        now[0] += 10 * NS_PER_S


def test_a_code_that_was_guessed_at_too_often_is_none_any_more() -> None:
    here = door([0])
    code = here.show()
    for number in range(MANY):
        here.knock("999999", f"10.0.{number // 250}.{number % 250}")
    assert here.knock(code, HOME).verdict == "no_code"
    assert here.show() != code


@pytest.mark.parametrize(
    ("one", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9"),
        ("::ffff:192.168.1.66", OTHER),
        ("fe80::1%eth0", "fe80::2"),
        ("nonsense", ""),
    ],
)
def test_addresses_that_one_computer_can_choose_from_are_one(one: str, same: str) -> None:
    here = door([0])
    code = here.show()
    for _ in range(TRIES):
        here.knock("999999", one)
    assert here.knock(code, same).verdict == "wait"


def test_a_hundred_thousand_addresses_fill_no_memory() -> None:
    here = door([0])
    for number in range(100_000):
        here.knock("1", f"10.{number >> 16}.{number >> 8 & 255}.{number & 255}")
    assert len(here._addresses) <= MOST_ADDRESSES


def test_a_token_is_kept_hashed_ages_and_can_be_forgotten() -> None:
    now = [0]
    here = door(now)
    tokens = [here.knock(here.show(), HOME).token for _ in range(2)]
    assert not any(token in repr(here) for token in tokens)
    now[0] += TOKEN_HOLDS_NS + 1
    assert not here.knows(tokens[0])
    now[0] -= TOKEN_HOLDS_NS
    assert here.knows(tokens[1])
    assert here.forget() == 1
    assert not here.knows(tokens[1])


def test_a_knock_is_lit_for_a_while_and_a_wish_is_seen_once(own_world: Path) -> None:
    assert not tablet_knock.asking()
    tablet_knock.tell()
    assert tablet_knock.asking()
    tablet_knock.wish("t")
    assert (tablet_knock.wishes(), tablet_knock.wishes()) == ("t", "")
    assert tablet_knock.code() == ""
    tablet_knock.shown("012345")
    assert not tablet_knock.asking()
    assert (tablet_knock.code(), tablet_knock.code()) == ("012345", "")


NONSENSE: list[tuple[bytes, dict[str, str]]] = [
    (b"code=1", {"Host": "[::1"}),
    (b"code=1", {"Host": "a b"}),
    (b"code=\xff", {"Content-Type": "application/x-www-form-urlencoded; charset=nonsense"}),
    (b"x" * 5000, {"Content-Type": "application/x-www-form-urlencoded"}),
]


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
        await self.watch(MOST_READ_NS)
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
        assert page.headers["X-Frame-Options"] == "DENY"
        assert page.headers["Cache-Control"] == "no-store"
        assert "frame-ancestors 'none'" in page.headers["Content-Security-Policy"]
    network.told("A tablet asks")
    shown = subprocess.run(
        [sys.executable, "-m", "coach", "serve", "--code"],
        capture_output=True,
        text=True,
        check=True,
        timeout=PATIENCE_S,
    )
    code = re.findall(r"\d{6}", shown.stdout)[0]
    assert code in network.told("Code for the browser")
    for data, headers in NONSENSE:
        async with browser.post(f"{network.address}/code", data=data, headers=headers) as page:
            assert page.status in (400, 413), (data, headers)
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
    for origin in ("https://elsewhere.example", "null", "http://["):
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
    deep = "[" * 30_000
    for nonsense in (
        deep,
        '["stdin", "\\ud800"]',
        "",
        "[]",
        "[7]",
        '["stdin"]',
        '["resize", {"width": "x"}]',
        "{}",
    ):
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
