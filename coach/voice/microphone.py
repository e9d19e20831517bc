"""The microphone: one stream, always open, because a command that loses its begin is lost.

Used in the listening process only.
"""

import threading
import time
from collections import deque
from typing import Any

import numpy as np
import numpy.typing as npt

from coach.voice.device_watch import server_says

NS_PER_S = 1_000_000_000
WANTED_HZ = 48_000
# A voice needs this much; telephone quality does not reach it.
LEAST_HZ = 16_000
BLOCK_S = 0.03
DEAD_AFTER_S = 2.0
# What waits longer than this for the recogniser is thrown away: words that old are no command.
WAITS_AT_MOST_S = 3.0

Samples = npt.NDArray[np.float64]


class NoMicrophone(Exception):  # noqa: N818  (a state of the world, not a fault)
    """There is nothing to listen with just now; the message says why."""


class Faster:
    """From the rate of the microphone to 48 kHz, block by block, by straight lines between."""

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._taken = 0
        self._made = 0
        self._last = np.zeros(1)

    def fast(self, block: Samples) -> Samples:
        """The samples that fall between the end of the block before and of this one."""
        known = np.concatenate([self._last, block])
        # Whole numbers of both rates: a sum of fractions would drift.
        newest = self._taken + len(block) - 1
        made = newest * WANTED_HZ // self._rate_hz + 1
        places = np.arange(self._made, made) * self._rate_hz / WANTED_HZ - (self._taken - 1)
        result: Samples = np.interp(places, np.arange(len(known)), known)
        self._taken, self._made = newest + 1, made
        self._last = known[-1:]
        return result


class Blocks:
    """A queue of blocks between the sound thread and the recogniser, bounded.

    Attributes:
        lost: how many blocks were thrown away because nobody took them.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._blocks: deque[tuple[bytes, int]] = deque()
        self._changed = threading.Condition()
        self.lost = 0

    def put(self, block: bytes, taken_ns: int) -> None:
        """Add a block. Where too many wait, all older ones go at once: throwing away one at a time
        would leave a gap before each block, and nothing could be heard any more."""
        with self._changed:
            if len(self._blocks) >= self._most:
                self.lost += len(self._blocks)
                self._blocks.clear()
            self._blocks.append((block, taken_ns))
            self._changed.notify()

    def get(self, timeout_s: float) -> tuple[bytes, int] | None:
        """The oldest block and when it was taken; None if none comes in time."""
        with self._changed:
            if not self._changed.wait_for(lambda: self._blocks, timeout_s):
                return None
            return self._blocks.popleft()


class Microphone:
    """The default microphone. Raises NoMicrophone when there is none that can be used.

    Attributes:
        rate_hz: what the device gives; the samples that are handed out are at 48 kHz.
    """

    def __init__(self) -> None:
        source = default_source()
        if source is not None and (not source or source.endswith(".monitor")):
            # A sound server without a microphone offers what the loudspeaker plays.
            raise NoMicrophone("the sound server has no microphone")
        try:
            import sounddevice
        except OSError as error:
            raise NoMicrophone("PortAudio is not installed (apt install libportaudio2)") from error
        self._blocks = Blocks(most=round(WAITS_AT_MOST_S / BLOCK_S))

        def take(data: Any, _frames: int, _when: Any, _status: Any) -> None:
            self._blocks.put(bytes(data), time.monotonic_ns())

        # PortAudio lists the devices once: look again each time.
        sounddevice._terminate()
        sounddevice._initialize()
        try:
            usual_hz = int(sounddevice.query_devices(kind="input")["default_samplerate"])
        except (sounddevice.PortAudioError, ValueError) as error:
            raise NoMicrophone("no microphone is plugged in") from error
        problem = ""
        for rate_hz in dict.fromkeys((WANTED_HZ, usual_hz)):
            if rate_hz < LEAST_HZ:
                problem = f"{rate_hz} Hz are too few; at least {LEAST_HZ} are needed"
                continue
            try:
                stream = sounddevice.RawInputStream(
                    samplerate=rate_hz,
                    blocksize=round(BLOCK_S * rate_hz),
                    channels=1,
                    dtype="int16",
                    callback=take,
                )
                stream.start()
            except (sounddevice.PortAudioError, ValueError) as error:
                problem = f"{rate_hz} Hz: {error}"
                continue
            self._stream = stream
            self.rate_hz = rate_hz
            self._faster = None if rate_hz == WANTED_HZ else Faster(rate_hz)
            return
        raise NoMicrophone(problem)

    def read(self) -> tuple[Samples, int]:
        """The next samples and when the last of them was taken. Raises NoMicrophone when gone."""
        waiting = self._blocks.get(DEAD_AFTER_S)
        if waiting is None:
            raise NoMicrophone("the microphone no longer sends sound")
        block, taken_ns = waiting
        samples = np.frombuffer(block, dtype="<i2").astype(np.float64)
        return (samples if self._faster is None else self._faster.fast(samples)), taken_ns

    @property
    def lost(self) -> int:
        """How many blocks were thrown away so far because listening could not keep up."""
        return self._blocks.lost

    def close(self) -> None:
        """Let go of the device."""
        self._stream.abort(ignore_errors=True)
        self._stream.close(ignore_errors=True)


def default_source() -> str | None:
    """What the sound server takes for its microphone; None where no server answers."""
    return server_says("get-default-source")
