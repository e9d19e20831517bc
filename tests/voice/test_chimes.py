"""The tones, as files: what a dog and a small loudspeaker get to hear.

Bounds from the project's own choice of calm sounds (low, soft, slow to begin, long to die); that
dogs mind high intermittent sounds is published: Grigg et al. 2021, Front. Vet. Sci. 8:760845
(title and journal from memory). Loudness by ITU-R BS.1770 as pyloudnorm implements it.
"""

import wave
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyloudnorm
import pytest

from coach.voice import chimes
from coach.voice.wav_samples import read_wave

NAMES = ("start", "end", "pause")
RATE_HZ = 22_050

Sound = npt.NDArray[np.float64]


def sound(name: str) -> Sound:
    with wave.open(str(chimes.tone_path(name)), "rb") as file:
        assert file.getnchannels() == 1
        assert file.getsampwidth() == 2
        assert file.getframerate() == RATE_HZ
        frames = file.readframes(file.getnframes())
    return np.frombuffer(frames, dtype="<i2") / 32768


def strongest_hz(part: Sound) -> float:
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), 1 << 17))
    return float(np.fft.rfftfreq(1 << 17, 1 / RATE_HZ)[spectrum.argmax()])


@pytest.mark.parametrize("name", NAMES)
def test_is_low(name: str) -> None:
    samples = sound(name)
    power = np.abs(np.fft.rfft(samples)) ** 2
    hz = np.fft.rfftfreq(len(samples), 1 / RATE_HZ)
    assert 190 <= strongest_hz(samples) <= 335
    assert 10 * np.log10(power[hz > 1000].sum() / power.sum()) < -40


@pytest.mark.parametrize("name", NAMES)
def test_is_soft(name: str) -> None:
    samples = sound(name)
    assert pyloudnorm.Meter(RATE_HZ).integrated_loudness(samples) == pytest.approx(-26, abs=0.5)
    assert 20 * np.log10(np.abs(samples).max()) <= -6


@pytest.mark.parametrize("name", NAMES)
def test_swells_in_and_dies_away(name: str) -> None:
    samples = np.abs(sound(name))
    peak = samples.max()
    assert samples[: RATE_HZ // 100].max() < 0.1 * peak, "the first 10 ms"
    loudest_s = samples.argmax() / RATE_HZ
    assert loudest_s >= 0.06
    assert len(samples) / RATE_HZ - loudest_s > 0.9
    assert samples[-RATE_HZ // 100 :].max() < 0.005 * peak, "the last 10 ms"


@pytest.mark.parametrize("name", NAMES)
def test_has_no_click(name: str) -> None:
    # Between two samples a sine of 330 Hz changes by at most 2 pi 330 / 22050 of its peak; twice
    # that leaves room for the octave and for two notes at once.
    samples = sound(name)
    assert np.abs(np.diff(samples)).max() < 2 * 0.094 * np.abs(samples).max()


def test_start_rises_end_falls_and_pause_stays() -> None:
    first = slice(0, round(0.18 * RATE_HZ))
    then = slice(round(0.3 * RATE_HZ), round(0.9 * RATE_HZ))
    start, end, pause = (sound(name) for name in NAMES)
    assert strongest_hz(start[then]) > 1.1 * strongest_hz(start[first])
    assert strongest_hz(end[then]) < 0.9 * strongest_hz(end[first])
    assert strongest_hz(pause[then]) == pytest.approx(strongest_hz(pause[first]), rel=0.02)
    for one, other in pairwise([start, end, pause, start]):
        assert abs(strongest_hz(one[then]) - strongest_hz(other[then])) > 20


def test_the_kept_files_are_what_the_script_makes(tmp_path: Path) -> None:
    chimes.main([str(tmp_path)])
    for name in NAMES:
        made = np.array(read_wave(tmp_path / f"{name}.wav"))
        kept = np.array(read_wave(chimes.tone_path(name)))
        # Another libm may round a sample the other way.
        assert np.abs(made - kept).max() <= 1
