"""Shared by the tests of the appliance."""

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.rounds import through
from tests.screens.thin import LONG_BACK
from tests.terminal import PATIENCE_S


@pytest.fixture
def manager(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[socket.socket]:
    """The service manager's end of the socket, named in the environment."""
    # Not under tmp_path: the name of a socket may have 107 bytes only (unix(7)).
    name = f"\0coach-test-{os.getpid()}-{tmp_path.name}"
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)) as ours:
        ours.bind(name)
        ours.settimeout(PATIENCE_S)
        monkeypatch.setenv("NOTIFY_SOCKET", name.replace("\0", "@"))
        monkeypatch.setenv("WATCHDOG_USEC", "400000")
        yield ours


def cut_off(home: Path) -> None:
    """The demo dog's own session, killed in its first hold; ``home`` is COACH_HOME."""
    plan = home / "state" / "dogs" / "juniper" / "plan.toml"
    plan.parent.mkdir(parents=True)
    plan.write_bytes(LONG_BACK.read_bytes())
    words = ("session", str(plan), "--silent", "--plain")
    environment = {k: v for k, v in os.environ.items() if k != "NOTIFY_SOCKET"}
    with subprocess.Popen(
        [sys.executable, "-m", "coach", *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    ) as child:
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(through(LONG_BACK) + "\ngo\n")
        child.stdin.flush()
        while "HOLD" not in child.stdout.readline():
            assert child.poll() is None
        child.kill()
