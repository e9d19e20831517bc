"""``coach voice`` and ``coach keys`` through the command line, and a bound key in the real app."""

from pathlib import Path

import pytest

from coach.cli import keys, run
from coach.cli.exits import Exit
from coach.paths import settings_file
from coach.screens.bindable_keys import key_wishes
from coach.screens.key_tester import ArrivalsApp
from coach.screens.step_scanning import PAIR_NS
from coach.session.machine import Phase
from coach.units import NS_PER_S
from coach.voice.settings import VoiceWishes
from tests.screens.thin import FakeTime, app_for, settled, thin_session

Captured = pytest.CaptureFixture[str]


def test_what_is_set_is_kept(capsys: Captured) -> None:
    arguments = ["voice", "--quiet", "--voice", "gmw/en", "--rate", "120", "--volume", "60"]
    assert run(arguments) == Exit.DONE
    assert run(["voice", "--quiet", "--gap", "5"]) == Exit.DONE
    assert keys.settings().voice == VoiceWishes(
        voice="gmw/en", rate_wpm=120, word_gap=5, volume_percent=60
    )
    assert "gmw/en, 120 words a minute, gap 5" in capsys.readouterr().out
    assert run(["voice", "--quiet", "--usual"]) == Exit.DONE
    assert keys.settings().voice == VoiceWishes()


def test_what_cannot_be_is_refused_all_at_once_and_nothing_is_kept(capsys: Captured) -> None:
    arguments = ["voice", "--quiet", "--voice", "en-gb", "--rate", "900", "--pitch", "30"]
    assert run(arguments) == Exit.BAD_INPUT
    told = capsys.readouterr().err
    assert "--voice: found 'en-gb'; allowed: a voice that is installed" in told
    assert "--rate: found 900; allowed: a whole number, 80 to 250" in told
    assert not settings_file().exists()


def test_a_key_is_bound_and_given_back(capsys: Captured) -> None:
    assert run(["keys", "--bind", "one_key", "f9"]) == Exit.DONE
    assert run(["keys", "--bind", "one_key", "b"]) == Exit.DONE
    capsys.readouterr()
    assert run(["keys"]) == Exit.DONE
    table = dict(line.split(maxsplit=1) for line in capsys.readouterr().out.splitlines())
    assert table["one_key"] == "space, enter, pagedown, right, down, f9, b"
    # The pedal took the letter; the screen shows the capital, and that is the key now.
    assert table["back"] == "B"
    assert run(["keys", "--usual", "one_key"]) == Exit.DONE
    assert keys.settings().keys == {}


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--bind", "sing", "f9"], "an unknown action"),
        (["--bind", "say", "x"], "this one always keeps its meaning"),
        (["--bind", "say", "1"], "this one always keeps its meaning"),
        (["--bind", "say", "pagdown"], 'did you mean "pagedown"?'),
        (["--bind", "say"], "no terminal to press a key in"),
        (["--usual", "sing"], "found 'sing'; allowed: one_key"),
    ],
)
def test_a_bad_binding_is_refused(capsys: Captured, arguments: list[str], told: str) -> None:
    assert run(["keys", *arguments]) == Exit.BAD_INPUT
    assert told in capsys.readouterr().err
    assert not settings_file().exists()


def test_one_key_cannot_mean_two_things(capsys: Captured) -> None:
    assert run(["keys", "--bind", "say", "f9"]) == Exit.DONE
    assert run(["keys", "--bind", "again", "f9"]) == Exit.BAD_INPUT
    assert "this one means say already" in capsys.readouterr().err
    assert keys.settings().keys == {"say": ("f9",)}


@pytest.mark.parametrize("command", [["keys", "--bind", "say", "f9"], ["voice", "--quiet"]])
def test_broken_settings_are_told_and_not_written_over(
    own_world: Path, capsys: Captured, command: list[str]
) -> None:
    settings_file().parent.mkdir(parents=True)
    settings_file().write_text("[voice\n", encoding="utf-8")
    assert run(command) == Exit.BAD_INPUT
    assert f"{settings_file()}:1" in capsys.readouterr().err
    assert settings_file().read_text(encoding="utf-8") == "[voice\n"


async def test_a_bound_pedal_is_the_one_key_and_nothing_else_any_more() -> None:
    session = thin_session()
    app = app_for(session)
    keymap = key_wishes().keymap({"one_key": ("b", "f9")})
    app.set_keymap({action: ",".join(bound) for action, bound in keymap.items()})
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        session.time.pass_s(1)
        await pilot.press("b")
        assert session.view().phase is Phase.MOVING
        session.time.pass_s(2)
        await pilot.press("f9")
        assert session.view().phase is Phase.PAUSED
        session.time.pass_s(2)
        # The usual keys stay.
        await pilot.press("space")
        session.time.pass_s(PAIR_NS / NS_PER_S)
        app.beat()
        assert session.view().phase is Phase.MOVING
        assert session.kinds.count("went_back") == 0
        await pilot.press("x")
        assert session.view().phase is Phase.STOPPED


async def test_what_arrives_is_shown_with_its_meaning() -> None:
    time = FakeTime()
    app = ArrivalsApp({"pagedown": "one_key", "?": "help"}, mono_ns=time)
    async with app.run_test(size=(60, 20)) as pilot:
        for key in ("pagedown", "question_mark", "z"):
            time.pass_s(1)
            await pilot.press(key)
        await pilot.press("z")
        arrived = app.arrived
    assert [line.split(maxsplit=1) for line in arrived] == [
        ["pagedown", "one_key"],
        ["?", "help"],
        ["z", "nothing yet"],
        ["z", "nothing yet  (the same press: counts once)"],
    ]


async def test_the_key_that_is_looked_for_is_the_next_one() -> None:
    app = ArrivalsApp({}, "say")
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.press("pageup")
    assert app.return_value == "pageup"


async def test_nothing_is_taken_when_it_is_left() -> None:
    app = ArrivalsApp({}, "say")
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.press("ctrl+q")
    assert app.return_value is None
