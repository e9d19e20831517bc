"""Voices that say what they are told, noise and barks: what the listening is tried with.

The voices are synthetic and of four families: espeak-ng, flite, festival (from Debian: apt install
espeak-ng flite festival festvox-kallpc16k festvox-us-slt-hts) and hibari (the extra ``natural``).
"""

import shutil
import subprocess
import tempfile
import wave
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from coach.voice.recogniser import MICROPHONE_HZ
from coach.voice.resample import at_rate

Sound = npt.NDArray[np.float64]
FULL = 32_767.0
SPEECH_DB = -26.0
BETWEEN_S = 0.9


@dataclass(frozen=True, slots=True)
class Voice:
    """A speech engine and one of its voices."""

    engine: str
    name: str

    @property
    def there(self) -> bool:
        """The engine is installed (its voice is then taken for granted)."""
        if self.engine == "hibari":
            return find_spec("hibari") is not None
        program = {"espeak": "espeak-ng", "festival": "text2wave"}.get(self.engine, self.engine)
        return shutil.which(program) is not None

    def says(self, text: str, *, speed: float = 1.0) -> Sound:
        """The samples at 48 kHz; speech at :data:`SPEECH_DB`."""
        if self.engine == "hibari":
            samples = FULL * np.asarray(_neural()(text, speed=speed, seed=0), dtype=np.float64)
            return at_level(at_rate(samples, 24_000, MICROPHONE_HZ), SPEECH_DB)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "said.wav"
            command = {
                "espeak": ["espeak-ng", "-v", self.name, "-s", str(round(160 * speed))],
                "flite": ["flite", "-voice", self.name, "--setf", f"duration_stretch={1 / speed}"],
                "festival": [
                    "text2wave",
                    *("-eval", f"(voice_{self.name})"),
                    *("-eval", f"(Parameter.set 'Duration_Stretch {1 / speed})"),
                ],
            }[self.engine]
            command += {
                "espeak": ["-w", str(path), text],
                "flite": ["-t", text, "-o", str(path)],
                "festival": ["-o", str(path)],
            }[self.engine]
            subprocess.run(command, input=text.encode(), check=True, timeout=120)
            return at_level(loaded(path), SPEECH_DB)


@cache
def _neural() -> Any:
    from hibari import Hibari

    return Hibari(threads=1)


VOICES = (
    Voice("espeak", "en-us+m3"),
    Voice("espeak", "en-gb+f2"),
    Voice("flite", "kal16"),
    Voice("flite", "awb"),
    Voice("flite", "rms"),
    Voice("flite", "slt"),
    Voice("festival", "kal_diphone"),
    Voice("festival", "cmu_us_slt_arctic_hts"),
    Voice("hibari", "heart"),
)


def loaded(path: Path) -> Sound:
    """A mono 16-bit WAV at 48 kHz."""
    with wave.open(str(path), "rb") as file:
        rate_hz = file.getframerate()
        samples = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2").astype(np.float64)
    return at_rate(samples, rate_hz, MICROPHONE_HZ)


def at_level(sound: Sound, decibels: float) -> Sound:
    """``sound`` with an RMS of so many dB of full scale."""
    rms = float(np.sqrt(np.mean(sound**2)))
    return sound * (FULL * 10 ** (decibels / 20) / rms)


def pink(length: int, dice: np.random.Generator) -> Sound:
    """Noise with as much power in each octave."""
    spectrum = np.fft.rfft(dice.normal(size=length))
    spectrum[1:] /= np.sqrt(np.arange(1, len(spectrum)))
    noise: Sound = np.fft.irfft(spectrum, length)
    return noise


def bark(dice: np.random.Generator) -> Sound:
    """Something like a bark: a fifth of a second, falling, rich in overtones, noisy."""
    t = np.arange(MICROPHONE_HZ // 5) / MICROPHONE_HZ
    pitch_hz = dice.uniform(300, 800) * np.exp(-2 * t)
    turn = 2 * np.pi * np.cumsum(pitch_hz) / MICROPHONE_HZ
    voice = sum(np.sin(n * turn) / n for n in range(1, 9)) + 0.3 * dice.normal(size=len(t))
    swell = np.minimum(1, t / 0.02) * np.exp(-12 * t)
    sound: Sound = voice * swell
    return sound


def joined(sounds: Sequence[Sound]) -> Sound:
    """``sounds`` one after the other, with silence before, between and after."""
    silence = np.zeros(round(BETWEEN_S * MICROPHONE_HZ))
    return np.concatenate([silence, *(part for sound in sounds for part in (sound, silence))])
