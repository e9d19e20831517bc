"""Signs of life for the service manager, and what comes of a screen that hangs.

Expected messages: sd_notify(3) and systemd.service(5), WatchdogSec= and NotifyAccess=.
"""

import itertools
import os
import signal
import socket
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.appliance.notify import Watchdog, from_environment
from coach.journal.journal import journal_files, read_journal
from coach.record.tally import tally_of
from tests.appliance.conftest import cut_off
from tests.terminal import PATIENCE_S, Terminal


def waiting(manager: socket.socket) -> list[str]:
    """All messages that have arrived."""
    manager.setblocking(False)
    heard = []
    try:
        while True:
            heard.append(manager.recv(4096).decode())
    except BlockingIOError:
        manager.settimeout(PATIENCE_S)
        return heard


def test_the_manager_hears_ready_then_life_then_that_the_screen_goes(
    manager: socket.socket,
) -> None:
    dog = from_environment()
    dog.begin()
    dog.beat()
    dog.end()
    first, life, last = waiting(manager)
    assert {"READY=1", "WATCHDOG_USEC=400000"} <= set(first.splitlines())
    assert life == "WATCHDOG=1"
    assert "WATCHDOG_USEC=0" in last.splitlines()


@given(
    limit_us=st.integers(1_000, 600_000_000),
    steps=st.lists(st.integers(1, 10**8), min_size=1, max_size=300),
)
def test_beats_are_few_and_never_too_far_apart(limit_us: int, steps: list[int]) -> None:
    now = [0]
    sent: list[int] = []
    dog = Watchdog(lambda _: sent.append(now[0]), limit_us=limit_us, mono_ns=lambda: now[0])
    for step in steps:
        before = len(sent)
        dog.beat()
        # systemd.service(5), sd_watchdog_enabled(3): every half of the limit is recommended.
        assert len(sent) > before or now[0] - sent[-1] < limit_us * 1000 / 2
        now[0] += step
    gaps = [after - before for before, after in itertools.pairwise(sent)]
    assert all(gap >= limit_us * 1000 // 4 for gap in gaps)


@pytest.mark.parametrize(
    "environment",
    [
        {},
        {"NOTIFY_SOCKET": ""},
        {"NOTIFY_SOCKET": "vsock:2:1234", "WATCHDOG_USEC": "1000000"},
        {"NOTIFY_SOCKET": "/nowhere/at/all", "WATCHDOG_USEC": "1000000"},
        {"NOTIFY_SOCKET": "@coach-nobody-listens", "WATCHDOG_USEC": "soon"},
    ],
    ids=["none", "empty", "vsock", "gone", "no-number"],
)
def test_without_a_manager_that_can_be_told_nothing_happens(environment: dict[str, str]) -> None:
    dog = from_environment(environment)
    dog.begin()
    dog.beat()
    dog.end()


@pytest.mark.long
def test_a_hung_screen_falls_silent_and_after_the_kill_the_session_carries_on(
    manager: socket.socket, own_world: Path
) -> None:
    cut_off(own_world)
    hung = Terminal("bedside", "--silent")
    again: Terminal | None = None
    try:
        hung.until(lambda text: "eyewear" in text)
        hung.answer()
        hung.until(lambda text: "covered or turned" in text)
        hung.answer()
        hung.until(lambda text: "PAUSED" in text)
        waiting(manager)
        assert manager.recv(4096) == b"WATCHDOG=1"

        hung.process.send_signal(signal.SIGSTOP)
        os.waitpid(hung.process.pid, os.WUNTRACED)
        waiting(manager)
        assert waiting(manager) == []
        # What the manager does when it has waited long enough (WatchdogSec=, then Restart=).
        hung.process.kill()
        hung.process.wait()

        again = Terminal("bedside", "--silent")
        again.until(lambda text: "eyewear" in text)
        again.answer()
        again.until(lambda text: "covered or turned" in text)
        again.answer()
        again.until(lambda text: "PAUSED" in text)
        again.press("x")
        again.until(lambda text: "Q close" in text)
    finally:
        for terminal in filter(None, (hung, again)):
            if terminal.process.poll() is None:
                terminal.process.kill()
                terminal.process.wait()
            terminal.close()
    (journal,) = journal_files(own_world / "state" / "dogs" / "juniper" / "journals")
    tally = tally_of(read_journal(journal).lines)
    assert (tally.state, tally.cuts, tally.closed) == ("stopped", 2, True)
    assert tally.problems == ()
