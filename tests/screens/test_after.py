"""The questions after a session, by keys and taps, by the one big key alone, and in odd hands."""

import random
from pathlib import Path

import pytest
from textual.pilot import Pilot

from coach.bedside.after_session import SessionAfter
from coach.journal.diary_entries import AfterSession
from coach.journal.journal import read_journal
from coach.paths import journal_folder
from coach.record.after_questions import after_questions
from coach.screens.ask import DWELL_NS, AskScreen
from coach.screens.driver import EveningApp
from coach.screens.end import EndScreen
from coach.session.machine import Phase
from coach.session.questions import Answer, Asking
from coach.units import NS_PER_S
from tests.e2e.virtual import FakeTime as VirtualTime
from tests.e2e.virtual import runner_for
from tests.expected_texts import compare
from tests.screens.one_app import session_app
from tests.screens.thin import (
    HELD_S,
    LONG_BACK,
    ThinSession,
    bring_to,
    settled,
    shown,
    thin_session,
)
from tests.worlds import Clock

EXPECTED = Path(__file__).parent / "expected"
SIZES = [(60, 20), (120, 40)]


class Kept:
    """Keeps the answers in memory; refuses while ``full``."""

    def __init__(self, *, stopped: bool) -> None:
        self.stopped = stopped
        self.answers: list[tuple[str, Answer]] = []
        self.full = False

    def asking(self) -> Asking:
        said = AfterSession.model_validate({"session": "s", **dict(self.answers)})
        return after_questions("Juniper", stopped=self.stopped, answered=said)

    def keep(self, question: str, answer: Answer) -> str:
        if self.full:
            return "This could not be written down: the disk is full"
        self.answers.append((question, answer))
        return ""

    def closing(self) -> tuple[str, ...]:
        return ("Next session: tomorrow from 18:30 on.",)


def app_after(session: ThinSession, kept: Kept) -> EveningApp[Phase]:
    return session_app(session, wall=session.time.wall, mono_ns=session.time, afterwards=kept)


async def press(pilot: Pilot[Phase], session: ThinSession, *keys: str) -> None:
    """Keys as an unhurried owner presses them."""
    for key in keys:
        session.time.pass_s(1)
        await pilot.press(key)
        await settled(pilot)


async def wait_s(pilot: Pilot[Phase], session: ThinSession, seconds: float) -> None:
    session.time.pass_s(seconds)
    screen = pilot.app.screen
    if isinstance(screen, AskScreen):
        # The timer's own beat may come right after it.
        screen.beat()
        screen.beat()
    await settled(pilot)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_the_questions_after_a_stop_look_as_expected(size: tuple[int, int]) -> None:
    session, kept = thin_session(), Kept(stopped=True)
    app = app_after(session, kept)
    screens: list[str] = []
    async with app.run_test(size=size) as pilot:
        await bring_to(pilot, session, Phase.STOPPED)

        async def see(what: str, *keys: str) -> None:
            await press(pilot, session, *keys)
            screens.append(f"=== {what}\n{shown(app)}\n")

        await see("stopped")
        await see("why", "space")
        await see("the dog was not happy", "1")
        await see("the skin", "space")
        await see("stepping on red", "space", "space", "space")
        await wait_s(pilot, session, 3)
        await see("taken: red")
        await see("how well", "space")
        await see("words", "7")
        await see("typing", "1", *"slept well")
        await see("the end", "enter")
    seen = "\n".join(screens)
    path = EXPECTED / f"after-{size[0]}x{size[1]}.txt"
    compare(path, seen)
    assert kept.answers == [
        ("stop_reason", "dog_unhappy"),
        ("skin", "red"),
        ("tolerance_0_10", 7),
        ("words", "slept well"),
    ]


