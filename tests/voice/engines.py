"""Speech engines that misbehave: a ``pyttsx3`` of our own, found first by the rendering process."""

from pathlib import Path

import pytest

DIES, HANGS, MUTE = "It dies.", "It hangs.", "It says nothing."

_ENGINE = """
import os, threading, wave
from pathlib import Path

Path(os.environ["FAKE_STARTS"]).open("a").write("started\\n")


class _Engine:
    def setProperty(self, name, value):
        pass

    def save_to_file(self, text, path):
        print("noise on stdout, as the real one makes")
        if text == "It dies.":
            os._exit(1)
        if text == "It hangs.":
            threading.Event().wait()
        level = b"\\0\\0" if text == "It says nothing." else b"\\0\\x20"
        with wave.open(path, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(22050)
            file.writeframes(level * 5000)

    def runAndWait(self):
        pass


def init(driver):
    return _Engine()
"""

_DRIVER = """
def SetParameter(parameter, value, relative):
    pass


def Info(path):
    return b"fake"


def Synchronize():
    pass
"""


def install_fake(folder: Path, monkeypatch: pytest.MonkeyPatch, engine: str = _ENGINE) -> Path:
    """Make the rendering process use the fake; returns the file that counts its starts."""
    starts = folder / "starts"
    package = folder / "fakes" / "pyttsx3"
    (package / "drivers").mkdir(parents=True)
    (package / "__init__.py").write_text(engine)
    (package / "drivers" / "__init__.py").write_text("")
    (package / "drivers" / "_espeak.py").write_text(_DRIVER)
    monkeypatch.setenv("PYTHONPATH", str(folder / "fakes"))
    monkeypatch.setenv("FAKE_STARTS", str(starts))
    return starts


def install_none(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An engine that cannot even be imported."""
    first = "import os\nopen(os.environ['FAKE_STARTS'], 'a').write('started\\n')\n"
    return install_fake(folder, monkeypatch, f"{first}raise ImportError('no engine here')\n")
