"""Takes the coach's own voice out of what the microphone hears. Needs numpy; no clock, no device.

What the coach plays is known to the sample; what is not known is the way from the loudspeaker to
the microphone: when, how loud, with which reverberation. That way is a filter, and the filter that
explains best what came back (least squares) is found from the cues themselves: for each, how the
microphone goes with the loudspeaker at every lag. Those sums are kept from cue to cue, so that
somebody who speaks over one cue spoils little. What no filter explains (a loudspeaker that
distorts) is made softer where the cue is loud, band by band.

Two things move: when a cue is said to begin is right to some hundredths of a second only, so each
one is laid in time against what is known; and two sound devices have two clocks, so the speed
between them is followed.

WebRTC's canceller (AEC3, as the package pywebrtc-audio) was tried first: it silences both voices
where they meet. In simulated rooms, with a loudspeaker that distorts
more than the ones in the tests, 3 of 24 stops over a cue as loud as the owner came through.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

HEARS_HZ = 16_000
# How much later than told a cue may come back, buffers of devices and all; and how much earlier.
LATEST = 6 * HEARS_HZ // 10
EARLIEST = HEARS_HZ // 10
# The filter: from just before the direct sound to where reverberation is lost in noise.
BEFORE = HEARS_HZ // 100
TAPS = 35 * HEARS_HZ // 100
# So far the begin of a cue may be off.
OFF = 6 * HEARS_HZ // 100
# Sums of earlier cues count so much less with each cue.
MEMORY = 0.8
# Of the power of the loudspeaker: keeps frequencies that are not played out of the filter.
REGULAR = 3e-4
FIRST_REGULAR = 3e-3
STEPS = 60
# Between the samples of the loudspeaker.
FINER = 4
# More than any two quartz clocks differ.
MOST_DRIFT = 300e-6

# Spectra: half overlapping, 32 ms.
SIZE = 512
HOP = SIZE // 2
HOP_S = HOP / HEARS_HZ
WINDOW = np.sqrt(np.hanning(SIZE + 1)[:SIZE])
# Where voices are: 250 Hz to 4 kHz.
BAND = slice(8, 128)
# How the sound of a frame dies away over the next ones.
DECAY = (0.6, 0.36, 0.2)
# What a filter leaves, before it is known: a share of the power.
LEFT = 0.05

Sound = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of sound in which the coach spoke, at :data:`HEARS_HZ`.

    Attributes:
        echo: what came back of the coach, as far as it can be told.
        rest: what the microphone heard without it.
        left: of each frequency of the echo, the share of power that is still in ``rest``.
    """

    echo: Sound
    rest: Sound
    left: Sound

    def softened(self, much: float, least: float) -> Sound:
        """``rest`` without what is left of the echo: ``much`` times as much as is expected is
        taken away, and no frequency made softer than by ``least``."""
        spectra = _spectra(self.rest)
        power = abs(spectra) ** 2 + 1.0
        gain = np.sqrt(np.maximum(1 - much * self._expected() / power, least**2))
        around = np.vstack([gain[:1], gain, gain[-1:]])
        return _sound(spectra * (around[:-2] + around[1:-1] + around[2:]) / 3, len(self.rest))

    def louder_db(self) -> Sound:
        """For each frame of :data:`HOP_S`: how much louder ``rest`` is than what is expected to
        be left of the echo and of the room's noise."""
        power = (abs(_spectra(self.rest)) ** 2)[:, BAND].sum(axis=1)
        noise = np.percentile(power, 10)
        expected = self._expected()[:, BAND].sum(axis=1) + 2 * noise
        louder: Sound = 10 * np.log10((power + 1.0) / (expected + 1.0))
        return louder

    def _expected(self) -> npt.NDArray[np.float64]:
        power = abs(_spectra(self.echo)) ** 2
        lasting = power.copy()
        for frames, share in enumerate(DECAY, start=1):
            np.maximum(lasting[frames:], share * power[:-frames], out=lasting[frames:])
        return self.left * lasting


