"""The language in which the program speaks, chosen by option, environment or settings."""

import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from coach import cli, language, translations
from coach.cli import keys
from coach.paths import settings_file
from coach.voice.settings import VoiceWishes, speaks, usual

PLAN = Path(__file__).parents[2] / "plans" / "demo-long-back.toml"


def settings(text: str) -> None:
    settings_file().parent.mkdir(parents=True, exist_ok=True)
    settings_file().write_text(text, encoding="utf-8")


def regions_told(capsys: pytest.CaptureFixture[str], *options: str) -> tuple[str, str]:
    assert cli.run(["regions", "lumbar", "--plain", *options]) == 0
    told = capsys.readouterr()
    return told.out, told.err


def test_option_environment_and_settings_choose_the_language(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert regions_told(capsys)[0].startswith("lower back")
    assert regions_told(capsys, "--language", "de")[0].startswith("Lendenbereich")
    # What one command was told does not hold for the next.
    assert regions_told(capsys)[0].startswith("lower back")
    settings('language = "de"\n')
    assert regions_told(capsys)[0].startswith("Lendenbereich")
    monkeypatch.setenv("COACH_LANGUAGE", "en")
    assert regions_told(capsys)[0].startswith("lower back")
    assert cli.run(["--language", "de", "regions", "lumbar", "--plain"]) == 0
    assert capsys.readouterr().out.startswith("Lendenbereich")


def test_a_language_that_is_not_there_is_told_and_english_taken(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    settings('language = "xx"\n')
    out, err = regions_told(capsys)
    assert out.startswith("lower back")
    assert "'xx'" in err
    assert "allowed: en, de" in err
    assert str(settings_file()) in err
    monkeypatch.setenv("COACH_LANGUAGE", "yy")
    assert "COACH_LANGUAGE" in regions_told(capsys)[1]
    with pytest.raises(SystemExit) as ended:
        cli.run(["--language", "zz", "regions"])
    assert ended.value.code == 2
    assert "'zz'" in capsys.readouterr().err


def test_each_language_has_its_voice_and_another_one_is_told(
    capsys: pytest.CaptureFixture[str],
) -> None:
    settings('language = "de"\n[voice]\nvoice = "gmw/en-US+m3"\nrate_wpm = 120\n')
    translations.speak("de")
    wishes = keys.settings().voice
    assert wishes.voice == usual().voice
    assert speaks(wishes.voice, "de")
    assert wishes.rate_wpm == 120
    told = capsys.readouterr().err
    assert f"{settings_file()}:3: voice.voice:" in told
    assert '"gmw/en-US+m3"' in told
    assert usual().voice in told
    translations.speak("en")
    assert usual() == VoiceWishes()


@pytest.mark.parametrize("text", ["language = 3\n", "language = [1]\n"])
def test_a_language_that_is_no_text_is_told_with_its_line(
    capsys: pytest.CaptureFixture[str], text: str
) -> None:
    settings(text)
    keys.settings()
    told = capsys.readouterr().err
    assert f"{settings_file()}:1: language:" in told
    assert 'such as "de"' in told


def test_numbers_have_the_decimal_sign_of_the_language() -> None:
    """Comma in German: Unicode CLDR, common/main/de.xml; DIN 1333."""
    assert language.number(Decimal("26.0")) == "26.0"
    translations.speak("de")
    assert language.number(Decimal("26.0")) == "26,0"
    assert language.number(26) == "26"


def test_a_real_process_rehearses_in_german_and_english_loads_no_catalogue(own_world: Path) -> None:
    german = ["rehearse", "--language", "de", "--plain", "--silent", "--speed", "1000", str(PLAN)]
    done = subprocess.run(
        [sys.executable, "-m", "coach", *german],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "Alles fertig. Laser ausschalten." in done.stdout
    assert "Jeder Punkt bekam seine Sekunden." in done.stdout
    english = (
        "import sys; from coach.cli import run; run(['regions', 'lumbar', '--plain'])\n"
        "assert 'polib' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", english], check=True, capture_output=True)
    assert own_world.is_dir()
