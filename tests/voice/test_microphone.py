"""A microphone that is missing, mute, too slow or at another rate: told, or made the best of."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from queue import SimpleQueue
from typing import Any

import numpy as np
import pytest

from coach.voice import microphone
from coach.voice.ear_child import LagWatch, listen
from coach.voice.listener import ListeningEar
from coach.voice.microphone import (
    BLOCK_S,
    WAITS_AT_MOST_S,
    WANTED_HZ,
    Blocks,
    Faster,
    Microphone,
    NoMicrophone,
    Samples,
)

HANDS_ON = """
import os, sys
from coach.voice.ear_child import await_end


class Told:
    def put(self, own):
        print(own["plays"], own["onset_ns"], own["tone"], flush=True)


await_end(Told())
"""


class Sounds:
    """A sounddevice of our own: ``takes`` are the rates that its microphone can do."""

    class PortAudioError(Exception):
        pass

    def __init__(self, usual_hz: int | None, takes: tuple[int, ...] = ()) -> None:
        self.usual_hz = usual_hz
        self.takes = takes
        self.callback: Callable[..., None] | None = None

    def _terminate(self) -> None:
        """Looks again."""

    _initialize = _terminate

    def query_devices(self, kind: str) -> dict[str, Any]:
        if self.usual_hz is None:
            raise self.PortAudioError("Error querying device -1")
        return {"default_samplerate": float(self.usual_hz)}

    def RawInputStream(self, *, samplerate: int, callback: Any, **_: Any) -> "Sounds":
        if samplerate not in self.takes:
            raise self.PortAudioError("Invalid sample rate")
        self.callback = callback
        return self

    def start(self, **_: Any) -> None:
        """Runs."""

    abort = close = start


@pytest.fixture
def plugged(monkeypatch: pytest.MonkeyPatch) -> Callable[[Sounds], Sounds]:
    """Makes PortAudio's answers ours; no sound server is asked."""

    def plug(sounds: Sounds) -> Sounds:
        monkeypatch.setitem(sys.modules, "sounddevice", sounds)
        monkeypatch.setattr(microphone, "default_source", lambda: None)
        return sounds

    return plug


def test_another_rate_is_made_the_wanted_one(plugged: Callable[[Sounds], Sounds]) -> None:
    sounds = plugged(Sounds(44_100, takes=(44_100,)))
    opened = Microphone()
    assert opened.rate_hz == 44_100
    tone = 8000 * np.sin(2 * np.pi * 440 * np.arange(44_100) / 44_100)
    assert sounds.callback is not None
    for at in range(0, 44_100, 1323):
        block = tone[at : at + 1323].astype("<i2")
        sounds.callback(block.tobytes(), len(block), None, None)
    heard = np.concatenate([opened.read()[0] for _ in range(0, 44_100, 1323)])
    # A second stays a second, and an A stays an A.
    assert abs(len(heard) - WANTED_HZ) <= 2
    strongest = np.argmax(np.abs(np.fft.rfft(heard)))
    assert strongest * WANTED_HZ / len(heard) == pytest.approx(440, abs=1)


@pytest.mark.parametrize("size", [1, 7, 480, 4410])
def test_the_cut_into_blocks_does_not_matter(size: int) -> None:
    ramp = np.arange(4410, dtype=np.float64)
    whole = Faster(44_100).fast(ramp)
    cut = Faster(44_100)
    parts = [cut.fast(ramp[at : at + size]) for at in range(0, len(ramp), size)]
    np.testing.assert_allclose(np.concatenate(parts), whole, atol=1e-6)


@pytest.mark.parametrize(
    ("sounds", "why"),
    [
        (Sounds(None), "no microphone is plugged in"),
        (Sounds(8_000, takes=(8_000,)), "8000 Hz are too few; at least 16000 are needed"),
        (Sounds(44_100), "44100 Hz: Invalid sample rate"),
    ],
    ids=["none", "telephone", "refused"],
)
def test_a_microphone_that_cannot_be_used_says_why(
    plugged: Callable[[Sounds], Sounds],
    sounds: Sounds,
    why: str,
    capfd: pytest.CaptureFixture[str],
) -> None:
    plugged(sounds)
    with pytest.raises(NoMicrophone, match=why):
        Microphone()
    # The process tells it once, however often it looks again.
    assert not listen(None, SimpleQueue(), heard_before=False)  # type: ignore[arg-type]
    assert why in capfd.readouterr().out
    assert not listen(None, SimpleQueue(), heard_before=True)  # type: ignore[arg-type]
    assert capfd.readouterr().out == ""


