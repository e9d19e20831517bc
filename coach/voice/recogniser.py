"""From samples of the microphone to words: RNNoise, 16 kHz, the endpointer, the recogniser.

Used in the listening process only. Needs the packages of the extra ``listen``: pocketsphinx, numpy,
and of pyrnnoise nothing but the RNNoise library that its wheel brings.
"""

import ctypes
import tempfile
from collections import deque
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from pocketsphinx import Decoder, Endpointer, get_model_path

from coach.voice.barge_in import OverSpeech
from coach.voice.energy_gate import EnergyGate
from coach.voice.phrases import (
    ACTION_OF,
    NS_PER_S,
    Utterance,
    beginnings,
    compound,
    language_model,
    other_words,
    phrase_of,
)

MICROPHONE_HZ = 48_000
HEARS_HZ = 16_000
# RNNoise works on frames of 10 ms at 48 kHz.
FRAME = MICROPHONE_HZ // 100
DECIMATION = MICROPHONE_HZ // HEARS_HZ

# In a room that is too quiet RNNoise swallows the first sound of a word: some hiss keeps it.
HISS_LSB = 150.0
# What RNNoise gives out is two frames old.
BEHIND = 2
# The recogniser cannot do with exact silence.
DITHER_LSB = 8.0
# When speech begins and ends: the share of frames with speech in a window.
WINDOW_S = 0.3
RATIO = 0.9
STRICT = 2
# Shorter is a noise, longer is no command.
SHORTEST_S = 0.15
LONGEST_S = 3.1
# Heard before what the endpointer takes for the begin: it misses soft first sounds.
BEFORE_S = 0.2

Samples = npt.NDArray[np.float64]


class NoRecogniser(Exception):  # noqa: N818  (a state of the installation, not a fault)
    """A part of the chain is not installed."""


class Denoiser:
    """RNNoise on frames of :data:`FRAME` samples."""

    def __init__(self) -> None:
        found = find_spec("pyrnnoise")
        folders = [] if found is None else list(found.submodule_search_locations or ())
        library = next((p for d in folders for p in sorted(Path(d).glob("librnnoise.*"))), None)
        if library is None:
            raise NoRecogniser("RNNoise is not installed")
        # The package itself is not imported: it would bring its plots along.
        self._rnnoise = ctypes.CDLL(str(library))
        self._rnnoise.rnnoise_create.restype = ctypes.c_void_p
        self._rnnoise.rnnoise_create.argtypes = [ctypes.c_void_p]
        floats = ctypes.POINTER(ctypes.c_float)
        self._rnnoise.rnnoise_process_frame.restype = ctypes.c_float
        self._rnnoise.rnnoise_process_frame.argtypes = [ctypes.c_void_p, floats, floats]
        self._state = self._rnnoise.rnnoise_create(None)
        self._out = np.zeros(FRAME, dtype=np.float32)
        self._dice = np.random.default_rng(1)
        self._before = deque([np.zeros(FRAME)] * BEHIND)
        self._floats = floats

    def clean(self, frame: Samples) -> tuple[Samples, Samples]:
        """A frame with less noise, and the same one as it was; on the scale of 16-bit samples."""
        hissing = frame + self._dice.normal(0.0, HISS_LSB, FRAME)
        self._before.append(hissing)
        noisy = hissing.astype(np.float32)
        self._rnnoise.rnnoise_process_frame(
            self._state,
            self._out.ctypes.data_as(self._floats),
            noisy.ctypes.data_as(self._floats),
        )
        return self._out.astype(np.float64), self._before.popleft()


class Slower:
    """From 48 kHz to 16 kHz, frame by frame."""

    def __init__(self) -> None:
        taps, share = 47, HEARS_HZ / MICROPHONE_HZ
        # A windowed sinc that lets through what is below 7.2 kHz.
        around = np.arange(taps) - taps // 2
        self._kernel = np.sinc(0.9 * share * around) * np.hamming(taps)
        self._kernel /= self._kernel.sum()
        self._before = np.zeros(taps - 1)

    def slow(self, frames: Samples) -> Samples:
        """One sample for three; the length of ``frames`` is a multiple of three, or 0."""
        if not len(frames):
            return frames
        whole = np.concatenate([self._before, frames])
        self._before = whole[-len(self._before) :]
        return np.convolve(whole, self._kernel, mode="valid")[::DECIMATION]


def decoder() -> Any:
    """A recogniser that knows the phrases, and words that compete with them."""
    sounds = sounds_of(set(other_words()))
    unknown = {word for phrase in ACTION_OF for word in phrase.split()} - sounds.keys()
    if unknown:
        raise NoRecogniser(f"the recogniser does not know {', '.join(sorted(unknown))}")
    lines = [
        f"{word}{f'({n})' if n > 1 else ''} {sound}"
        for word, known in sounds.items()
        for n, sound in enumerate(known, start=1)
    ]
    for phrase in [*ACTION_OF, *beginnings()]:
        lines.append(f"{compound(phrase)} {' '.join(sounds[word][0] for word in phrase.split())}")
    with tempfile.TemporaryDirectory() as folder:
        model, dictionary = Path(folder) / "phrases.lm", Path(folder) / "phrases.dict"
        model.write_text(language_model(sounds), encoding="ascii")
        dictionary.write_text("\n".join([*lines, ""]), encoding="ascii")
        return Decoder(lm=str(model), dict=str(dictionary), loglevel="FATAL")