async def test_the_one_big_key_alone_answers_everything_it_can_and_comes_to_the_end() -> None:
    session, kept = thin_session(), Kept(stopped=True)
    app = app_after(session, kept)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.STOPPED)
        await press(pilot, session, "space")
        for steps in (3, 2, 11):
            await press(pilot, session, *["space"] * steps)
            await wait_s(pilot, session, 3)
        await press(pilot, session, "space")
        assert isinstance(app.screen, EndScreen)
        assert "tomorrow from 18:30" in shown(app)
    assert kept.answers == [("stop_reason", "no_time"), ("skin", "warm"), ("tolerance_0_10", 10)]


async def test_who_presses_nothing_is_waited_for_and_one_step_beyond_the_choices_goes_on() -> None:
    session, kept = thin_session(), Kept(stopped=False)
    app = app_after(session, kept)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.FINISHED)
        await press(pilot, session, "space")
        await wait_s(pilot, session, 36_000)
        assert "How is the skin" in shown(app)
        await press(pilot, session, *["space"] * 4)
        assert "No answer for now" in shown(app)
        await wait_s(pilot, session, 3)
        assert "put up with it" in shown(app)
    assert kept.answers == []


async def test_a_double_press_and_a_key_held_down_answer_one_question() -> None:
    session, kept = thin_session(), Kept(stopped=True)
    app = app_after(session, kept)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.STOPPED)
        await press(pilot, session, "space", "3")
        await pilot.press("3")
        session.time.pass_s(0.2)
        await pilot.press("2")
        # The answer to the question before, held down.
        for gap_s in (HELD_S[1] - 0.2, *HELD_S[2:]):
            session.time.pass_s(gap_s)
            await pilot.press("3")
        await settled(pilot)
        assert "How is the skin" in shown(app)
        assert kept.answers == [("stop_reason", "no_time")]
        # A one key that is stuck steps once and never dwells.
        session.time.pass_s(1)
        for gap_s in HELD_S + HELD_S[2:]:
            session.time.pass_s(gap_s)
            await pilot.press("space")
            app.screen.beat()  # type: ignore[attr-defined]
        assert sum(HELD_S + HELD_S[2:]) > DWELL_NS / NS_PER_S
        await settled(pilot)
        assert "Your answer: fine" in shown(app)
    assert kept.answers == [("stop_reason", "no_time")]


async def test_back_answers_anew_and_close_keeps_what_was_said() -> None:
    session, kept = thin_session(), Kept(stopped=True)
    app = app_after(session, kept)
    async with app.run_test(size=(80, 24)) as pilot:
        await bring_to(pilot, session, Phase.STOPPED)
        await press(pilot, session, "space", "3", "1", "b", "2", "q")
        assert isinstance(app.screen, EndScreen)
        assert "To answer the rest later: coach after" in shown(app)
        assert app.return_value is None
        await press(pilot, session, "q")
    assert kept.answers == [("stop_reason", "no_time"), ("skin", "fine"), ("skin", "warm")]
    assert app.return_value is Phase.STOPPED


async def test_with_the_screen_off_every_question_is_said_with_its_keys() -> None:
    session, kept = thin_session(), Kept(stopped=True)
    said: list[str] = []
    app = session_app(
        session, wall=session.time.wall, mono_ns=session.time, afterwards=kept, say=said.append
    )
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.STOPPED)
        for key, words in (
            ("space", ("Why", "1: ", "2: ", "3: ")),
            ("3", ("How is the skin", "1: fine", "3: ")),
            ("3", ("No more laser on that place today", "Press the big key to go on.")),
            ("space", ("How well", "Press a number from 0 to 10.", "T: 10.")),
            ("t", ("tell the vet", "Press 1 to type it, or the big key to go on.")),
        ):
            await press(pilot, session, key)
            assert all(part in said[-1] for part in words), said[-1]
    assert kept.answers == [("stop_reason", "no_time"), ("skin", "red"), ("tolerance_0_10", 10)]


async def test_what_cannot_be_kept_is_said_and_asked_again() -> None:
    session, kept = thin_session(), Kept(stopped=False)
    app = app_after(session, kept)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.FINISHED)
        kept.full = True
        await press(pilot, session, "space", "1")
        assert "the disk is full" in shown(app)
        assert "How is the skin" in shown(app)
        kept.full = False
        await press(pilot, session, "1")
        assert "put up with it" in shown(app)
    assert kept.answers == [("skin", "fine")]


