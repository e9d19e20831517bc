"""To a phone: the code read by an independent decoder, the link by an independent client."""

import http.client
import itertools
import socket
import threading
import urllib.request
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import pytest
import zxingcpp

from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.link import MINUTES, MOST_WRONG, Link, Outcome
from coach.handover.qr_code import TooSmall, qr_lines
from coach.journal.diary_entries import AfterSession
from coach.journal.signing import DeviceKey
from tests.handover.dogs import said, session

pytestmark = pytest.mark.usefixtures("plain_report")


def decoded(lines: list[str]) -> str:
    """What a phone reads off these rows of characters: light where a block is drawn."""
    halves = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
    rows = []
    for line in lines:
        rows += [[halves[sign][half] for sign in line] for half in (0, 1)]
    modules = np.array(rows, dtype=np.uint8)
    (found,) = zxingcpp.read_barcodes(np.kron(modules, np.ones((6, 6), dtype=np.uint8)))
    return str(found.text)


@pytest.mark.parametrize("text", ["a", "http://192.168.0.7:40123/" + "x" * 90, "Žofie שלום 🐕"])
def test_a_phone_reads_what_was_written(text: str) -> None:
    assert decoded(qr_lines(text, columns=200, rows=100)) == text


def test_what_does_not_fit_is_said_and_never_cut() -> None:
    with pytest.raises(TooSmall) as small:
        qr_lines("x" * 500, columns=60, rows=20)
    lines = qr_lines("x" * 500, columns=small.value.columns, rows=small.value.rows)
    assert (len(lines[0]), len(lines)) == (small.value.columns, small.value.rows)


def test_the_code_holds_the_session_and_fits_a_small_screen(
    dog: Path, key: DeviceKey, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    session(dog, "2026-11-10", key=key)
    path = session(dog, "2026-11-12", key=key, stop_after=2)
    said(dog, AfterSession(session=path.stem, skin="red", tolerance_0_10=3))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("LINES", "24")
    for more, dog_named in (([], True), (["--without-names"], False)):
        assert run(["handover", "--qr", *more]) == Exit.DONE
        out = capsys.readouterr().out.splitlines()
        code = [line for line in out if line and set(line) <= set("█▀▄ ")]
        # With the line of the prompt below it, all of the code is on the screen.
        assert len(code) <= 23
        assert out[-len(code) :] == code
        text = decoded(code)
        assert text == "\n".join(out[: -len(code)])
        # 2 of 4 spots, 60 of 140 s, at 500 mW: 30 of 70 J.
        for words in ("2026-11-12 19:00", "2/4 spots, 60/140 s, 30/70 J", "stopped: dog unhappy"):
            assert words in text
        assert "skin red" in text
        assert ("Pip" in text) == dog_named
    assert run(["handover", "--qr", "--session", "9"]) == Exit.BAD_INPUT
    assert "found 9; allowed: 1 to 2" in capsys.readouterr().err
    assert run(["handover", "--qr", "--link"]) == Exit.BAD_INPUT
    assert "found --qr and --link" in capsys.readouterr().err


@pytest.fixture
def link(tmp_path: Path) -> Iterator[Link]:
    """A link to a small zip file, at the loopback address only."""
    path = tmp_path / "pip-2026-11-10-to-2026-11-12.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("report.pdf", b"%PDF" + bytes(300_000))
    (tmp_path / "secret.txt").write_text("not for anybody")
    opened = Link(path, host="127.0.0.1")
    yield opened
    opened.close()


class Serving:
    """The link served in a thread, with a clock that moves when it is told to."""

    def __init__(self, link: Link) -> None:
        self.now_s = 0.0
        self.halt = False
        self.outcome: Outcome | None = None
        self.thread = threading.Thread(target=self._run, args=(link,))
        self.thread.start()

    def _run(self, link: Link) -> None:
        self.outcome = link.serve(now_s=lambda: self.now_s, stop=lambda: self.halt)

    def ended(self) -> Outcome | None:
        self.thread.join(timeout=30)
        return self.outcome


@pytest.fixture
def serving(link: Link) -> Iterator[Serving]:
    served = Serving(link)
    yield served
    served.halt = True
    served.ended()


def status(url: str, path: str, method: str = "GET") -> int:
    """The answer to one request with this very path, as a client would not send it by itself."""
    parts = urlsplit(url)
    connection = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=20)
    try:
        connection.putrequest(method, path, skip_accept_encoding=True)
        connection.endheaders()
        return connection.getresponse().status
    finally:
        connection.close()


