"""One key alone reaches everything; a cat on the keyboard gives nothing."""

import random
from pathlib import Path

import pytest
from textual.pilot import Pilot

from coach.bedside.runner import Runner
from coach.journal.journal import read_journal
from coach.record.tally import tally_of
from coach.screens.driver import EveningApp
from coach.screens.skip import SkipScreen
from coach.screens.step_scanning import PAIR_NS, TWICE_NS
from coach.session.machine import OVER, Phase
from coach.session.readiness import eyes_only, round_for
from coach.session.readiness_timing import Preparing
from coach.voice.key_input import BOUNCE_NS, FIRST_REPEAT_NS, REPEAT_NS
from tests.e2e.virtual import FakeTime, runner_for
from tests.screens.one_app import session_app
from tests.screens.thin import HELD_S, LONG_BACK, settled, shown

S = 10**9


class OneKey:
    """An owner with one key, and patience."""

    def __init__(self, app: EveningApp[Phase], pilot: Pilot[Phase], time: FakeTime) -> None:
        self.app, self.pilot, self.time = app, pilot, time

    async def press(self, *, after_s: float = 2.0) -> str:
        self.time.now_ns += round(after_s * S)
        await self.pilot.press("space")
        if after_s * S < FIRST_REPEAT_NS:
            # The key is not held down: no repeat comes.
            self.time.now_ns += REPEAT_NS
            self.app.beat()
        await settled(self.pilot)
        return shown(self.app)

    async def choose(self, words: str) -> str:
        """Two presses in a row, step to ``words``, and wait."""
        text = await self.press()
        text = await self.press(after_s=0.5)
        assert "LEAVE AS IT IS? Wait 3 s to choose it." in text
        return await self.step_to(words)

    async def step_to(self, words: str) -> str:
        text = ""
        for _ in range(30):
            text = await self.press(after_s=1)
            if f"{words.upper()}? Wait" in text:
                break
        assert f"{words.upper()}? Wait" in text
        return await self.wait()

    async def wait(self, seconds: float = 4) -> str:
        self.time.now_ns += round(seconds * S)
        self.app.beat()
        await settled(self.pilot)
        return shown(self.app)


def runner_and_time(home: Path) -> tuple[Runner, FakeTime]:
    time = FakeTime()
    return runner_for(LONG_BACK, home, time), time


async def test_skip_again_stop_and_close_by_one_key_alone(tmp_path: Path) -> None:
    runner, time = runner_and_time(tmp_path)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        owner = OneKey(app, pilot, time)
        await settled(pilot)
        await owner.press()
        assert runner.view().phase is Phase.MOVING
        await owner.choose("skip")
        assert isinstance(app.screen, SkipScreen)
        await owner.step_to("I cannot reach it")
        assert runner.machine.sitting.skipped == {0}
        # Pressed twice by mistake: it stays paused, and one press carries on.
        await owner.press()
        await owner.press(after_s=0.5)
        await owner.wait()
        assert runner.view().phase is Phase.PAUSED
        await owner.press()
        await owner.wait(0.7)
        assert runner.view().phase is Phase.MOVING
        await owner.choose("stop")
        assert runner.view().phase is Phase.STOPPED
        await owner.choose("close")
    assert app.return_value is Phase.STOPPED
    runner.close()
    kinds = [line["kind"] for line in read_journal(runner.path).lines]
    assert kinds[-2:] == ["session_stopped", "session_closed"]


async def test_not_yet_and_yes_by_one_key_alone_in_the_readiness_round(tmp_path: Path) -> None:
    runner, time = runner_and_time(tmp_path)
    plan = runner.plan_file.plan
    runner.preparing = Preparing(round_for(plan, first=False))
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        owner = OneKey(app, pilot, time)
        await settled(pilot)
        await owner.press(after_s=3)
        # Nothing is preset: the first press shows an answer, and only waiting takes it.
        assert "NO? Wait 3 s to choose it." in await owner.press(after_s=3)
        await owner.step_to("yes")
        assert runner.preparing.round.point.id == "worse"
        await owner.press(after_s=3)
        await owner.step_to("back")
        assert runner.preparing.round.point.id == "anything_new"
        assert runner.view().phase is Phase.READY
    runner.close()


async def paused_after_a_second(owner: OneKey, runner: Runner) -> int:
    """A hold of one second, paused; what it gave."""
    await settled(owner.pilot)
    await owner.press()
    await owner.pilot.press("g")
    await settled(owner.pilot)
    await owner.press(after_s=1)
    assert runner.view().phase is Phase.PAUSED
    await owner.wait(10)
    return runner.machine.given_ns(0, owner.time())


