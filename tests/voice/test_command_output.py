"""Without PortAudio a system player speaks: one process for each stretch of sound."""

import os
import shutil
import time
from pathlib import Path

import numpy as np
import pytest

from coach.voice.child_voice import SpokenVoice
from coach.voice.chimes import tone_path
from coach.voice.render import Cache
from coach.voice.voice_port import VoiceReport
from tests.voice.hearing import Ear, Sound, sound
from tests.voice.sink import SoundServer
from tests.voice.waiting import until

NS_PER_S = 1_000_000_000
LINES = ["Halfway.", "Stopped. Switch the laser off."]


@pytest.fixture
def without_portaudio(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Importing sounddevice fails in child processes as it does where libportaudio2 is missing."""
    assert shutil.which("paplay") or shutil.which("pw-play"), "apt install pulseaudio-utils"
    fakes = tmp_path / "fakes"
    fakes.mkdir()
    (fakes / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(fakes)]))


def place(recording: Sound, wanted: Sound) -> tuple[int, float]:
    """Where ``wanted`` is most likely, and how much of it is there (1 is all)."""
    size = 1 << (len(recording) + len(wanted)).bit_length()
    product = np.fft.rfft(recording, size) * np.conj(np.fft.rfft(wanted, size))
    shares = np.fft.irfft(product, size)[: len(recording)] / (wanted @ wanted)
    return int(shares.argmax()), float(shares.max())


@pytest.mark.usefixtures("without_portaudio")
def test_a_system_player_plays_tones_and_words_in_order(room: SoundServer, speech: Cache) -> None:
    voice = SpokenVoice(speech)
    assert voice.prepare(LINES) == {}
    reports: list[VoiceReport] = []
    try:
        with room.listen() as ear:
            reports += until(voice.poll, lambda told: bool(told))
            assert [report.kind for report in reports] == ["sound_device_ok"]
            ear.hear(0.5)
            now_ns = time.monotonic_ns()
            worth_ns = now_ns + 20 * NS_PER_S
            voice.say("", at_ns=now_ns, until_ns=worth_ns, urgent=False, tone="start")
            voice.say(
                LINES[0],
                at_ns=now_ns + 2 * NS_PER_S,
                until_ns=worth_ns,
                urgent=False,
                tone=None,
            )
            voice.say(
                "",
                at_ns=now_ns + 4 * NS_PER_S,
                until_ns=worth_ns,
                urgent=False,
                tone="end",
            )
            reports = until(voice.poll, lambda told: len(told) >= 3)
            heard = np.array(ear.hear(10.0), dtype=np.float64)
    finally:
        voice.close()
    assert [report.kind for report in reports] == ["tone_started", "cue_started", "tone_started"]
    wanted = [tone_path("start"), speech.path(LINES[0]), tone_path("end")]
    found = [place(heard, sound(path)) for path in wanted]
    assert all(share > 0.7 for _, share in found), found
    places = [at for at, _ in found]
    assert places == sorted(places)
    at, length = places[1], len(sound(wanted[1]))
    assert Ear(LINES).hears(heard[at : at + length]) == ["halfway"]


@pytest.mark.usefixtures("without_portaudio")
def test_an_urgent_line_cuts_off_what_the_system_player_plays(
    room: SoundServer, speech: Cache
) -> None:
    voice = SpokenVoice(speech)
    assert voice.prepare(LINES) == {}
    try:
        with room.listen() as ear:
            until(voice.poll, lambda told: bool(told))
            now_ns = time.monotonic_ns()
            worth_ns = now_ns + 20 * NS_PER_S
            voice.say("", at_ns=now_ns, until_ns=worth_ns, urgent=False, tone="end")
            until(voice.poll, lambda told: len(told) >= 1)
            voice.say(
                LINES[1], at_ns=time.monotonic_ns(), until_ns=worth_ns, urgent=True, tone="pause"
            )
            until(voice.poll, lambda told: len(told) >= 2)
            heard = np.array(ear.hear(8.0), dtype=np.float64)
    finally:
        voice.close()
    _, whole = place(heard, sound(tone_path("pause")))
    assert whole > 0.7
    _, of_the_other = place(heard, sound(tone_path("end")))
    assert of_the_other < 0.7
