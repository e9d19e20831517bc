"""Keys of the owner's own: the one key on F9 does on every screen what the space bar does."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Input

from coach.screens.base_app import LastingApp
from coach.screens.bindable_keys import key_wishes
from coach.screens.own_keys import translation
from coach.session.machine import Phase
from coach.session.readiness import round_for
from coach.session.readiness_timing import Preparing
from tests.e2e.virtual import FakeTime, runner_for, wall
from tests.screens.one_app import session_app
from tests.screens.thin import LONG_BACK, settled, shown

S = 10**9


def keymap(**wishes: tuple[str, ...]) -> dict[str, str]:
    return {name: ",".join(keys) for name, keys in key_wishes().keymap(wishes).items()}


def test_each_key_of_the_owner_stands_for_the_usual_one() -> None:
    usual = key_wishes().usual
    assert translation(keymap(), usual) == {}
    assert translation(keymap(one_key=("f9", "f10"), say=("f8",)), usual) == {
        "f9": "space",
        "f10": "space",
        "f8": "r",
    }
    # A letter that is taken moves what it meant to the capital.
    assert translation(keymap(one_key=("b",)), usual) == {"b": "space", "B": "b"}


async def told(key: str, home: Path) -> list[str]:
    """Every screen from get ready to the end, by one key alone, as text."""
    time = FakeTime()
    runner = runner_for(LONG_BACK, home, time)
    runner.preparing = Preparing(round_for(runner.plan_file.plan, first=True))
    app = session_app(runner, wall=wall, mono_ns=time)
    app.set_keymap(keymap(one_key=("f9",)))
    seen: list[str] = []
    async with app.run_test(size=(60, 20)) as pilot:
        # Through all questions, into a hold, a pause, its choices, stop, the choices of the end.
        for wait_s in (*[3] * 80, 9, 1, 2, *[1] * 3, 4):
            time.now_ns += wait_s * S
            app.beat()
            await pilot.press(key)
            await settled(pilot)
            seen.append(shown(app))
    runner.close()
    return seen


async def test_a_whole_session_by_f9_alone_is_that_of_the_space_bar(tmp_path: Path) -> None:
    by_space = await told("space", tmp_path / "space")
    by_f9 = await told("f9", tmp_path / "f9")
    assert by_f9 == by_space
    assert any("|| PAUSED" in text for text in by_f9)
    assert any("Wait 3 s" in text for text in by_f9)


class Asks(Screen[None], inherit_bindings=False):
    """A screen that knows nothing of actions: a list by the space bar, N for no, a line to type."""

    BINDINGS = [Binding("space", "note('step')"), Binding("n", "note('no')")]  # noqa: RUF012

    def __init__(self, done: list[str], *, typing: bool) -> None:
        super().__init__()
        self.done, self.typing = done, typing

    def compose(self) -> ComposeResult:
        if self.typing:
            yield Input()

    def action_note(self, what: str) -> None:
        self.done.append(what)


async def pressed(
    *keys: str, wishes: Mapping[str, tuple[str, ...]], typing: bool
) -> tuple[Any, ...]:
    app: LastingApp[Phase] = LastingApp(look="dark")
    app.set_keymap(keymap(**wishes))
    done: list[str] = []
    async with app.run_test() as pilot:
        app.push_screen(Asks(done, typing=typing))
        await settled(pilot)
        await pilot.press(*keys)
        await settled(pilot)
        text = app.screen.query_one(Input).value if typing else ""
    return done, text


@pytest.mark.parametrize(
    ("keys", "done"),
    [(("f9",), ["step"]), (("b", "b"), ["step", "step"]), (("n",), ["no"]), (("x",), [])],
)
async def test_a_screen_that_knows_no_actions_takes_them_too(
    keys: tuple[str, ...], done: list[str]
) -> None:
    wishes = {"one_key": ("f9", "b", "n")}
    assert await pressed(*keys, wishes=wishes, typing=False) == (done, "")


async def test_while_a_name_is_typed_a_letter_is_a_letter_and_a_pedal_writes_none() -> None:
    wishes = {"one_key": ("f9", "b")}
    assert await pressed("b", "o", "f9", "b", wishes=wishes, typing=True) == ([], "bob")
