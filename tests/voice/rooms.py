"""Rooms made of numbers, in which the coach speaks and an owner speaks over it.

Loudspeaker (no bass, bends at loud moments), delay of the devices, two clocks, reverberation,
noise. None of it has been held against a real room: the ranges are guesses of ours, no source.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from coach.voice.phrases import Utterance
from coach.voice.recogniser import FRAME, MICROPHONE_HZ, Chain
from tests.voice.speaking import FULL, SPEECH_DB, Sound, at_level, loaded, pink

NS_PER_S = 1_000_000_000
# So much later the ear is told that a cue has begun, at most: the poll of the runner.
TOLD_LATE_S = 0.2


@dataclass(frozen=True, slots=True)
class Evening:
    """What the microphone takes in, at 48 kHz.

    Attributes:
        microphone: 16-bit scale.
        plays: each cue's file, and when it is said to begin, in ns from the begin.
        said: for each cue what the owner says over it ("" for nothing), and until when, in ns.
    """

    microphone: Sound
    plays: tuple[tuple[Path, int], ...]
    said: tuple[tuple[str, int], ...]

    def heard_by(self, chain: Chain) -> Iterator[Utterance]:
        """What the chain hears when it is told what plays, as late as it is in a session."""
        plays = list(self.plays)
        for at in range(0, len(self.microphone), 3 * FRAME):
            part = self.microphone[at : at + 3 * FRAME]
            now_ns = (at + len(part)) * NS_PER_S // MICROPHONE_HZ
            while plays and plays[0][1] + TOLD_LATE_S * NS_PER_S < now_ns:
                path, onset_ns = plays.pop(0)
                chain.plays(str(path), onset_ns, tone=False)
            yield from chain.feed(part, now_ns)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room by its number.

    Attributes:
        louder_db: by how much the owner is louder at the microphone than the coach.
        noise_db: the owner's voice over pink noise.
        bends: where the loudspeaker bends, as a multiple of the mean of speech; 8 leaves 6 %
            of distortion.
    """

    number: int
    louder_db: float
    noise_db: float = 20.0
    bends: float = 8.0

    def evening(self, cues: Sequence[Path], over: Sequence[tuple[str, Sound] | None]) -> Evening:
        """The coach says ``cues`` one after the other; ``over`` each of them the owner a phrase."""
        dice = np.random.default_rng(self.number)
        delay = int(dice.uniform(0.08, 0.25) * MICROPHONE_HZ)
        drift = dice.uniform(-100e-6, 100e-6)
        own, plays, said = [np.zeros(MICROPHONE_HZ)], [], []
        at = MICROPHONE_HZ
        owner: list[tuple[int, Sound]] = []
        for path, spoken in zip(cues, over, strict=True):
            cue = loaded(path)
            # The player knows when to a few thousandths of a second.
            onset_s = at / MICROPHONE_HZ + dice.normal(0.0, 0.004)
            plays.append((path, round(onset_s * NS_PER_S)))
            if spoken is None:
                said.append(("", 0))
            else:
                text, voice = spoken
                room = max(0.2 * MICROPHONE_HZ, len(cue) - len(voice))
                begins = at + delay + int(dice.uniform(0.1 * MICROPHONE_HZ, room))
                owner.append((begins, voice))
                said.append((text, (begins + len(voice)) * NS_PER_S // MICROPHONE_HZ))
            pause = np.zeros(int(dice.uniform(0.8, 2.5) * MICROPHONE_HZ))
            own += [cue, pause]
            at += len(cue) + len(pause)
        far = np.concatenate([*own, np.zeros(MICROPHONE_HZ)])
        echo = _convolved(self._loudspeaker(far), np.zeros(delay), _walls(dice, -3.0, 6.0))
        echo = np.interp(np.arange(len(far)) * (1 + drift), np.arange(len(echo)), echo)
        loud = abs(far) > FULL / 300
        echo *= _gain(echo[loud], SPEECH_DB - self.louder_db)
        whole = echo + at_level(pink(len(far), dice), SPEECH_DB - self.noise_db)
        walls = _walls(dice, 0.0, 8.0)
        for begins, voice in owner:
            heard = _convolved(voice, walls)
            heard = heard * _gain(heard[: len(voice)], SPEECH_DB)
            part = whole[begins : begins + len(heard)]
            part += heard[: len(part)]
        return Evening(whole.clip(-FULL, FULL), tuple(plays), tuple(said))

    def _loudspeaker(self, far: Sound) -> Sound:
        mean = np.sqrt(np.mean(far[far != 0.0] ** 2))
        bent = np.tanh(far / mean / self.bends)
        spectrum = np.fft.rfft(bent)
        hz = np.fft.rfftfreq(len(far), 1 / MICROPHONE_HZ)
        spectrum *= (hz / 200) ** 2 / (1 + (hz / 200) ** 2) / (1 + (hz / 9_000) ** 2)
        return np.fft.irfft(spectrum, len(far))


def _walls(dice: np.random.Generator, least_db: float, most_db: float) -> Sound:
    """The direct sound, so much louder than a decaying noise of 0.2 to 0.5 s to -60 dB."""
    lasts_s = dice.uniform(0.2, 0.5)
    t = np.arange(int(lasts_s * MICROPHONE_HZ)) / MICROPHONE_HZ
    tail: Sound = dice.normal(size=len(t)) * 10 ** (-3 * t / lasts_s)
    tail[: MICROPHONE_HZ * 3 // 1000] = 0.0
    tail *= 10 ** (-dice.uniform(least_db, most_db) / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    return tail


def _convolved(sound: Sound, *paths: Sound) -> Sound:
    path = np.concatenate(paths)
    length = len(sound) + len(path)
    result: Sound = np.fft.irfft(np.fft.rfft(sound, length) * np.fft.rfft(path, length), length)
    return result


def _gain(sound: Sound, decibels: float) -> float:
    return float(FULL * 10 ** (decibels / 20) / np.sqrt(np.mean(sound**2)))
