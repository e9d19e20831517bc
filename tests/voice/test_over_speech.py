"""A stop that is said while the coach speaks, in rooms made of numbers; many more by hand."""

import wave
from pathlib import Path

import numpy as np
import pytest

from coach.voice.barge_in import OverSpeech
from coach.voice.echo_canceller import HEARS_HZ, EchoPath
from coach.voice.render import Cache
from coach.voice.wav_samples import RATE_HZ
from tests.voice.over_the_coach import files_of, own_texts, spoken, stops_heard
from tests.voice.rooms import NS_PER_S, Room
from tests.voice.speaking import Sound, Voice

SPEAKER = Voice("flite", "rms")
CUES = 3


@pytest.fixture(scope="module")
def cues(speech: Cache) -> list[Path]:
    """The longest cues of the demo plans."""
    return files_of(speech, sorted(own_texts(), key=lambda text: (-len(text), text))[:CUES])


@pytest.mark.long
def test_a_stop_over_a_cue_is_heard_and_the_cues_themselves_stop_nothing(cues: list[Path]) -> None:
    # Without being told what plays, nothing is heard here: two voices at once.
    said = [None, ("stop everything", spoken(SPEAKER, "stop everything")), None]
    evening = Room(number=3, louder_db=0.0).evening(cues, said)
    assert stops_heard(evening) == ({1}, [])


def noise(dice: np.random.Generator, length_s: float) -> Sound:
    """Noise that swells and fades four times a second, as speech does."""
    t = np.arange(round(length_s * HEARS_HZ)) / HEARS_HZ
    swelling: Sound = dice.normal(0.0, 1_000.0, len(t)) * (1 - np.cos(2 * np.pi * 4 * t)) / 2
    return swelling


@pytest.mark.long
@pytest.mark.parametrize("late_ms", [-40, 0, 130, 480])
def test_the_echo_goes_and_the_owner_stays(late_ms: int) -> None:
    dice = np.random.default_rng(late_ms + 100)
    path, walls = EchoPath(), dice.normal(size=2_000) * np.exp(-np.arange(2_000) / 400)
    walls[0] = 20.0
    walls /= np.sqrt(walls @ walls)
    silence = np.zeros(HEARS_HZ // 2)
    for cue in range(3):
        far = np.concatenate([silence, noise(dice, 2.0), silence, silence])
        # Each cue begins up to 5 ms away from where it is told.
        shift = late_ms * HEARS_HZ // 1_000 + int(dice.integers(-80, 81))
        echo = np.roll(np.convolve(far, walls)[: len(far)], shift)
        owner = np.zeros(len(far))
        if cue == 2:
            owner[HEARS_HZ : 2 * HEARS_HZ] = noise(dice, 1.0)
        near = echo + owner + dice.normal(0.0, 5.0, len(far))
        stretch = path.without_echo(far, near)
        path.learn(far, near, alone=cue < 2)
    # A filter this long that has learned from two cues leaves some; common sense, no source: what
    # is left of the echo must be less than a tenth of the owner's power.
    wrong = stretch.rest - owner
    assert np.mean(wrong[HEARS_HZ : 2 * HEARS_HZ] ** 2) < np.mean(owner**2) * 3 / 10
    assert np.mean(wrong**2) < np.mean(echo**2) / 10


def a_file(folder: Path, samples: Sound) -> str:
    path = folder / "cue.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE_HZ, 0, "NONE", ""))
        file.writeframes(samples.astype("<i2").tobytes())
    return str(path)


@pytest.mark.long
def test_only_what_is_louder_than_the_coach_is_given_to_the_recogniser(tmp_path: Path) -> None:
    asked: list[int] = []

    def words(sound: Sound) -> tuple[str, ...]:
        asked.append(len(sound))
        return ("stop_everything",)

    dice = np.random.default_rng(1)
    file = a_file(tmp_path, dice.normal(0.0, 2_000.0, 2 * RATE_HZ))
    listening = OverSpeech(words)
    with wave.open(file) as told:
        known = np.frombuffer(told.readframes(2 * RATE_HZ), dtype="<i2").astype(np.float64)
    size = 2 * HEARS_HZ
    cue = np.fft.irfft(np.fft.rfft(known)[: size // 2 + 1], size) * size / len(known)
    whole = dice.normal(0.0, 100.0, 24 * HEARS_HZ)
    for begins_s in (1, 7, 13, 19):
        whole[begins_s * HEARS_HZ : begins_s * HEARS_HZ + size] += cue
    # In the third one somebody speaks; in the last one the coach falls silent after half a second.
    whole[13 * HEARS_HZ + 8_000 : 13 * HEARS_HZ + 20_000] += dice.normal(0.0, 2_000.0, 12_000)
    whole[19 * HEARS_HZ + 8_000 :] = dice.normal(0.0, 100.0, 5 * HEARS_HZ - 8_000)
    heard = []
    for at in range(0, len(whole), 320):
        second, rest = divmod(at, HEARS_HZ)
        if rest == 0 and second in (1, 7, 13, 19):
            listening.plays(file, second * NS_PER_S, tone=False)
        if second == 19 and rest == 8_320:
            listening.plays("", 19 * NS_PER_S + NS_PER_S // 2, tone=False)
        end_ns = (at + 320) * NS_PER_S // HEARS_HZ
        heard += list(listening.feed(whole[at : at + 320], end_ns))
    assert len(asked) == len(heard) == 1
    assert heard[0].words == ("stop_everything",)
    assert abs(heard[0].begins_ns - 13.5 * NS_PER_S) < NS_PER_S / 5
    assert abs(heard[0].ends_ns - 14.25 * NS_PER_S) < NS_PER_S / 5


def test_a_file_that_is_gone_and_a_microphone_that_comes_back_harm_nothing(tmp_path: Path) -> None:
    listening = OverSpeech(lambda _sound: ("stop_everything",))
    dice = np.random.default_rng(1)
    listening.plays(str(tmp_path / "none.wav"), NS_PER_S, tone=True)
    listening.plays(a_file(tmp_path, np.zeros(RATE_HZ)), NS_PER_S, tone=False)
    for second in (0, 1, 2, 3, 4, 60, 61):
        for at in range(0, HEARS_HZ, 480):
            end_ns = second * NS_PER_S + (at + 480) * NS_PER_S // HEARS_HZ
            assert not list(listening.feed(dice.normal(0.0, 5.0, 480), end_ns))
