"""Sound for the tests: never the loudspeaker of whoever runs them."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from coach.voice.render import Cache
from tests.voice.sink import SoundServer


@pytest.fixture(scope="session")
def speech(tmp_path_factory: pytest.TempPathFactory) -> Cache:
    """A cache of real speech that the tests of a run share."""
    return Cache(tmp_path_factory.mktemp("speech"))


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SoundServer]:
    """A private sound server without a sink; child processes see no other."""
    running = SoundServer(tmp_path / "sound")
    for name, value in running.environment.items():
        monkeypatch.setenv(name, value)
    yield running
    running.kill()


@pytest.fixture
def room(server: SoundServer) -> SoundServer:
    """The same with a loudspeaker."""
    server.plug_in()
    return server
