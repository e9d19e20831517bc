"""The rendering process: ``python -m coach.voice.render_child SETTINGS``. Text in, WAV files out.

One JSON object a line on stdin, ``{"text": ..., "path": ...}``; one on stdout for each,
``{"path": ..., "problem": null or text}``; the first line out is ``{"engine": version or null,
"problem": null or text}``.

A process of its own because pyttsx3 prints on stdout, can play by shell command, and libespeak-ng
exits the whole process when it misses its data; and because libespeak-ng is under the GPL.
Strictly one save, one run, one wait, from one thread: everything else loses files.
"""

import ctypes
import json
import logging
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

from coach.voice.waves import faded, leveled, read_wave, softened, trimmed, write_wave

WORD_GAP = 7  # espeakWORDGAP in speak_lib.h, in units of 10 ms


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
    """espeak-ng behind pyttsx3, set up once."""

    def __init__(self, settings: dict[str, Any]) -> None:
        _find_engine()
        import pyttsx3
        from pyttsx3.drivers import _espeak

        self._espeak = _espeak
        self._engine = pyttsx3.init("espeak")
        self._engine.setProperty("voice", settings["voice"])
        self._engine.setProperty("rate", settings["rate_wpm"])
        self._engine.setProperty("pitch", settings["pitch"])
        _espeak.SetParameter(WORD_GAP, settings["word_gap"], 0)
        self.version: str = _espeak.Info(None).decode()

    def save(self, text: str, path: Path) -> None:
        """Speak ``text`` into ``path``."""
        self._engine.save_to_file(text, str(path))
        self._engine.runAndWait()
        # runAndWait comes back while the file is still being written, or not even begun.
        self._espeak.Synchronize()


def _render(engine: Engine, text: str, path: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder) / "raw.wav"
        engine.save(text, raw)
        if not raw.exists() or not raw.stat().st_size:
            # pyttsx3 cancels a line when it believes the one before is not over.
            engine.save(text, raw)
        spoken = trimmed(read_wave(raw))
    if not spoken:
        raise ValueError("nothing was spoken")
    write_wave(path, faded(leveled(softened(spoken))))


def main() -> None:
    """Render until stdin ends."""
    # pyttsx3 prints on stdout: keep the real one for ourselves.
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    logging.disable(logging.CRITICAL)
    settings = json.loads(sys.argv[1])
    try:
        engine = Engine(settings)
    except (OSError, ImportError, RuntimeError, ValueError) as error:
        print(json.dumps({"engine": None, "problem": str(error)}), file=answers, flush=True)
        return
    print(json.dumps({"engine": engine.version, "problem": None}), file=answers, flush=True)
    for line in sys.stdin:
        order = json.loads(line)
        problem = None
        try:
            _render(engine, order["text"], Path(order["path"]))
        except (OSError, ValueError, RuntimeError) as error:
            problem = str(error)
        print(json.dumps({"path": order["path"], "problem": problem}), file=answers, flush=True)


if __name__ == "__main__":
    main()
