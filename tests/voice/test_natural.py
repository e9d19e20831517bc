"""The natural voice, rendered for real in the process that the session uses."""

import os
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

from coach import translations
from coach.bedside.speech import Speech
from coach.cli import keys, run
from coach.cli.exits import Exit
from coach.voice.file_voice import RecordedVoice
from coach.voice.natural import FEWEST_WORDS, NATURAL, parts, word_count
from coach.voice.render import Cache, VoiceSettings
from coach.voice.settings import Voices, VoiceWishes, allowed_for, known_voices, usual
from coach.voice.wav_samples import FULL, RATE_HZ, read_wave, seconds
from tests.voice.hearing import Ear, sound
from tests.voice.test_understood import lines_of_all_plans, share_right

pytestmark = pytest.mark.long

WORDS = [
    "Lower back, left, spot two.",
    "Stopped. Switch the laser off.",
    "Begin with the dog on its chest.",
    "Right knee, inside.",
    "Three.",
]


@pytest.fixture(scope="module")
def natural(tmp_path_factory: pytest.TempPathFactory) -> Cache:
    cache = Cache(tmp_path_factory.mktemp("natural"), VoiceSettings(voice=NATURAL))
    assert cache.render(WORDS) == {}
    return cache


def test_it_is_understood_by_an_ear_that_is_not_ours(natural: Cache) -> None:
    ear = Ear(lines_of_all_plans())
    heard = {words: ear.hears(sound(natural.path(words))) for words in WORDS}
    assert share_right(heard) == 1.0, heard


def test_it_is_as_calm_as_the_usual_voice(natural: Cache) -> None:
    # About -23 LUFS and no peak above -6 dBFS: our choice of calm; BS.1770 by pyloudnorm.
    meter = pyloudnorm.Meter(RATE_HZ)
    for words in WORDS[:-1]:
        samples = np.array(read_wave(natural.path(words))) / FULL
        assert np.abs(samples).max() <= 10 ** (-6 / 20) + 1 / FULL
        assert -27 < meter.integrated_loudness(samples) < -19, words


def test_the_same_words_make_the_same_sound_and_a_lower_rate_a_longer_one(
    natural: Cache, tmp_path: Path
) -> None:
    again = Cache(tmp_path / "again", natural.settings)
    slower = Cache(tmp_path / "slower", VoiceSettings(voice=NATURAL, rate_wpm=100))
    for cache in (again, slower):
        assert cache.render(WORDS[:1]) == {}
    usual = read_wave(natural.path(WORDS[0]))
    assert read_wave(again.path(WORDS[0])) == usual
    longer = seconds(read_wave(slower.path(WORDS[0]))) / seconds(usual)
    assert longer == pytest.approx(140 / 100, rel=0.15)


def test_each_line_is_spoken_at_the_rate_that_is_set(natural: Cache) -> None:
    # 130 to 150 words a minute suit older listeners (Holland and Fletcher 2000, as reviewed); a
    # line of one or two words has no rate. Without its own pace it spoke at 111 to 216.
    for words in [line for line in WORDS if word_count(line) >= FEWEST_WORDS]:
        rate_wpm = word_count(words) / seconds(read_wave(natural.path(words))) * 60
        assert rate_wpm == pytest.approx(140, rel=0.15), words


@pytest.mark.parametrize(
    ("text", "cut", "words"),
    [
        ("Turn the dog: onto its chest.", ["Turn the dog:", "onto its chest."], 6),
        ("Twenty-nine seconds left.", ["Twenty-nine seconds left."], 4),
        ("Paused. Lift the laser off.", ["Paused.", "Lift the laser off."], 5),
        ("The dog's left.", ["The dog's left."], 3),
        ("  ", [], 0),
    ],
)
def test_it_pauses_where_a_listener_needs_it(text: str, cut: list[str], words: int) -> None:
    assert parts(text) == cut
    assert word_count(text) == words


def test_where_it_is_installed_it_speaks_english_and_the_owner_can_go_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert usual().voice == "gmw/en-US+m3"
    monkeypatch.delenv("COACH_VOICE")
    assert usual().voice == NATURAL
    assert run(["voice", "--voice", "gmw/en", "--quiet"]) == Exit.DONE
    assert keys.settings().voice.voice == "gmw/en"
    assert run(["voice", "--usual", "--quiet"]) == Exit.DONE
    assert keys.settings().voice.voice == NATURAL
    translations.speak("de")
    assert usual().voice == "gmw/de+m3"


def test_where_it_does_not_start_the_other_voice_speaks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("COACH_VOICE")
    # A package of that name which fails as one built for another processor would.
    broken = tmp_path / "broken"
    (broken / "hibari").mkdir(parents=True)
    (broken / "hibari" / "__init__.py").write_text("raise ImportError('not for this processor')")
    monkeypatch.setenv("PYTHONPATH", f"{broken}{os.pathsep}{os.environ.get('PYTHONPATH', '')}")
    record = tmp_path / "said.wav"
    speech = Speech(usual(), record=record)
    told = speech.prepare(["Three."], lambda done, of: None)
    voice = speech.voice
    speech.close()
    assert "The natural voice does not start here: the other one speaks." in told
    assert isinstance(voice, RecordedVoice)
    assert max(read_wave(voice.cache.path("Three."))) > 0


def test_it_can_be_chosen_and_kept(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["voice", "--voice", NATURAL, "--quiet"]) == Exit.DONE
    assert keys.settings().voice == VoiceWishes(voice=NATURAL)
    assert run(["voice", "--voice", f"{NATURAL}+m3", "--quiet"]) == Exit.BAD_INPUT
    assert "natural/en-US without a variant" in capsys.readouterr().err


def test_without_its_package_it_is_told_what_to_install() -> None:
    known = known_voices()
    without = Voices(names=known.names - {NATURAL}, variants=known.variants)
    told = allowed_for("voice", NATURAL, without)
    assert told is not None
    assert "extra natural" in told
