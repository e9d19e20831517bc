"""A natural voice for English: the extra ``natural``. Used in the rendering process only.

The package hibari-tts (Apache-2.0) brings a small neural model inside its wheel and runs it on
numpy and onnxruntime: nothing is fetched. Its own tables say how words are spoken, so neither
espeak-ng nor the GPL is involved. Its other voices would be fetched, so they are not offered.
"""

from array import array
from typing import Any

from coach.voice.wav_samples import FULL, RATE_HZ

# Its name in the settings.
NATURAL = "natural/en-US"

MADE_AT_HZ = 24_000
# At this rate it speaks at its own pace. The usual 140 is a tenth slower: so it was tried.
OWN_RATE_WPM = 155
SLOWEST, FASTEST = 0.5, 2.0


class NaturalEngine:
    """The model, loaded once. Raises ImportError, OSError, RuntimeError or ValueError."""

    def __init__(self, settings: dict[str, Any]) -> None:
        from importlib.metadata import version

        from hibari import Hibari

        self._model = Hibari(threads=1)
        self._rate_wpm = int(settings["rate_wpm"])
        self.version: str = version("hibari-tts")

    def speak(self, text: str, *, rate_wpm: int | None = None) -> "array[int]":
        """The sound of ``text`` at RATE_HZ, at the usual rate or ``rate_wpm``."""
        from coach.voice.resample import at_rate

        speed = (rate_wpm or self._rate_wpm) / OWN_RATE_WPM
        # A fixed seed: the same text gives the same sound.
        made = self._model(text, speed=min(FASTEST, max(SLOWEST, speed)), seed=0)
        fitted = at_rate(made, MADE_AT_HZ, RATE_HZ) * FULL
        return array("h", fitted.clip(-FULL, FULL).round().astype("<i2").tobytes())
