"""Shared by the tests of the appliance."""

import os
import socket
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

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
