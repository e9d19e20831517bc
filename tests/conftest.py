"""Every test runs in a world of its own: no real settings, no real journals, no colour wishes."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

# A busy machine is no fault of the code: no example is timed.
settings.register_profile("untimed", deadline=None)
# The gate tries the same examples each time; everywhere else every run looks at new ones.
settings.register_profile("gate", deadline=None, derandomize=True)
settings.load_profile("gate" if os.environ.get("CI") else "untimed")


@pytest.fixture(autouse=True)
def own_world(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A fresh COACH_HOME; returns it."""
    home = tmp_path / "coach-home"
    monkeypatch.setenv("COACH_HOME", str(home))
    monkeypatch.delenv("NO_COLOR", raising=False)
    return home
