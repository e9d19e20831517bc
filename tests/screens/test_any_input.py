"""Whatever is pressed, tapped, typed or resized: no traceback, no hang, and the log stays whole.

``COACH_FUZZ=20000 pytest tests/screens/test_any_input.py`` tries so many instead of a few.
"""

import io
import os
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from coach import translations
from coach.journal.journal import read_journal
from coach.lines.line_mode import WORDS, PlainCoach
from coach.record.tally import tally_of
from coach.session.machine import OVER
from coach.session.readiness import round_for
from coach.session.readiness_timing import Preparing
from tests.e2e.virtual import START_NS, FakeTime, Script, runner_for
from tests.screens.thin import LONG_BACK, app_for, thin_session

HOW_MANY = int(os.environ.get("COACH_FUZZ", "0"))
SIZES = ((60, 20), (80, 24), (120, 40), (20, 6))
KEYS = (
    *"abcdefghijklmnopqrstuvwxyz0123456789?",
    *("space", "enter", "escape", "tab", "up", "down", "left", "right", "pageup", "pagedown"),
    *("home", "end", "f1", "f12", "backspace", "delete", "ctrl+c", "ctrl+q", "ctrl+z", "\ufffd"),
)
ODD = (
    "",
    " ",
    "\x00",
    "\x1b[2J",
    "\ufffd" * 40,
    "y" * 5000,
    "0",
    "-1",
    "9" * 400,
    "yes",
    "no",
    "?",
)


@pytest.fixture(params=["en", "de"])
def language(request: pytest.FixtureRequest) -> Iterator[str]:
    translations.speak(request.param)
    yield request.param
    translations.speak("en")


def lines(dice: random.Random, count: int) -> list[tuple[float, str]]:
    """Lines with the moments at which they are typed; a stop is rare, for it ends the session."""
    known = [word for word in WORDS if word != "stop"]
    at_s, typed = 0.0, []
    for _ in range(count):
        at_s += dice.choice([0.0, 0.01, 0.7, 3.0, 20.0]) * dice.random()
        noise = "".join(chr(dice.randrange(0x250)) for _ in range(dice.randrange(20)))
        wish = "stop" if dice.random() < 0.002 else dice.choice([*known, *ODD, noise, "1", "2 3"])
        typed.append((at_s, wish))
    return typed


@pytest.mark.parametrize(
    "seed", [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in (1, 2))]
)
def test_lines_into_plain(tmp_path: Path, language: str, seed: int) -> None:
    dice, left, number = random.Random(seed), HOW_MANY or 200, 0
    while left > 0:
        time, out, number = FakeTime(), io.StringIO(), number + 1
        runner = runner_for(LONG_BACK, tmp_path / str(number), time)
        runner.preparing = Preparing(
            round_for(runner.plan_file.plan, first=bool(dice.getrandbits(1)))
        )
        script = Script(time, lines(dice, min(left, 400)))
        before = len(script.words)
        PlainCoach(runner, script, out).run()
        runner.close()
        left -= max(1, before - len(script.words))
        assert runner.machine.phase in OVER
        assert not tally_of(read_journal(runner.path).lines).problems
        assert time.now_ns >= START_NS


@pytest.mark.long
@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_keys_taps_and_sizes(language: str, size: tuple[int, int]) -> None:
    dice, left = random.Random(f"{language}{size}"), HOW_MANY // 8 or 150
    while left > 0:
        session = thin_session(LONG_BACK)
        app = app_for(session)
        async with app.run_test(size=size) as pilot:
            while left > 0 and app.is_running and session.view().phase not in OVER:
                left -= 1
                wish = dice.random()
                if wish < 0.7:
                    # A stop is rare, for it ends the session.
                    key = dice.choice(KEYS)
                    await pilot.press(key if key not in "xq" or dice.random() < 0.1 else "space")
                elif wish < 0.9:
                    await pilot.click(offset=(dice.randrange(size[0]), dice.randrange(size[1])))
                else:
                    await pilot.resize_terminal(dice.randrange(1, 130), dice.randrange(1, 50))
                    await pilot.resize_terminal(*size)
                session.time.pass_s(dice.choice([0.0, 0.1, 0.7, 5.0]))
                app.beat()
