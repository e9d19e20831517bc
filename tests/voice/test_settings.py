"""The settings file: what cannot be used is told with its line, and the default is taken."""

from pathlib import Path

import pytest

from coach.voice.key_input import KeyWishes
from coach.voice.settings import BOUNDS, Voices, VoiceWishes, known_voices
from coach.voice.settings_file import Settings, change_settings, read_settings

WISHES = KeyWishes(usual={"one_key": ("space",), "back": ("b",)}, fixed={"space"}, names={"f9"})
VOICES = Voices(names=frozenset({"gmw/en", "gmw/en-US"}), variants=frozenset({"m3", "f2"}))


def read(path: Path) -> Settings:
    return read_settings(path, key_wishes=WISHES, voices=lambda: VOICES)


def settings_from(folder: Path, text: str) -> Settings:
    path = folder / "settings.toml"
    path.write_text(text, encoding="utf-8")
    return read(path)


def test_the_defaults_are_what_was_understood_best() -> None:
    # Round trip of 40 cues through two recognisers, measured before this room was built:
    # en-US+m3 at 140 words a minute with word gap 3 had the most words right of espeak-ng's own.
    wishes = VoiceWishes()
    assert (wishes.voice, wishes.rate_wpm, wishes.word_gap) == ("gmw/en-US+m3", 140, 3)
    assert wishes.gain == 1.0


def test_no_file_and_an_empty_file_are_the_defaults(tmp_path: Path) -> None:
    assert read(tmp_path / "none.toml") == Settings()
    assert settings_from(tmp_path, " \n") == Settings()


def test_what_is_set_holds(tmp_path: Path) -> None:
    settings = settings_from(
        tmp_path,
        '[voice]\nvoice = "gmw/en+f2"\nrate_wpm = 130\nword_gap = 5\npitch = 40\n'
        'volume_percent = 50\n[keys]\none_key = ["f9"]\n',
    )
    assert settings.problems == ()
    assert settings.voice == VoiceWishes(
        voice="gmw/en+f2", rate_wpm=130, word_gap=5, pitch=40, volume_percent=50
    )
    assert settings.voice.gain == 0.25
    assert settings.keys == {"one_key": ("f9",)}


@pytest.mark.parametrize(
    ("line", "found", "allowed"),
    [
        ('voice = "gmw/en-XX"', '"gmw/en-XX"', "a voice that is installed"),
        ('voice = "gmw/en-US+zz"', '"gmw/en-US+zz"', "a variant that is installed"),
        ("voice = 3", "3", "text in quotes"),
        ("rate_wpm = 79", "79", "a whole number, 80 to 250"),
        ("rate_wpm = 251", "251", "a whole number, 80 to 250"),
        ("rate_wpm = true", "true", "a whole number"),
        ("rate_wpm = 140.0", "140.0", "a whole number"),
        ('word_gap = "3"', '"3"', "a whole number, 0 to 30"),
        ("pitch = -1", "-1", "a whole number, 0 to 99"),
        ("volume_percent = 101", "101", "a whole number, 0 to 100"),
        ("volum_percent = 50", "an unknown key", 'did you mean "volume_percent"?'),
        ("pitch = high", "pitch = high", "TOML"),
    ],
)
def test_a_slip_is_told_and_its_default_taken(
    tmp_path: Path, line: str, found: str, allowed: str
) -> None:
    other, kept = ("word_gap = 7", VoiceWishes(word_gap=7))
    if line.startswith("word_gap"):
        other, kept = ("pitch = 7", VoiceWishes(pitch=7))
    settings = settings_from(tmp_path, f"[voice]\n{line}\n{other}\n")
    (problem,) = settings.problems
    assert problem.line == 2
    assert f"{tmp_path / 'settings.toml'}:2: voice." in str(problem)
    assert found in str(problem)
    assert allowed in str(problem)
    # The slip costs only itself.
    assert settings.voice == kept


def test_everything_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    settings = settings_from(
        tmp_path,
        '[voice]\nrate_wpm = 1\npitch = 1000\n[keys]\nsing = "f9"\n[sound]\nloud = true\n',
    )
    assert [problem.line for problem in settings.problems] == [2, 3, 5, 6]
    assert settings.voice == VoiceWishes()
    assert settings.keys == {}


@pytest.mark.parametrize(
    "content", [b"\xff\xfe\x00", b"= =\n", b"x" * 200_000, b"voice = 3\n[[keys]]\n"]
)
def test_rubbish_is_told_and_the_defaults_taken(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "settings.toml"
    path.write_bytes(content)
    settings = read(path)
    assert settings.problems
    assert (settings.voice, settings.keys) == (VoiceWishes(), {})


def test_a_folder_is_no_settings_file(tmp_path: Path) -> None:
    assert "no ordinary file" in str(read(tmp_path).problems[0])


def test_what_is_changed_is_kept_and_the_rest_stays(tmp_path: Path) -> None:
    path = tmp_path / "new" / "settings.toml"
    change_settings(path, "voice", {"volume_percent": 60})
    change_settings(path, "keys", {"one_key": ["f9"]})
    change_settings(path, "voice", {"rate_wpm": 120})
    assert read(path) == Settings(
        voice=VoiceWishes(volume_percent=60, rate_wpm=120), keys={"one_key": ("f9",)}
    )
    change_settings(path, "keys", {"one_key": None})
    assert read(path).keys == {}
    assert [entry.name for entry in path.parent.iterdir()] == ["settings.toml"]


def test_a_broken_file_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text("volume 50\n", encoding="utf-8")
    with pytest.raises(ValueError, match="line 1"):
        change_settings(path, "voice", {"volume_percent": 60})
    assert path.read_text(encoding="utf-8") == "volume 50\n"


def test_the_default_voice_is_installed_and_its_look_alikes_are_not() -> None:
    voices = known_voices()
    assert voices.problem(VoiceWishes().voice) is None
    # espeak-ng refuses the first and ignores the variant of the second without a word.
    assert voices.problem("en-gb") is not None
    assert voices.problem("gmw/en-US+m333") is not None


def test_every_bound_holds_the_default() -> None:
    for key, (low, high) in BOUNDS.items():
        assert low <= getattr(VoiceWishes(), key) <= high


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[listen]\ntried = "yes"\n', "true or false; false is taken instead"),
        ("[listen]\nonce = true\n", "an unknown key"),
        ("[listen]\non = true\nright = 1\nwrong = 0\nof = 1\n", "a date such as 2026-11-25"),
        ("[listen]\non = 2026-11-25\nwrong = 0\nof = 1\n", "a whole number"),
        ("listen = true\n", "a table [listen]"),
    ],
)
def test_nobody_listens_by_a_slip(tmp_path: Path, text: str, told: str) -> None:
    settings = settings_from(tmp_path, text)
    assert not settings.listens
    assert told in str(settings.problems[0])


def test_what_was_tried_listens(tmp_path: Path) -> None:
    settings = settings_from(tmp_path, "[listen]\ntried = true\n")
    assert settings.listens
    assert settings.problems == ()