def sounds_of(words: set[str]) -> dict[str, list[str]]:
    """How each of ``words`` may be spoken, from the dictionary that comes with the recogniser."""
    found: dict[str, list[str]] = {}
    path = Path(get_model_path()) / "en-us" / "cmudict-en-us.dict"
    with path.open(encoding="utf-8") as lines:
        for line in lines:
            entry, _, sound = line.strip().partition(" ")
            word = entry.partition("(")[0]
            if word in words:
                found.setdefault(word, []).append(sound)
    return found


class Chain:
    """Takes 16-bit mono samples at 48 kHz, gives utterances.

    The cleaned sound says when somebody speaks. It is recognised first; if it is no phrase, what
    came in is, because RNNoise now and then takes the first sound of a word for noise. While the
    coach speaks, :class:`OverSpeech` listens as well.
    """

    def __init__(self) -> None:
        self._denoiser = Denoiser()
        self._slower = (Slower(), Slower())
        self._gate = EnergyGate()
        self._decoder = decoder()
        self._endpointer = Endpointer(WINDOW_S, RATIO, STRICT, HEARS_HZ)
        self._dice = np.random.default_rng(1)
        self._frames = np.zeros(0)
        self._over_speech = OverSpeech(lambda sound: self._words(_bytes(sound)))
        self._plain = Slower()
        # Cleaned and as it came in, at 16 kHz: the last seconds, and how many were dropped before.
        self._kept = np.zeros((2, 0))
        self._dropped = 0
        self._listened = 0

    def plays(self, path: str, onset_ns: int, *, tone: bool) -> None:
        """The coach itself plays the file from ``onset_ns`` on; "": it is silent from then on."""
        self._over_speech.plays(path, onset_ns, tone=tone)

    def reset(self) -> None:
        """Forget what was heard: samples were lost, and what follows does not join it."""
        self._endpointer = Endpointer(WINDOW_S, RATIO, STRICT, HEARS_HZ)
        self._gate = EnergyGate()
        self._frames = np.zeros(0)
        self._kept = np.zeros((2, 0))
        self._dropped = self._listened = 0

    def feed(self, samples: Samples, ends_ns: int) -> Iterator[Utterance]:
        """Go on with ``samples``, the last of which was taken at ``ends_ns``."""
        self._frames = np.concatenate([self._frames, samples])
        whole = len(self._frames) // FRAME * FRAME
        block, self._frames = self._frames[:whole], self._frames[whole:]
        fresh = [
            self._cleaned(frame) if near_sound else self._silence()
            for taken in block.reshape(-1, FRAME)
            for frame, near_sound in self._gate.feed(taken)
        ]
        self._kept = np.hstack([self._kept, *fresh])
        size = self._endpointer.frame_bytes // 2
        while self._dropped + self._kept.shape[1] - self._listened >= size:
            at = self._listened - self._dropped
            spoken = self._endpointer.process(_bytes(self._kept[0, at : at + size]))
            self._listened += size
            if spoken is not None and not self._endpointer.in_speech:
                yield self._utterance(ends_ns)
        self._forget()
        behind_ns = round(len(self._frames) / MICROPHONE_HZ * NS_PER_S)
        yield from self._over_speech.feed(self._plain.slow(block), ends_ns - behind_ns)

    def _cleaned(self, frame: Samples) -> Samples:
        """The frame at 16 kHz, without noise and as it came in."""
        slow = [
            slower.slow(sound)
            for slower, sound in zip(self._slower, self._denoiser.clean(frame), strict=True)
        ]
        return np.vstack(slow) + self._dice.normal(0.0, DITHER_LSB, len(slow[0]))

    def _silence(self) -> Samples:
        """What stands for a frame in which nobody speaks."""
        return np.vstack([self._dice.normal(0.0, DITHER_LSB, FRAME // DECIMATION)] * 2)

    def _utterance(self, now_ns: int) -> Utterance:
        """What was said between the begin and the end that the endpointer has found."""
        begins, ends = (
            round(at_s * HEARS_HZ)
            for at_s in (self._endpointer.speech_start, self._endpointer.speech_end)
        )
        words: tuple[str, ...] = ()
        if SHORTEST_S <= (ends - begins) / HEARS_HZ <= LONGEST_S:
            first = max(0, begins - round(BEFORE_S * HEARS_HZ) - self._dropped)
            for sound in self._kept[:, first : ends - self._dropped]:
                said = self._words(_bytes(sound))
                words = words or said
                if phrase_of(said) is not None:
                    words = said
                    break
        behind_s = (len(self._frames) + self._gate.waiting * FRAME) / MICROPHONE_HZ
        behind_s += (self._dropped + self._kept.shape[1]) / HEARS_HZ
        return Utterance(
            words=words,
            begins_ns=now_ns - round((behind_s - begins / HEARS_HZ) * NS_PER_S),
            ends_ns=now_ns - round((behind_s - ends / HEARS_HZ) * NS_PER_S),
        )

    def _forget(self) -> None:
        """Keep no more than a phrase can need."""
        too_many = self._kept.shape[1] - round((LONGEST_S + BEFORE_S + 2 * WINDOW_S) * HEARS_HZ)
        if too_many > HEARS_HZ:
            self._kept = self._kept[:, too_many:]
            self._dropped += too_many

    def _words(self, segment: bytes) -> tuple[str, ...]:
        self._decoder.start_utt()
        self._decoder.process_raw(segment, full_utt=True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        return () if best is None else tuple(best.hypstr.split())


def _bytes(sound: Samples) -> bytes:
    samples: bytes = sound.clip(-32_768, 32_767).astype("<i2").tobytes()
    return samples
