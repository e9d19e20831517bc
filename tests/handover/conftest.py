"""A dog's folder, a key, and a moment at which a handover is made."""

import json
from pathlib import Path

import pytest

from coach import __version__, paths
from coach.handover.build_info import Made
from coach.journal.signing import DeviceKey, device_key

MADE = Made(at="2026-11-25T10:00:00+01:00", program=__version__)


@pytest.fixture
def dog(own_world: Path) -> Path:
    """The empty folder of an invented dog, where the program looks for it."""
    folder = paths.dog_folder("Pip")
    folder.mkdir(parents=True)
    return folder


@pytest.fixture
def key(own_world: Path) -> DeviceKey:
    """The key of this device."""
    return device_key(paths.device_key_file())


@pytest.fixture
def plain_report(monkeypatch: pytest.MonkeyPatch) -> None:
    """A report that costs nothing, for tests of everything else: its summary as it stands."""
    monkeypatch.setattr("coach.handover.report.report_pdf", lambda s: json.dumps(s).encode())