def test_what_the_coach_plays_goes_to_the_listening_process() -> None:
    ear = ListeningEar()
    ear.plays("early.wav", 1, tone=False)  # nobody listens yet: nothing happens
    read, written = os.pipe()
    # The process itself, but for the microphone: only what its stdin hands on.
    with subprocess.Popen(
        [sys.executable, "-c", HANDS_ON], stdin=subprocess.PIPE, stdout=written, bufsize=0
    ) as child:
        ear._child = child
        ear.plays("cue.wav", 2, tone=False)
        ear.plays("", 3, tone=False)
        assert child.stdin is not None
        child.stdin.close()
    os.close(written)
    with os.fdopen(read) as told:
        assert told.read().splitlines() == ["cue.wav 2 False", " 3 False"]


@pytest.mark.parametrize("source", ["", "room.monitor"])
def test_a_sound_server_without_a_microphone_has_none(
    monkeypatch: pytest.MonkeyPatch, source: str
) -> None:
    # Its stand-in would hear the coach itself.
    monkeypatch.setattr(microphone, "default_source", lambda: source)
    with pytest.raises(NoMicrophone, match="no microphone"):
        Microphone()


# A recogniser that cannot keep up


def test_the_queue_keeps_the_newest_and_counts_what_it_threw_away() -> None:
    blocks = Blocks(most=3)
    for number in range(5):
        blocks.put(b"", number)
    assert blocks.lost == 3
    assert [blocks.get(0) for _ in range(3)] == [(b"", 3), (b"", 4), None]


class SlowWorld:
    """A microphone in virtual time, and a recogniser that needs ``factor`` times real time."""

    rate_hz = WANTED_HZ

    def __init__(self, factor: float, blocks: int) -> None:
        self.factor, self.left = factor, blocks
        self.now_ns = 0
        self.taken_ns = 0
        self.waiting = Blocks(most=round(WAITS_AT_MOST_S / BLOCK_S))
        self.resets = 0
        self.lags_ns: list[int] = []

    @property
    def lost(self) -> int:
        return self.waiting.lost

    def _arrive(self) -> None:
        step_ns = round(BLOCK_S * 1e9)
        while self.left and self.taken_ns + step_ns <= self.now_ns:
            self.taken_ns += step_ns
            self.left -= 1
            self.waiting.put(b"", self.taken_ns)

    def read(self) -> tuple[Samples, int]:
        self._arrive()
        block = self.waiting.get(0)
        if block is None and self.left:
            self.now_ns = self.taken_ns + round(BLOCK_S * 1e9)
            self._arrive()
            block = self.waiting.get(0)
        if block is None:
            raise NoMicrophone("the test is over")
        return np.full(round(BLOCK_S * WANTED_HZ), 100.0), block[1]

    def feed(self, samples: Samples, ends_ns: int) -> list[Any]:
        self.now_ns += round(len(samples) / WANTED_HZ * 1e9 * self.factor)
        if self.left:
            self.lags_ns.append(self.now_ns - ends_ns)
        return []

    def reset(self) -> None:
        self.resets += 1

    def close(self) -> None:
        """Nothing to let go of."""


@pytest.mark.parametrize(
    ("factor", "behind"), [(0.3, False), (0.99, False), (1.5, True), (4, True)]
)
def test_a_recogniser_that_is_too_slow_says_so_and_never_falls_far_behind(
    factor: float, behind: bool, capfd: pytest.CaptureFixture[str]
) -> None:
    world = SlowWorld(factor, blocks=4000)  # two minutes
    assert listen(
        world,  # type: ignore[arg-type]
        SimpleQueue(),
        heard_before=False,
        open_microphone=lambda: world,
        now_ns=lambda: world.now_ns,
    )
    told = [json.loads(line)["kind"] for line in capfd.readouterr().out.splitlines()]
    assert ("listening_behind" in told) is behind
    # What was thrown away was never joined to what came later.
    assert (world.resets > 0) is behind
    # Without the bound the lag would grow with the length of the session.
    assert max(world.lags_ns) <= (WAITS_AT_MOST_S + BLOCK_S) * factor * 1e9 + 1e9


def test_lag_is_told_once_and_its_end_once() -> None:
    watch = LagWatch()
    lags_s = [0.1, 0.9, 1.1, 2.0, 1.0, 0.5, 0.2, 0.1, 1.2]
    assert [watch.look(round(lag_s * 1e9)) for lag_s in lags_s] == [
        *(None, None, "listening_behind", None, None, None),
        *("listening_caught_up", None, "listening_behind"),
    ]
