"""The rendering process: ``python -m coach.voice.render_child``. Text in, WAV files out.

One JSON object a line on stdin, ``{"text": ..., "path": ...}``; one on stdout for each,
``{"path": ..., "problem": null or text}``; the first line out is ``{"engine": version}``.

A process of its own because pyttsx3 prints on stdout, can play by shell command, and libespeak-ng
exits the whole process when it misses its data. Strictly one save, one run, from one thread:
everything else loses files.
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
    """Let pyttsx3 find libespeak-ng: the system's if it is there, else the one from the wheel."""
    try:
        ctypes.CDLL("libespeak-ng.so.1")
    except OSError:
        import espeakng_loader

        # Preloaded under its own name it is found by that name afterwards.
        ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
        os.environ["ESPEAK_DATA_PATH"] = str(espeakng_loader.get_data_path())


def _engine(settings: dict[str, Any]) -> tuple[Any, str]:
    _find_engine()
    import pyttsx3
    from pyttsx3.drivers import _espeak

    engine = pyttsx3.init("espeak")
    engine.setProperty("voice", settings["voice"])
    engine.setProperty("rate", settings["rate_wpm"])
    engine.setProperty("pitch", settings["pitch"])
    _espeak.SetParameter(WORD_GAP, settings["word_gap"], 0)
    return engine, _espeak.Info(None).decode()


def _render(engine: Any, text: str, path: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder) / "raw.wav"
        engine.save_to_file(text, str(raw))
        engine.runAndWait()
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
        engine, version = _engine(settings)
    except (OSError, ImportError, RuntimeError, ValueError) as error:
        print(json.dumps({"engine": None, "problem": str(error)}), file=answers, flush=True)
        return
    print(json.dumps({"engine": version}), file=answers, flush=True)
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
