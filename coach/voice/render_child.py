"""The rendering process: ``python -m coach.voice.render_child SETTINGS``. Text in, WAV files out.

One JSON object a line on stdin, ``{"text": ..., "path": ...}``; one on stdout for each,
``{"path": ..., "problem": null or text}``; the first line out is ``{"engine": version or null,
"problem": null or text}``.

A process of its own because libespeak-ng can take the whole process with it, and is under the GPL.

Of pyttsx3 only its binding to espeak-ng is used, in the mode where speaking ends before the call
does. Its own loop speaks in another thread and now and then cancels a line when it believes the
one before is not over: one cue in a thousand came out empty, waiting or not. The natural voice is
another engine, :mod:`coach.voice.natural`.
"""

import ctypes
import json
import os
import sys
from array import array
from pathlib import Path
from typing import Any

from coach.voice.natural import NATURAL, NaturalEngine
from coach.voice.pronounce import pronounced
from coach.voice.wav_samples import RATE_HZ, faded, leveled, softened, trimmed, write_wave

# From espeak-ng's speak_lib.h.
WORD_GAP = 7
CHARS_UTF8 = 1
PHONEMES = 0x100
INITIALIZE_DONT_EXIT = 0x8000


def _find_engine() -> None:
    """Let pyttsx3 find libespeak-ng: the one from the wheel, whose version the cache knows."""
    try:
        import espeakng_loader
    except ImportError:
        ctypes.CDLL("libespeak-ng.so.1")
        return
    # Preloaded under its own name it is found by that name afterwards.
    ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
    os.environ["ESPEAK_DATA_PATH"] = str(espeakng_loader.get_data_path())


class Engine:
    """espeak-ng, set up once. Raises ImportError, OSError, RuntimeError or ValueError."""

    def __init__(self, settings: dict[str, Any]) -> None:
        _find_engine()
        from pyttsx3.drivers import _espeak as espeak

        rate_hz = espeak.Initialize(espeak.AUDIO_OUTPUT_SYNCHRONOUS, 0, None, INITIALIZE_DONT_EXIT)
        if rate_hz != RATE_HZ:
            raise RuntimeError(f"espeak-ng speaks at {rate_hz} Hz instead of {RATE_HZ}")
        if espeak.SetVoiceByName(settings["voice"].encode()) != espeak.EE_OK:
            raise ValueError(f"espeak-ng has no voice {settings['voice']}")
        self._voice = str(settings["voice"])
        self._rate_wpm = int(settings["rate_wpm"])
        espeak.SetParameter(espeak.PITCH, settings["pitch"], 0)
        espeak.SetParameter(WORD_GAP, settings["word_gap"], 0)
        espeak.SetSynthCallback(self._take)
        self._espeak = espeak
        self._taken = array("h")
        self.version: str = espeak.Info(None).decode()

    def _take(self, samples: Any, count: int, _events: Any) -> int:
        if count > 0:
            self._taken.frombytes(ctypes.string_at(samples, 2 * count))
        return 0

    def speak(self, text: str, *, rate_wpm: int | None = None) -> "array[int]":
        """The sound of ``text``, as the engine makes it, at the usual rate or ``rate_wpm``."""
        self._espeak.SetParameter(self._espeak.RATE, rate_wpm or self._rate_wpm, 0)
        self._taken = array("h")
        read = pronounced(text, self._voice)
        if self._espeak.Synth(read, flags=CHARS_UTF8 | PHONEMES) != self._espeak.EE_OK:
            raise RuntimeError("espeak-ng refuses the text")
        return self._taken


def _engine(settings: dict[str, Any]) -> Engine | NaturalEngine:
    if settings["voice"] != NATURAL:
        return Engine(settings)
    return NaturalEngine(settings)


def _render(engine: Engine | NaturalEngine, text: str, path: Path, rate_wpm: int | None) -> None:
    spoken = trimmed(engine.speak(text, rate_wpm=rate_wpm))
    if not spoken:
        raise ValueError("nothing was spoken")
    write_wave(path, faded(leveled(softened(spoken))))


def main() -> None:
    """Render until stdin ends."""
    # A session may run meanwhile.
    os.nice(10)
    # Whatever a library prints on stdout: keep the real one for ourselves.
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    settings = json.loads(sys.argv[1])
    try:
        engine = _engine(settings)
    except (OSError, ImportError, RuntimeError, ValueError) as error:
        print(json.dumps({"engine": None, "problem": str(error)}), file=answers, flush=True)
        return
    print(json.dumps({"engine": engine.version, "problem": None}), file=answers, flush=True)
    for line in sys.stdin:
        order = json.loads(line)
        problem = None
        try:
            _render(engine, order["text"], Path(order["path"]), order.get("rate_wpm"))
        except (OSError, ValueError, RuntimeError) as error:
            problem = str(error)
        print(json.dumps({"path": order["path"], "problem": problem}), file=answers, flush=True)


if __name__ == "__main__":
    main()
