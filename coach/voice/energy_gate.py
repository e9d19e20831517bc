"""Spare the noise filter in silence: let frames through only around sound. Needs numpy; no clock.

The filter is most of what listening costs, and a room by a dog bed is silent most of the time. A
frame opens the gate when it is louder than the quietest of the last seconds. The frames just before
go through as well, so that no first sound is lost and the filter has settled when speech begins.
"""

import math
from collections import deque
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float64]

# Frames of 10 ms. Our choices, tried on synthetic voices (tests/voice/corpus.py); no source.
BEFORE = 40
AFTER = 80
# By so much a frame must be louder than the floor: 3 dB.
LOUDER = 1.41
# Softer than this on the scale of 16-bit samples nobody speaks to a microphone in the room.
LEAST_LSB = 12.0
# The floor follows a room that grows louder, by 3 dB in 2 s, and falls at once.
RISE = 1.0018


class EnergyGate:
    """Takes frames in order, gives each back in order with whether it may hold speech."""

    def __init__(self) -> None:
        # Open until the floor is known.
        self._floor_lsb = math.inf
        self._left = AFTER
        self._before: deque[Samples] = deque()

    @property
    def waiting(self) -> int:
        """How many frames are kept back, in case that speech follows."""
        return len(self._before)

    def feed(self, frame: Samples) -> Iterator[tuple[Samples, bool]]:
        """The frames whose turn has come, each with True if it must be filtered and heard."""
        level_lsb = float(np.sqrt(np.dot(frame, frame) / len(frame)))
        if level_lsb > LEAST_LSB and level_lsb > LOUDER * self._floor_lsb:
            self._left = AFTER
        self._floor_lsb = max(LEAST_LSB / LOUDER, min(level_lsb, self._floor_lsb * RISE))
        if self._left:
            self._left -= 1
            while self._before:
                yield self._before.popleft(), True
            yield frame, True
            return
        self._before.append(frame)
        if len(self._before) > BEFORE:
            yield self._before.popleft(), False
