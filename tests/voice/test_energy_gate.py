"""The gate before the noise filter: silence is spared, sound never is."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.voice.energy_gate import AFTER, BEFORE, EnergyGate, Samples
from coach.voice.recogniser import FRAME

SETTLED = 300


def noise(level_lsb: float, frames: int, seed: int = 1) -> list[Samples]:
    dice = np.random.default_rng(seed)
    return [dice.normal(0.0, level_lsb, FRAME) for _ in range(frames)]


def passed(gate: EnergyGate, frames: list[Samples]) -> list[bool]:
    return [heard for frame in frames for _, heard in gate.feed(frame)]


@pytest.mark.parametrize("room_lsb", [0.5, 5.0, 30.0, 150.0, 600.0])
def test_a_steady_room_is_spared_whatever_its_level(room_lsb: float) -> None:
    gate = EnergyGate()
    passed(gate, noise(room_lsb, SETTLED))
    assert not any(passed(gate, noise(room_lsb, 1000, seed=2)))


@pytest.mark.parametrize("room_lsb", [0.5, 30.0, 300.0])
# 10 dB over the room is the noisiest that commands are held to; 40 LSB is a whisper far away.
@pytest.mark.parametrize("over_db", [10.0, 30.0])
def test_sound_opens_it_with_what_came_before_and_keeps_it_open_after(
    room_lsb: float, over_db: float
) -> None:
    gate = EnergyGate()
    passed(gate, noise(room_lsb, SETTLED))
    loud_lsb = max(40.0, room_lsb * 10 ** (over_db / 20))
    heard = passed(gate, noise(loud_lsb, 20, seed=3))
    # All twenty, and all that was kept from before them.
    assert sum(heard) == 20 + BEFORE
    after = passed(gate, noise(room_lsb, AFTER + BEFORE + 50, seed=4))
    assert sum(after) == AFTER - 1


@given(st.lists(st.sampled_from([0.0, 5.0, 100.0, 3000.0]), max_size=120))
def test_every_frame_comes_back_once_and_in_order(levels: list[float]) -> None:
    gate = EnergyGate()
    given_in = [np.full(FRAME, level + number / 1000) for number, level in enumerate(levels)]
    back = [frame for frame_in in given_in for frame, _ in gate.feed(frame_in)]
    assert len(back) + gate.waiting == len(given_in)
    assert all(one is other for one, other in zip(back, given_in, strict=False))


def test_a_room_that_grows_louder_is_followed() -> None:
    gate = EnergyGate()
    passed(gate, noise(30.0, SETTLED))
    # A fan is switched on: 6 dB more. For a while it is listened to, then it is the room.
    passed(gate, noise(60.0, 900, seed=5))
    assert not any(passed(gate, noise(60.0, 200, seed=6)))