class EchoPath:
    """What is known of the way from loudspeaker to microphone."""

    def __init__(self) -> None:
        self._played = np.zeros(TAPS)
        self._came_back = np.zeros(TAPS)
        self._filter: Sound | None = None
        self._begins = 0
        self._left = np.full(SIZE // 2 + 1, LEFT)
        self._drift = 0.0
        self._drift_known = 0.0

    def without_echo(self, far: Sound, near: Sound) -> Stretch:
        """``near``, as far as it is there, without ``far``; nothing is learned.

        Both begin at the same time, as far as the times of the cues can be trusted.
        """
        return self._taken_out(self._at_speed(far), near)[0]

    def learn(self, far: Sound, near: Sound, *, alone: bool) -> None:
        """Keep what a whole stretch tells of the way; ``alone``: nobody spoke but the coach."""
        far = self._at_speed(far)
        stretch, begins, played, came_back = self._taken_out(far, near)
        rest = _power(stretch.rest)
        fresh = Fresh(far, near)
        if 2 * _power(fresh.stretch(self._left).rest) < rest:
            # Something was moved: what was known is worth nothing any more.
            self._played, self._came_back = np.zeros(TAPS), np.zeros(TAPS)
            begins, played, came_back = fresh.begins, fresh.played, fresh.came_back
            stretch = fresh.stretch(self._left)
            rest = _power(stretch.rest)
        # The better a cue is explained, the more it counts.
        weight = min(1.0, (_power(near) / (10 * rest)) ** 2)
        self._played = MEMORY * self._played + weight * played
        self._came_back = MEMORY * self._came_back + weight * came_back
        self._filter = _solved(self._played, self._came_back, REGULAR)
        self._begins = begins
        self._follow(stretch, near)
        if alone:
            self._learn_left(stretch)

    def _at_speed(self, far: Sound) -> Sound:
        """``far`` as the clock of the microphone counts; straight lines between would be dull."""
        finer = np.fft.irfft(np.fft.rfft(far), FINER * len(far)) * FINER
        at = np.arange(len(far)) * (FINER * (1 + self._drift))
        even: Sound = np.interp(at, np.arange(len(finer)), finer)
        return even

    def _taken_out(self, far: Sound, near: Sound) -> tuple[Stretch, int, Sound, Sound]:
        """The stretch; where the filter begins; the sums of this stretch from there on."""
        if self._filter is None:
            fresh = Fresh(far, near)
            return fresh.stretch(self._left), fresh.begins, fresh.played, fresh.came_back
        early, (own, came_back) = _lags(far, near)
        played = own[:TAPS]
        # How the microphone should go with the loudspeaker, if only the begin were as it was.
        both_ways = np.concatenate([played[:0:-1], played])
        should = _convolved(both_ways, self._filter)
        found = _convolved(came_back, should[::-1])
        still = len(should) - 1 + self._begins - (TAPS - 1)
        around = found[still - OFF : still + OFF + 1]
        best = min(max(1, int(around.argmax())), len(around) - 2)
        begins = max(0, self._begins + best - OFF)
        early, (own, came_back) = _lags(far, near, _top(around[best - 1 : best + 2]))
        came_back = came_back[begins : begins + TAPS]
        path = _solved(
            self._played + played, self._came_back + came_back, REGULAR, start=self._filter
        )
        return _without(early, near, path, begins, self._left), begins, played, came_back

    def _follow(self, stretch: Stretch, near: Sound) -> None:
        """How the echo drifts away from what was expected, from blocks of a quarter second."""
        block, finer = HEARS_HZ // 4, 8
        size = 2 * block
        usual = _power(stretch.echo)
        found = []
        for at in range(0, len(near) - block, block):
            echo = stretch.echo[at : at + block]
            if _power(echo) < usual / 50:
                continue
            both = np.fft.rfft(near[at : at + block], size) * np.conj(np.fft.rfft(echo, size))
            alike = np.fft.irfft(both, size * finer)
            around = alike[np.arange(-6 * finer, 6 * finer + 1)]
            found.append((at, int(around.argmax()) / finer - 6, max(0.0, float(around.max()))))
        if len(found) < 3:
            return
        at_s, later, weight = np.array(found).T
        if weight.sum() == 0.0:
            return
        away = at_s - np.average(at_s, weights=weight)
        spread = float(weight @ away**2)
        slope = float(weight @ (away * (later - np.average(later, weights=weight))))
        self._drift_known = 0.95 * self._drift_known + spread
        self._drift -= slope / self._drift_known
        self._drift = min(MOST_DRIFT, max(-MOST_DRIFT, self._drift))

    def _learn_left(self, stretch: Stretch) -> None:
        echo, rest = (abs(_spectra(each)) ** 2 for each in (stretch.echo, stretch.rest))
        loud = echo.sum(axis=1) > 0.1 * echo.sum(axis=1).mean()
        now = _smooth(rest[loud].sum(axis=0)) / (_smooth(echo[loud].sum(axis=0)) + 1.0)
        # Falls fast and rises slowly: a noise in the room is not the coach.
        self._left = np.minimum(0.7 * self._left + 0.3 * now, 1.1 * self._left + 1e-4)


class Fresh:
    """The way as one stretch alone tells it."""

    def __init__(self, far: Sound, near: Sound) -> None:
        self._near = near
        self._far, (self.played, came_back) = _lags(far, near)
        whole = _solved(self.played, came_back, FIRST_REGULAR)
        frame = HEARS_HZ // 40
        loudest = int(np.convolve(whole**2, np.ones(frame), mode="valid").argmax())
        direct = loudest + int(abs(whole[loudest : loudest + frame]).argmax())
        self.begins = min(max(0, direct - BEFORE), len(came_back) - TAPS)
        self.played = self.played[:TAPS]
        self.came_back = came_back[self.begins : self.begins + TAPS]

    def stretch(self, left: Sound) -> Stretch:
        """Without the echo."""
        path = _solved(self.played, self.came_back, REGULAR)
        return _without(self._far, self._near, path, self.begins, left)


def _top(three: Sound) -> float:
    """Where between three samples, counted from the middle one, a parabola has its top."""
    bend = three[0] - 2 * three[1] + three[2]
    return 0.0 if bend >= 0.0 else float(np.clip((three[0] - three[2]) / (2 * bend), -1.0, 1.0))


def _lags(far: Sound, near: Sound, later: float = 0.0) -> tuple[Sound, tuple[Sound, Sound]]:
    """``far`` so much earlier that no echo comes before it (but for a part of a sample, ``later``);
    how it goes with itself and with ``near`` at each lag from then on."""
    early = np.concatenate([far[EARLIEST:], np.zeros(EARLIEST)])
    # What is known to be played after the end of ``near`` has not come back yet.
    early = early[: len(near)]
    count = LATEST + EARLIEST + TAPS
    size = _size(len(near) + count)
    played = np.fft.rfft(early, size)
    if later:
        played *= np.exp(-2j * np.pi * later * np.fft.rfftfreq(size))
        early = np.fft.irfft(played, size)[: len(near)]
    own = np.fft.irfft(abs(played) ** 2, size)[:count]
    return early, (own, np.fft.irfft(np.conj(played) * np.fft.rfft(near, size), size)[:count])


def _without(far: Sound, near: Sound, path: Sound, begins: int, left: Sound) -> Stretch:
    echo = np.zeros(len(near))
    if begins < len(near):
        echo[begins:] = _convolved(far, path)[: len(near) - begins]
    return Stretch(echo, near - echo, left)


def _solved(own: Sound, cross: Sound, regular: float, *, start: Sound | None = None) -> Sound:
    """The filter of least squares: conjugate gradients on the Toeplitz matrix of ``own``, after
    T. Chan's circulant preconditioner (1988), from ``start`` on."""
    count = len(cross)
    floor = regular * own[0]
    if floor <= 0.0:
        return np.zeros(count)
    size = _size(2 * count)
    row = np.zeros(size)
    row[:count] = own
    row[0] += floor
    row[1 - count :] = own[:0:-1]
    matrix = np.fft.rfft(row)
    index = np.arange(count)
    round_it = (count - index) * own + index * np.concatenate([[0.0], own[:0:-1]])
    round_it /= count
    round_it[0] += floor
    near_it = np.maximum(np.fft.rfft(round_it).real, floor)
    result = np.zeros(count) if start is None else start
    rest = cross - np.fft.irfft(matrix * np.fft.rfft(result, size), size)[:count]
    step = eased = np.fft.irfft(np.fft.rfft(rest) / near_it, count)
    worth = rest @ eased
    enough = 1e-6 * (cross @ cross)
    for _ in range(STEPS):
        if rest @ rest <= enough:
            break
        turned = np.fft.irfft(matrix * np.fft.rfft(step, size), size)[:count]
        length = worth / (step @ turned)
        result = result + length * step
        rest = rest - length * turned
        eased = np.fft.irfft(np.fft.rfft(rest) / near_it, count)
        before, worth = worth, rest @ eased
        step = eased + worth / before * step
    return result


def _size(length: int) -> int:
    """So long, or somewhat longer: a length that the Fourier transform likes."""
    unit = 1 << max(0, length.bit_length() - 4)
    return -(-length // unit) * unit


def _convolved(one: Sound, other: Sound) -> Sound:
    length = len(one) + len(other) - 1
    size = _size(length)
    return np.fft.irfft(np.fft.rfft(one, size) * np.fft.rfft(other, size), size)[:length]


def _power(sound: Sound) -> float:
    return float(np.mean(sound**2)) + 1e-9


def _smooth(spectrum: Sound) -> Sound:
    return np.convolve(np.pad(spectrum, 4, mode="edge"), np.ones(9) / 9, mode="valid")


def _spectra(sound: Sound) -> npt.NDArray[np.complex128]:
    padded = np.pad(sound, (HOP, SIZE))
    frames = np.lib.stride_tricks.sliding_window_view(padded, SIZE)[::HOP]
    return np.fft.rfft(frames * WINDOW, axis=1)


def _sound(spectra: npt.NDArray[np.complex128], length: int) -> Sound:
    frames = np.fft.irfft(spectra, SIZE, axis=1) * WINDOW
    # Half overlapping: the first half of each frame falls on the second half of the one before.
    result = np.zeros((len(frames) + 1) * HOP)
    result[: len(frames) * HOP] += frames[:, :HOP].ravel()
    result[HOP:] += frames[:, HOP:].ravel()
    return result[HOP : HOP + length]
