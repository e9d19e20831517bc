"""Two hundred simulated evenings; ten thousand by hand (see the simulator)."""

from collections import Counter

import pytest

from coach.session.events import EVENT_KINDS
from coach.session.machine import Phase
from tests.sim.disk import FAULTS
from tests.sim.simulator import evening

CHUNK = 25


@pytest.mark.parametrize("first", range(0, 200, CHUNK))
def test_evenings(first: int) -> None:
    for seed in range(first, first + CHUNK):
        evening(seed)


def test_a_few_evenings_meet_everything_that_can_happen() -> None:
    seen: Counter[str] = Counter()
    everything = {
        *FAULTS,
        *EVENT_KINDS,
        *(phase.value for phase in Phase),
        "carried on",
        "closed as cut off",
        "ended by the disk",
        "killed between two writes",
        "owner walked away",
        "power cut",
        "process killed",
        "readiness asked",
        "signs seen",
        "wall clock jumped",
    }
    for seed in range(1000, 1200):
        seen += evening(seed).seen
        if everything <= set(seen):
            return
    assert everything - set(seen) == set()
