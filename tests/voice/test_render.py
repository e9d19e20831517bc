"""Speech as files: found again, made once, and never the reason that something stops."""

from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

from coach.voice import render
from coach.voice.natural import NATURAL
from coach.voice.render import BackgroundRenderer, Cache, Renderer, VoiceSettings
from coach.voice.wav_samples import FULL, RATE_HZ, read_wave
from tests.voice.engines import DIES, HANGS, MUTE, install_fake, install_none
from tests.voice.waiting import until

TEXTS = ["Lower back, left, spot two.", "Halfway.", "Three."]


def test_whatever_changes_the_sound_changes_the_file(tmp_path: Path) -> None:
    settings = [
        VoiceSettings(),
        VoiceSettings(voice="gmw/en"),
        VoiceSettings(rate_wpm=150),
        VoiceSettings(word_gap=4),
        VoiceSettings(pitch=40),
        VoiceSettings(voice=NATURAL),
    ]
    paths = {Cache(tmp_path, each).path(text) for each in settings for text in TEXTS}
    assert len(paths) == len(settings) * len(TEXTS)
    assert Cache(tmp_path).path(TEXTS[0]) == Cache(tmp_path, VoiceSettings()).path(TEXTS[0])


def test_another_engine_makes_another_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = Cache(tmp_path).path(TEXTS[0])
    monkeypatch.setattr(render, "version", lambda package: "99.0")
    assert Cache(tmp_path).path(TEXTS[0]) != before


def test_a_text_is_made_once(speech: Cache) -> None:
    assert speech.render(TEXTS) == {}
    made = {text: speech.path(text).stat() for text in TEXTS}
    steps: list[tuple[int, int]] = []
    assert speech.render([*TEXTS, "Two."], lambda *step: steps.append(step)) == {}
    assert {text: speech.path(text).stat().st_ino for text in TEXTS} == {
        text: stat.st_ino for text, stat in made.items()
    }
    assert speech.path("Two.").exists()
    assert steps in ([], [(1, 1)])


def test_progress_counts_what_is_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    install_fake(tmp_path, monkeypatch)
    steps: list[tuple[int, int]] = []
    texts = ["one", "two", "two", "", "three"]
    assert Cache(tmp_path / "speech").render(texts, lambda *step: steps.append(step)) == {}
    assert steps == [(1, 3), (2, 3), (3, 3)]


def test_speech_is_calm(speech: Cache) -> None:
    # About -23 LUFS and no peak above -6 dBFS: our choice of calm; BS.1770 by pyloudnorm.
    speech.render(TEXTS)
    for text in TEXTS:
        samples = np.array(read_wave(speech.path(text))) / (FULL + 1)
        padded = np.pad(samples, (0, max(0, RATE_HZ // 2 - len(samples))))
        loudness = pyloudnorm.Meter(RATE_HZ).integrated_loudness(padded)
        assert loudness == pytest.approx(-23, abs=3), text
        assert np.abs(samples).max() <= 10 ** (-6 / 20) + 1e-4, text
        for edge in (samples[:40], samples[-40:]):
            assert np.abs(edge).max() < 0.01, "no click at the edges"


def test_silence_before_and_after_is_trimmed(speech: Cache) -> None:
    speech.render(TEXTS)
    for text in TEXTS:
        loud = np.flatnonzero(np.abs(np.array(read_wave(speech.path(text)))) > 200)
        length = len(read_wave(speech.path(text)))
        assert loud[0] < 0.1 * RATE_HZ, text
        assert length - loud[-1] < 0.1 * RATE_HZ, text


def test_text_without_sound_is_told_and_the_rest_is_made(speech: Cache) -> None:
    problems = speech.render(["Skipped.", " , ", "Going back."])
    assert problems == {" , ": "nothing was spoken"}
    assert speech.path("Skipped.").exists()
    assert speech.path("Going back.").exists()
    assert not speech.path(" , ").exists()


def test_text_that_kills_the_engine_is_told_and_the_rest_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    starts = install_fake(tmp_path, monkeypatch)
    cache = Cache(tmp_path / "speech")
    assert cache.render(["one", DIES, MUTE, "two"]) == {
        DIES: render.DIED,
        MUTE: "nothing was spoken",
    }
    assert sorted(cache.folder.iterdir()) == sorted([cache.path("one"), cache.path("two")])
    assert starts.read_text().count("started") == 2


def test_an_engine_that_hangs_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    install_fake(tmp_path, monkeypatch)
    with Renderer(VoiceSettings()) as renderer:
        assert renderer.make("warm", tmp_path / "warm.wav") is None
        with monkeypatch.context() as impatient:
            impatient.setattr(render, "ANSWER_WITHIN_S", 0.5)
            assert renderer.make(HANGS, tmp_path / "never.wav") == render.DIED
        assert renderer.make("one", tmp_path / "one.wav") is None
    assert not (tmp_path / "never.wav").exists()


def test_without_an_engine_every_text_is_told_after_one_try(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    starts = install_none(tmp_path, monkeypatch)
    problems = Cache(tmp_path / "speech").render(TEXTS)
    assert problems == dict.fromkeys(TEXTS, "no engine here")
    assert starts.read_text().count("started") == 1


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    problems = Cache(tmp_path / "file" / "speech").render(["Halfway."])
    assert list(problems) == ["Halfway."]
    assert "file" in problems["Halfway."]


def test_the_background_makes_what_nobody_foresaw(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    install_fake(tmp_path, monkeypatch)
    cache = Cache(tmp_path / "speech")
    background = BackgroundRenderer(cache)
    for text in ("one", DIES, "two", "one"):
        background.want(text)
    done = until(background.done, lambda finished: len(finished) == 4)
    background.close()
    assert done == [("one", None), (DIES, render.DIED), ("two", None), ("one", None)]
    assert cache.path("two").exists()


def test_the_background_ends_with_an_engine_that_hangs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    starts = install_fake(tmp_path, monkeypatch)
    background = BackgroundRenderer(Cache(tmp_path / "speech"))
    background.want(HANGS)
    until(lambda: [1] if starts.exists() else [], bool)
    background.close()
    ((text, problem),) = background.done()
    assert text == HANGS
    assert problem is not None