def test_the_right_link_gives_the_file_once_and_then_nothing_answers(
    link: Link, serving: Serving, tmp_path: Path
) -> None:
    with urllib.request.urlopen(link.url, timeout=20) as answer:
        assert answer.headers["Content-Disposition"].startswith("attachment; filename=")
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.read() == next(tmp_path.glob("*.zip")).read_bytes()
    assert serving.ended() == "taken"
    with pytest.raises(ConnectionRefusedError):
        status(link.url, urlsplit(link.url).path)


def tricks(link: Link) -> list[str]:
    """Paths that are not the one path."""
    route = urlsplit(link.url).path
    token, name = route.strip("/").split("/")
    return [
        "/",
        f"/{name}",
        f"/{token}",
        f"/{token}/",
        f"/{token[:-1]}/{name}",
        f"/{token}/../secret.txt",
        f"/{token}/..%2fsecret.txt",
        f"/{token}/%2e%2e/secret.txt",
        f"//{token}/{name}",
        f"{route}/",
        f"{route}?x",
        f"{route}%00.txt",
        f"{route.upper()}",
        f"http://other.invalid{route}",
        "/../../../../etc/passwd",
        f"/{'A' * 43}/{name}",
    ]


def test_no_wrong_link_and_no_trick_gets_anything_and_the_right_one_still_works(
    link: Link, serving: Serving
) -> None:
    paths = tricks(link)
    assert len(paths) < MOST_WRONG
    assert {status(link.url, path) for path in paths} == {404}
    route = urlsplit(link.url).path
    assert {status(link.url, route, method) for method in ("POST", "PUT", "HEAD")} == {501}
    assert status(link.url, "/" + "x" * 70_000) == 414
    with urllib.request.urlopen(link.url, timeout=20) as answer:
        assert answer.status == 200
        answer.read()
    assert serving.ended() == "taken"


def test_whoever_guesses_closes_it(link: Link, serving: Serving) -> None:
    for number in range(MOST_WRONG):
        assert status(link.url, f"/{number:043d}") == 404
    assert serving.ended() == "wrong"


def test_what_browsers_ask_by_themselves_is_no_guess(link: Link, serving: Serving) -> None:
    for _ in range(MOST_WRONG):
        for path in ("/favicon.ico", "/", "/robots.txt", "/apple-touch-icon.png"):
            assert status(link.url, path) == 404
    with urllib.request.urlopen(link.url, timeout=20) as answer:
        answer.read()
    assert serving.ended() == "taken"


def test_guesses_count_by_address(link: Link, serving: Serving) -> None:
    route = f"/{'x' * 43}/a"
    for number in range(MOST_WRONG + 10):
        here = f"127.0.0.{2 + number % 4}"
        parts = urlsplit(link.url)
        with socket.create_connection((parts.hostname, parts.port), 20, (here, 0)) as raw:
            raw.sendall(f"GET {route} HTTP/1.0\r\n\r\n".encode())
            assert b" 404 " in raw.recv(100)
    with urllib.request.urlopen(link.url, timeout=20) as answer:
        answer.read()
    assert serving.ended() == "taken"


def test_slow_clients_hold_up_neither_the_phone_nor_the_end(link: Link, serving: Serving) -> None:
    parts = urlsplit(link.url)
    held = []
    for number in range(40):
        here = f"127.0.0.{2 + number % 9}"
        raw = socket.create_connection((parts.hostname, parts.port), 20, (here, 0))
        # Half a request, and no more of it.
        raw.sendall(b"GET /a")
        held.append(raw)
    with urllib.request.urlopen(link.url, timeout=20) as answer:
        assert len(answer.read()) > 300_000
    assert serving.ended() == "taken"
    for raw in held:
        raw.close()