@pytest.mark.parametrize("apart_s", [0.1, 0.2, 0.3, 0.5, 0.6, 0.69])
async def test_two_presses_in_a_pause_give_nothing_and_offer_everything(
    apart_s: float, tmp_path: Path
) -> None:
    """They started the count and paused again, 0.5 to 0.9 s apart; a quick pair carried on."""
    runner, time = runner_and_time(tmp_path)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        owner = OneKey(app, pilot, time)
        given_ns = await paused_after_a_second(owner, runner)
        assert "SPACE twice: all choices" in shown(app)
        assert "Press again now for all choices." in await owner.press()
        text = await owner.press(after_s=apart_s)
        assert "LEAVE AS IT IS? Wait 3 s to choose it." in text
        # The third press is the next choice, and waiting takes it: stop, without a second counted.
        await owner.step_to("stop")
        assert runner.view().phase is Phase.STOPPED
        assert runner.machine.given_ns(0, time()) == given_ns
    runner.close()
    kinds = [line["kind"] for line in read_journal(runner.path).lines]
    assert "carried_on" not in kinds


@pytest.mark.parametrize("apart_s", [0.75, 0.9, 1.1])
async def test_a_slow_pair_in_a_pause_pauses_again_and_offers_everything(
    apart_s: float, tmp_path: Path
) -> None:
    runner, time = runner_and_time(tmp_path)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        owner = OneKey(app, pilot, time)
        await paused_after_a_second(owner, runner)
        await owner.press()
        await owner.wait(PAIR_NS / S)
        assert runner.view().phase is Phase.HOLDING
        text = await owner.press(after_s=apart_s - PAIR_NS / S)
        assert runner.view().phase is Phase.PAUSED
        assert "LEAVE AS IT IS? Wait 3 s to choose it." in text
        assert runner.machine.given_ns(0, time()) <= S + TWICE_NS - PAIR_NS
    runner.close()


async def test_one_press_in_a_pause_carries_on_after_its_wait_and_not_before(
    tmp_path: Path,
) -> None:
    runner, time = runner_and_time(tmp_path)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        owner = OneKey(app, pilot, time)
        given_ns = await paused_after_a_second(owner, runner)
        await owner.press()
        await owner.wait((PAIR_NS - 1) / S)
        assert runner.view().phase is Phase.PAUSED
        await owner.wait(1 / S)
        assert runner.view().phase is Phase.HOLDING
        assert runner.machine.given_ns(0, time()) == given_ns
        # A contact that bounces is one press.
        await owner.press()
        await owner.wait(5)
        await owner.press()
        time.now_ns += BOUNCE_NS // 2
        await pilot.press("space")
        await owner.wait(PAIR_NS / S)
        assert runner.view().phase is Phase.HOLDING
    runner.close()


@pytest.mark.parametrize("repeats_s", [HELD_S, (0.0, 0.25, *[0.092] * 30)], ids=["X", "console"])
async def test_a_key_held_down_in_a_pause_is_one_press(
    repeats_s: tuple[float, ...], tmp_path: Path
) -> None:
    runner, time = runner_and_time(tmp_path)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        owner = OneKey(app, pilot, time)
        await paused_after_a_second(owner, runner)
        time.now_ns += 2 * S
        for gap_s in repeats_s:
            await owner.wait(gap_s)
            await pilot.press("space")
        text = await owner.wait(1)
        assert "LEAVE AS IT IS?" not in text
        assert runner.view().phase is Phase.HOLDING
    runner.close()
    kinds = [line["kind"] for line in read_journal(runner.path).lines]
    assert kinds.count("carried_on") == 1


async def test_stop_never_waits_and_nothing_comes_after_it(tmp_path: Path) -> None:
    runner, time = runner_and_time(tmp_path)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        owner = OneKey(app, pilot, time)
        given_ns = await paused_after_a_second(owner, runner)
        await owner.press()
        time.now_ns += S // 10
        await pilot.press("x")
        assert runner.view().phase is Phase.STOPPED
        await owner.wait(2)
        assert runner.machine.given_ns(0, time()) == given_ns
    runner.close()


KEYS = [*"abcdfghijklmnopqrstuvwyz0123456789", "space", "enter", "escape", "tab", "up", "down"]


async def test_a_cat_on_the_keyboard_counts_nothing_that_was_not_held(tmp_path: Path) -> None:
    """Some 600 keys, several at once as paws do it. X and E only end it: X comes last."""
    dice = random.Random(17)
    runner, time = runner_and_time(tmp_path)
    runner.preparing = Preparing(eyes_only(runner.plan_file.plan))
    app = session_app(runner, mono_ns=time)
    held_ns = 0
    seen = set()
    async with app.run_test(size=(60, 20)) as pilot:
        await settled(pilot)
        for _ in range(140):
            passed_ns = dice.choice([0, S // 30, S, 3 * S])
            before = runner.machine.phase
            time.now_ns += passed_ns
            app.beat()
            if Phase.HOLDING in (before, runner.machine.phase):
                held_ns += passed_ns
            for _ in range(dice.randint(1, 8)):
                # It lies on the space bar by preference.
                app.simulate_key(dice.choice([*KEYS, *["space", "g"] * 8]))
            await settled(pilot)
            seen.add(runner.machine.phase)
        if runner.machine.phase not in OVER:
            await pilot.press("x")
    runner.close()
    tally = tally_of(read_journal(runner.path).lines)
    assert tally.problems == ()
    assert {Phase.READY, Phase.MOVING, Phase.HOLDING, Phase.PAUSED} <= seen
    assert 0 < tally.total().given_ns <= held_ns
