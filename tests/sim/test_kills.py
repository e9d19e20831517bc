"""A few real kills; two hundred by hand (see kills.py)."""

from pathlib import Path

import pytest

from tests.sim.kills import kill_once

pytestmark = pytest.mark.long


@pytest.mark.parametrize("seed", range(6))
def test_a_kill_loses_nothing_that_was_told(seed: int, own_world: Path) -> None:
    assert kill_once(seed, own_world)