def test_the_end_comes_while_somebody_holds_the_line(link: Link, serving: Serving) -> None:
    parts = urlsplit(link.url)
    with socket.create_connection((parts.hostname, parts.port), timeout=20) as raw:
        raw.sendall(b"GET /")
        serving.now_s = 600.0
        assert serving.ended() == "over"


@pytest.mark.parametrize(
    "request_line",
    [
        b"GET\t/\tHTTP/1.0",
        b"GET",
        b"GET /",
        b"\xff\xfe\x00",
        b"GET /\xff HTTP/1.0",
        b"GET / HTTP/9.9.9",
        b"GET / HTTP/1.1\r\n" + b"a: b\r\n" * 200,
        b"",
    ],
)
def test_nothing_is_printed_over_the_code(
    link: Link, serving: Serving, capfd: pytest.CaptureFixture[str], request_line: bytes
) -> None:
    parts = urlsplit(link.url)
    with socket.create_connection((parts.hostname, parts.port), timeout=20) as raw:
        raw.sendall(request_line + b"\r\n\r\n")
        raw.shutdown(socket.SHUT_WR)
        while raw.recv(4096):
            pass
    with urllib.request.urlopen(link.url, timeout=20) as answer:
        answer.read()
    assert serving.ended() == "taken"
    assert capfd.readouterr() == ("", "")


def test_after_ten_minutes_it_is_closed(link: Link, serving: Serving) -> None:
    assert MINUTES == 10
    serving.now_s = 599.0
    assert status(link.url, "/") == 404
    serving.now_s = 600.0
    assert serving.ended() == "over"
    with pytest.raises(ConnectionRefusedError):
        status(link.url, urlsplit(link.url).path)


def test_a_download_that_broke_off_may_be_tried_again(link: Link, serving: Serving) -> None:
    parts = urlsplit(link.url)
    with socket.create_connection((parts.hostname, parts.port), timeout=20) as raw:
        # Reset at once: the rest of the answer has nowhere to go.
        raw.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
        raw.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1024)
        raw.sendall(f"GET {parts.path} HTTP/1.0\r\n\r\n".encode())
        raw.recv(10)
    with urllib.request.urlopen(link.url, timeout=20) as answer:
        assert len(answer.read()) > 300_000
    assert serving.ended() == "taken"


def test_two_links_never_have_the_same_secret(tmp_path: Path) -> None:
    file = tmp_path / "a.zip"
    file.write_bytes(b"")
    secrets = set()
    for _ in range(20):
        link = Link(file, host="127.0.0.1")
        link.close()
        secrets.add(urlsplit(link.url).path.split("/")[1])
    assert len(secrets) == 20
    # 32 bytes in base64: 43 letters.
    assert {len(secret) for secret in secrets} == {43}


def test_the_command_tells_what_is_open_and_how_it_ended(
    dog: Path, key: DeviceKey, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    session(dog, "2026-11-10", key=key)
    served: list[tuple[str, list[str]]] = []
    outcomes: Iterator[Outcome] = itertools.cycle(["taken", "over"])

    def serve(self: Link, **_: Callable[[], Any]) -> Outcome:
        with zipfile.ZipFile(self._state.path) as archive:
            served.append((self.url, archive.namelist()))
        self.close()
        return next(outcomes)

    monkeypatch.setattr(Link, "serve", serve)
    monkeypatch.setattr("coach.cli.phone.local_address", lambda: "127.0.0.1")
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("LINES", "60")
    assert run(["handover", "--link"]) == Exit.DONE
    out = capsys.readouterr().out
    assert "It is not encrypted" in out
    assert "Nothing else is open." in out
    assert "The file was taken. The link is closed." in out
    assert served[0][0] in out
    assert "report.pdf" in served[0][1]
    code = [line for line in out.splitlines() if line and set(line) <= set("█▀▄ ")]
    assert decoded(code) == served[0][0]
    assert run(["handover", "--link"]) == Exit.ENDED_EARLY
    assert "nobody took the file" in capsys.readouterr().out
