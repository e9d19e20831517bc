"""German cues by the real engine: there, in time, and not to be taken for one another."""

from pathlib import Path

import pytest

from coach import translations
from coach.language import _
from coach.plan.files import load_plan
from coach.plan.spots import Spot, spots_of
from coach.session import cues
from coach.session.cues import every_text, place_text
from coach.units import NS_PER_S
from coach.voice.render import Cache, VoiceSettings
from coach.voice.settings import known_voices, speaks, usual
from tests.e2e.virtual import TODAY
from tests.voice.german_ear import german_ear, german_words
from tests.voice.hearing import right_words, sound

PLANS = sorted((Path(__file__).parents[2] / "plans").glob("demo-*.toml"))
RATE_HZ = 22_050
# As of the English voice (test_understood.py), of all words of the lines.
AT_LEAST = 0.95
SIDES = {"linksx", "mittex", "rechtsx"}


def spots_of_all() -> list[Spot]:
    return [spot for plan in PLANS for spot in spots_of(load_plan(plan, today=TODAY).plan)]


@pytest.fixture(scope="module")
def german_speech(tmp_path_factory: pytest.TempPathFactory) -> Cache:
    translations.speak("de")
    wish = usual()
    made_with = VoiceSettings(
        voice=wish.voice, rate_wpm=wish.rate_wpm, word_gap=wish.word_gap, pitch=wish.pitch
    )
    return Cache(tmp_path_factory.mktemp("german"), made_with)


@pytest.fixture(autouse=True)
def german() -> None:
    translations.speak("de")


def lines() -> list[str]:
    """All but how many seconds are left, which takes the ear most of its time."""
    texts = [
        text
        for plan in PLANS
        for laser_button in (False, True)
        for text in every_text(
            spots_of(load_plan(plan, today=TODAY).plan), laser_button=laser_button
        )
    ]
    return [text for text in dict.fromkeys(texts) if not text.endswith("Sekunden.")]


def test_the_voice_speaks_german_and_is_there() -> None:
    assert speaks(usual().voice, "de")
    assert known_voices().problem(usual().voice) is None
    assert Cache(Path("x"), VoiceSettings(voice=usual().voice)).path("Pause.") != (
        Cache(Path("x"), VoiceSettings()).path("Pause.")
    )


@pytest.mark.long
def test_lines_are_understood_and_no_side_for_another(german_speech: Cache) -> None:
    texts = lines()
    assert len(texts) > 45
    assert german_speech.render(texts) == {}
    ear = german_ear(texts)
    heard = {text: ear.hears(sound(german_speech.path(text))) for text in texts}
    right = sum(right_words(german_words(text), words) for text, words in heard.items())
    assert right / sum(len(german_words(text)) for text in texts) >= AT_LEAST
    for text, words in heard.items():
        assert SIDES & set(german_words(text)) == SIDES & set(words), (text, words)


def test_where_to_go_is_told_before_the_move_is_over(german_speech: Cache) -> None:
    for spot in spots_of_all():
        told = [_(cues.ONCE_MORE), place_text(spot)]
        assert german_speech.render(told) == {}
        lasts_ns = sum(len(sound(german_speech.path(text))) * NS_PER_S // RATE_HZ for text in told)
        assert lasts_ns < spot.move_ns, (told, lasts_ns)


def test_the_count_of_the_last_three_fits_into_its_seconds(german_speech: Cache) -> None:
    counted = [cues.count_text(seconds) for seconds in cues.COUNTED_S]
    assert counted == ["Drei.", "Zwei.", "Eins."]
    assert german_speech.render(counted) == {}
    for text in counted:
        assert len(sound(german_speech.path(text))) < RATE_HZ, text
