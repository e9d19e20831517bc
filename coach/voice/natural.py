"""A natural voice for English: the extra ``natural``. Used in the rendering process only.

The package hibari-tts (Apache-2.0) brings a small neural model inside its wheel and runs it on
numpy and onnxruntime: nothing is fetched. Its own tables say how words are spoken, so neither
espeak-ng nor the GPL is involved. Its other voices would be fetched, so they are not offered.
"""

import re
from array import array
from typing import Any

from coach.voice.wav_samples import FULL, RATE_HZ, seconds, trimmed

# Its name in the settings.
NATURAL = "natural/en-US"

MADE_AT_HZ = 24_000
# At this rate it speaks at its own pace, on average over our lines; a line may be far from it.
OWN_RATE_WPM = 155
SLOWEST, FASTEST = 0.5, 1.5
# Further from the wanted rate than this, a line is made again. A line of one or two words has no
# rate worth the name.
RATE_SLACK = 0.08
FEWEST_WORDS = 3
# The model hurries over commas and colons; listeners need the pause (see coach/session/cues.py).
PAUSE_S = 0.22


class NaturalEngine:
    """The model, loaded once. Raises ImportError, OSError, RuntimeError or ValueError."""

    def __init__(self, settings: dict[str, Any]) -> None:
        from importlib.metadata import version

        from hibari import Hibari

        self._model = Hibari(threads=1)
        self._rate_wpm = int(settings["rate_wpm"])
        self.version: str = f"{version('hibari-tts')}, paced"

    def speak(self, text: str, *, rate_wpm: int | None = None) -> "array[int]":
        """The sound of ``text`` at RATE_HZ, at the usual rate or ``rate_wpm``."""
        wanted_wpm = rate_wpm or self._rate_wpm
        speed = _fitting(wanted_wpm / OWN_RATE_WPM)
        spoken = self._spoken(text, speed)
        words = word_count(text)
        if words >= FEWEST_WORDS and spoken:
            made_wpm = words / seconds(trimmed(spoken)) * 60
            if abs(made_wpm / wanted_wpm - 1) > RATE_SLACK:
                spoken = self._spoken(text, _fitting(speed * wanted_wpm / made_wpm))
        return spoken

    def _spoken(self, text: str, speed: float) -> "array[int]":
        from coach.voice.resample import at_rate

        spoken = array("h")
        for part in parts(text):
            # A fixed seed: the same text gives the same sound.
            made = self._model(part, speed=speed, seed=0)
            fitted = at_rate(made, MADE_AT_HZ, RATE_HZ) * FULL
            sound = array("h", fitted.clip(-FULL, FULL).round().astype("<i2").tobytes())
            if spoken:
                spoken.extend(array("h", bytes(2 * round(PAUSE_S * RATE_HZ))))
            spoken.extend(trimmed(sound))
        return spoken


def _fitting(speed: float) -> float:
    return min(FASTEST, max(SLOWEST, speed))


def parts(text: str) -> list[str]:
    """``text`` cut where a listener needs a pause: after commas, colons and sentences."""
    return [part for part in re.split(r"(?<=[,;:.!?])\s+", text.strip()) if part]


def word_count(text: str) -> int:
    """How many words are spoken: "twenty-nine" is two."""
    return len(re.findall(r"[^\W_]+(?:['’][^\W_]+)*", text))