async def test_every_answer_can_be_tapped() -> None:
    session, kept = thin_session(), Kept(stopped=False)
    app = app_after(session, kept)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.FINISHED)
        await press(pilot, session, "space")
        session.time.pass_s(1)
        await pilot.click("#choices", offset=(8, 2))
        session.time.pass_s(1)
        await settled(pilot)
        await pilot.click("#keys", offset=(2, 0))
        await settled(pilot)
        session.time.pass_s(1)
        row = next(line for line in shown(app).splitlines() if "10 (T)" in line)
        await pilot.click("#choices", offset=(row.index("10 (T)") + 1, 0))
        await settled(pilot)
        session.time.pass_s(1)
        assert "tell the vet" in shown(app)
        column = shown(app).splitlines()[-1].index("SPACE")
        await pilot.click("#keys", offset=(column, 0))
        await settled(pilot)
        assert isinstance(app.screen, EndScreen)
    assert kept.answers == [("skin", "red"), ("tolerance_0_10", 10)]


async def test_a_cat_on_the_keyboard_answers_nothing_out_of_range() -> None:
    session, kept = thin_session(), Kept(stopped=True)
    dice = random.Random(7)
    keys = [*"abcdefghijklmnoprstuvwxyz0123456789", "space", "backspace", "tab", "up", "f1"]
    app = app_after(session, kept)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.STOPPED)
        await press(pilot, session, "space")
        for _ in range(80):
            session.time.now_ns += dice.choice([1, 10, 50, 500, 3_000]) * NS_PER_S // 1000
            await pilot.press(dice.choice(keys))
            if isinstance(app.screen, AskScreen):
                app.screen.beat()
    # Whatever it asked of the session that was over: nothing came of it.
    assert session.kinds[-1] == "session_stopped"
    for question, answer in kept.answers:
        AfterSession.model_validate({"session": "s", question: answer})


async def test_a_real_session_and_its_answers_are_on_the_disk(
    own_world: Path, tmp_path: Path
) -> None:
    plan = tmp_path / "plan.toml"
    text = LONG_BACK.read_text("utf-8")
    plan.write_text(
        text.replace("[settle]", "[limits]\nleast_hours_between = 20\n[settle]"), "utf-8"
    )
    time = VirtualTime()
    folder = journal_folder("Juniper", rehearsal=False)
    runner = runner_for(plan, folder, time)
    clock = Clock(wall="2026-11-25T19:00:00.000+01:00")
    after = SessionAfter(
        folder=folder.parent,
        dog="Juniper",
        journal=runner.path,
        stamp=clock.stamp,
        plan=runner.plan_file.plan,
        by="Bo",
    )
    said: list[str] = []
    app = session_app(runner, mono_ns=time, afterwards=after, say=said.append)
    async with app.run_test(size=(60, 20)) as pilot:
        for keys, seconds in (("space", 20), ("x", 1), ("space", 1), ("2", 1), ("space", 1)):
            time.now_ns += seconds * NS_PER_S
            app.beat()
            await pilot.press(keys)
            await settled(pilot)
        # The log was closed with the session: a pulled plug would not make it look cut off.
        assert read_journal(runner.path).closed
        assert "How is the skin" in shown(app)
        assert after.answered() == AfterSession(
            session=after.session, stop_reason="hot_skin", by="Bo"
        )
        for keys in ("1", "n", "n"):
            time.now_ns += NS_PER_S
            await pilot.press(keys)
            await settled(pilot)
        text = " ".join(shown(app).split())
        assert "Next session: " in text
        assert "Phone the vet at once for: a blister, a collapse, a fit." in text
    runner.close()
    assert after.answered().skin == "fine"
    assert [q.id for q in after.asking().questions] == ["tolerance_0_10", "words"]
    assert any("2: the skin was hot or red." in words for words in said)
