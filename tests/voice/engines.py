"""Speech engines that misbehave: a ``pyttsx3`` of our own, found first by the rendering process."""

from pathlib import Path

import pytest

DIES, HANGS, MUTE = "It dies.", "It hangs.", "It says nothing."

_STARTS = """
import os
with open(os.environ["FAKE_STARTS"], "a") as starts:
    starts.write("started\\n")
"""

_DRIVER = """
import ctypes, threading

AUDIO_OUTPUT_SYNCHRONOUS = 2
EE_OK = 0
RATE, PITCH = 1, 3
CALLBACK = None


def Initialize(output, length, path, options):
    print("noise on stdout, as a library may make")
    return 22050


def SetVoiceByName(name):
    return EE_OK


def SetParameter(parameter, value, relative):
    return EE_OK


def SetSynthCallback(callback):
    global CALLBACK
    CALLBACK = callback


def Synth(text, flags):
    if text == "It dies.":
        os._exit(1)
    if text == "It hangs.":
        threading.Event().wait()
    if text != "It says nothing.":
        CALLBACK((ctypes.c_short * 5000)(*[8000] * 5000), 5000, None)
    CALLBACK(None, 0, None)
    return EE_OK


def Info(path):
    return b"fake"
"""


def install_fake(folder: Path, monkeypatch: pytest.MonkeyPatch, driver: str = _DRIVER) -> Path:
    """Make the rendering process use the fake; returns the file that counts its starts."""
    starts = folder / "starts"
    package = folder / "fakes" / "pyttsx3"
    (package / "drivers").mkdir(parents=True)
    (package / "__init__.py").write_text("")
    (package / "drivers" / "__init__.py").write_text("")
    (package / "drivers" / "_espeak.py").write_text(_STARTS + driver)
    monkeypatch.setenv("PYTHONPATH", str(folder / "fakes"))
    monkeypatch.setenv("FAKE_STARTS", str(starts))
    return starts


def install_none(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An engine that cannot even be imported."""
    return install_fake(folder, monkeypatch, "raise ImportError('no engine here')\n")
