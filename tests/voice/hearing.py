"""An ear that is not ours: CMU pocketsphinx with its own model, and only our lines to choose from.

It is a referee in the domain: it knows the lines, not which of them it hears.
"""

import re
import wave
from collections.abc import Callable, Iterable, Mapping
from difflib import SequenceMatcher
from pathlib import Path
from types import MappingProxyType

import numpy as np
import numpy.typing as npt
from pocketsphinx import Decoder

from coach.session.cues import NUMBER_WORDS
from coach.voice.pronounce import TENS

RATE_HZ = 22_050
HEARS_HZ = 16_000
# The recogniser cannot do with exact silence: a little noise, and a pause before and after.
NOISE = 60
PAUSE = HEARS_HZ // 5

Sound = npt.NDArray[np.float64]


def sound(path: Path) -> Sound:
    """The samples of one of our files."""
    with wave.open(str(path), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
        return np.frombuffer(file.readframes(file.getnframes()), dtype="<i2").astype(np.float64)


def shares(recording: Sound, tone: Sound) -> Sound:
    """How much of ``tone`` begins at each sample of ``recording``."""
    size = 1 << (len(recording) + len(tone)).bit_length()
    product = np.fft.rfft(recording, size) * np.conj(np.fft.rfft(tone, size))
    found: Sound = np.fft.irfft(product, size)[: len(recording)] / (tone @ tone)
    return found


def words_of(text: str) -> list[str]:
    """The words as they are spoken: small letters, numbers in words."""
    return re.findall(
        r"[a-z']+", re.sub(r"\d+", lambda found: _number(int(found[0])), text.lower())
    )


def right_words(said: list[str], heard: list[str]) -> int:
    """How many words of ``said`` were heard, in their order."""
    return sum(block.size for block in SequenceMatcher(None, said, heard).get_matching_blocks())


def at_hearing_rate(samples: Sound) -> Sound:
    """``samples``, taken at RATE_HZ, at HEARS_HZ."""
    length = round(len(samples) * HEARS_HZ / RATE_HZ)
    # In the frequency domain: what lies above half the new rate goes.
    spectrum = np.fft.rfft(samples)[: length // 2 + 1]
    slower: Sound = np.fft.irfft(spectrum, length) * length / len(samples)
    return slower


class Ear:
    """Hears one of ``texts`` in a stretch of sound.

    ``taught`` are the sounds of words that its dictionary does not have; ``split`` parts a text.
    """

    def __init__(
        self,
        texts: Iterable[str],
        *,
        taught: Mapping[str, str] = MappingProxyType({}),
        split: Callable[[str], list[str]] = words_of,
    ) -> None:
        lines = sorted({" ".join(split(text)) for text in texts})
        self._decoder = Decoder(lm=None, loglevel="FATAL")
        for word, sounds in taught.items():
            self._decoder.add_word(word, sounds, True)
        unknown = {
            word
            for line in lines
            for word in line.split()
            if self._decoder.lookup_word(word) is None
        }
        assert not unknown, f"words that the dictionary of the recogniser does not have: {unknown}"
        grammar = f"#JSGF V1.0;\ngrammar lines;\npublic <line> = {' | '.join(lines)};\n"
        self._decoder.add_jsgf_string("lines", grammar)
        self._decoder.activate_search("lines")
        self._noise = np.random.default_rng(1)

    def hears(self, samples: Sound) -> list[str]:
        """The words of the line that it takes ``samples`` for; none when it is no line."""
        slower = at_hearing_rate(samples)
        padded = np.pad(slower, PAUSE) + self._noise.normal(0, NOISE, len(slower) + 2 * PAUSE)
        self._decoder.start_utt()
        self._decoder.process_raw(
            padded.clip(-32_768, 32_767).astype("<i2").tobytes(), full_utt=True
        )
        self._decoder.end_utt()
        best = self._decoder.hyp()
        return best.hypstr.split() if best is not None else []


def _number(number: int) -> str:
    if number < len(NUMBER_WORDS):
        return NUMBER_WORDS[number]
    if number > 99:
        # None of our lines has such a number: it was misheard.
        return "hundreds"
    tens, ones = divmod(number, 10)
    return f"{TENS[tens - 2]} {NUMBER_WORDS[ones] if ones else ''}"
