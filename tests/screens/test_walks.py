"""Whole evenings from the first question to the last, each in the way of another owner.

All of them on one tiny plan, at 60x20. Where a text is expected, it is the owner's: what a first
session must say and what a practised owner needs no more is common practice, no source.
"""

from pathlib import Path

import pytest

from coach.plan.files import PlanFile
from coach.screens.end import EndScreen
from coach.screens.session import SessionScreen
from coach.session.machine import Phase
from coach.units import NS_PER_S
from tests.screens.evening import (
    SMALL,
    Evening,
    HeardVoice,
    Owner,
    flat,
    give_before,
    tiny_plan,
    tonight,
)

# Two spots at the lower back and one at the root of the tail, 10 s each.
PLANNED_NS = 30 * NS_PER_S
TECHNIQUE = (
    "Part the hair. Head flat on the skin.",
    "At a right angle, with light pressure.",
    "Part the hair. Head flat on the skin.",
)


def practised(folder: Path) -> PlanFile:
    """The tiny plan, and one session given: the round is short from now on."""
    plan_file = tiny_plan(folder)
    give_before(plan_file, sessions=1)
    return plan_file


async def through_the_round(owner: Owner) -> list[str]:
    """Every point of the readiness round, all of it read, each answered by the one big key."""
    asked: list[str] = []
    while (round_ := owner.evening.runner.view().readiness) is not None and not round_.verdict:
        text = flat(await owner.see())
        if asked:
            assert round_.point.question in text
            assert all(line in text for line in round_.point.help)
        asked.append(round_.point.id)
        await owner.answer()
    return asked


async def test_a_first_timer_is_told_everything(tmp_path: Path) -> None:
    voice = HeardVoice()
    evening = tonight(tiny_plan(tmp_path), voice=voice)
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        asked = await through_the_round(owner)
        # Health first, the eyes last: nobody sits there with covered eyes for a dozen questions.
        assert (asked[0], asked[-2:]) == ("dog_and_plan", ["eyewear", "dog_eyes"])
        assert asked.index("wound") < asked.index("room") < asked.index("eyewear")
        assert len(asked) == len(set(asked)) >= 18
        assert "All is ready. Press SPACE to start." in await owner.see()
        await owner.press("space")
        for tip in TECHNIQUE:
            assert tip in await owner.until(Phase.MOVING)
            text = await owner.until(Phase.HOLDING)
            # Never in a hold: it says where to go next.
            assert tip not in text
            assert "Next: " in text
        assert "a few short questions" in await owner.until(Phase.FINISHED)
        assert "How is the skin where the laser was?" in await owner.press("space")
        assert "How well did Juniper put up with it?" in await owner.press("1")
        assert "Is there anything you want to tell the vet?" in await owner.press("8")
        await owner.press("1")
        for key in "slept":
            await owner.press(key, after_s=0.2)
        text = await owner.press("enter")
        # After the first session always.
        assert "Phone the vet at once for: a blister, a collapse, a fit." in text
        await owner.press("q")
    assert evening.app.return_value is Phase.FINISHED
    assert (evening.tally.state, evening.tally.total().given_ns) == ("finished", PLANNED_NS)
    told = [
        (text, at_ns)
        for text, at_ns in zip(voice.said, voice.at_ns, strict=True)
        if text in TECHNIQUE
    ]
    assert [text for text, _ in told] == [*TECHNIQUE]
    moves, holds = (evening.moments(kind) for kind in ("move_started", "hold_started"))
    for (_, at_ns), move_ns, hold_ns in zip(told, moves, holds, strict=True):
        assert move_ns <= at_ns < hold_ns
    said = evening.answered
    assert said is not None
    assert (said.skin, said.tolerance_0_10, said.words) == ("fine", 8, "slept")


async def test_an_expert_hears_region_side_and_number_alone(tmp_path: Path) -> None:
    plan_file = tiny_plan(tmp_path)
    give_before(plan_file, sessions=20)
    voice = HeardVoice()
    evening = tonight(plan_file, voice=voice)
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        asked = await through_the_round(owner)
        # Short, and the eyes on their own all the same.
        assert asked == [
            "dog_and_plan", "anything_new", "ready", "eyewear", "dog_eyes",
        ]  # fmt: skip
        voice.said.clear()
        await owner.press("space")
        # With large letters instead of the dog there would be room for the sentences.
        await owner.press("p")
        for _ in evening.session.spots:
            await owner.until(Phase.MOVING)
            await owner.until(Phase.HOLDING)
        await owner.until(Phase.FINISHED)
        session = "\n".join(owner.seen[len(asked) :])
        assert "spot 2 of 2" in session
        assert not any(tip in session for tip in TECHNIQUE)
        assert "Where: " not in session
        assert "How: " not in session
    hold = ["Hold.", "Three.", "Two.", "One.", ""]
    # One early sign is taught in each session, to experts as well. Signs: body.md, section 3.
    assert voice.said == [
        "Begin with the dog on its chest.",
        "Lower back, left, spot one.", "Panting though not hot: upset.", *hold,
        "Next, spot two.", *hold,
        "Root of the tail, middle.", *hold,
        "All done. Switch the laser off.",
        "Big key: a few short questions. Q: close.",
    ]  # fmt: skip


async def test_one_key_alone_from_the_first_question_to_the_end(tmp_path: Path) -> None:
    evening = tonight(practised(tmp_path))
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        await through_the_round(owner)
        await owner.press("space")
        await owner.until(Phase.HOLDING)
        await owner.press("space")
        assert evening.phase() is Phase.PAUSED
        await owner.press("space")
        assert evening.phase() is Phase.HOLDING
        await owner.choose("not happy")
        await owner.step_to("yawns")
        assert "Take a break. Let your dog rest." in await owner.step_to("ears back")
        await owner.step_to("done, stay paused")
        assert evening.phase() is Phase.PAUSED
        await owner.press("space")
        assert evening.phase() is Phase.HOLDING
        await owner.until(Phase.MOVING)
        await owner.choose("skip")
        await owner.step_to("I cannot reach it")
        await owner.until(Phase.HOLDING)
        await owner.until(Phase.FINISHED)
        await owner.press("space")
        await owner.step_to("fine, as before")
        await owner.step_to("9")
        assert "tell the vet" in await owner.see()
        # A line of words takes a keyboard: past it.
        await owner.press("space")
        assert isinstance(evening.app.screen, EndScreen)
        await owner.choose("close")
    assert evening.app.return_value is Phase.FINISHED
    assert set(owner.pressed) == {"space"}
    assert evening.outcomes == ["given", "skipped", "given"]
    said = evening.answered
    assert said is not None
    assert (said.skin, said.tolerance_0_10) == ("fine", 9)


async def test_by_touch_alone(tmp_path: Path) -> None:
    evening = tonight(practised(tmp_path))
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        await owner.see()
        await owner.tap("SPACE yes")
        while (round_ := evening.runner.view().readiness) is not None and not round_.verdict:
            assert round_.prompt is not None
            key = "SPACE" if round_.prompt.preset else "N"
            await owner.tap(f"{key} {round_.prompt.options[0].text}", after_s=3)
        await owner.tap("SPACE start")
        await owner.tap("G go now")
        assert evening.phase() is Phase.HOLDING
        # The large digits are the one big key.
        assert await pilot.click("#main")
        assert evening.phase() is Phase.PAUSED
        await owner.tap("SPACE carry on")
        assert evening.phase() is Phase.HOLDING
        await owner.tap("D dog moved")
        assert evening.phase() is Phase.PAUSED
        await owner.tap("U not happy")
        assert "You saw: yawns." in await owner.tap("yawns")
        assert "2 yawns *" in await owner.see()
        await owner.tap("done, stay paused")
        await owner.tap("SPACE carry on")
        await owner.until(Phase.MOVING)
        await owner.tap("S skip")
        await owner.tap("it is sore there")
        text = flat(await owner.tap("? help"))
        # Whole on the smallest screen: no key pages on while a session runs.
        assert "Press twice in a row: all choices, one by one." in text
        assert "Any key closes this help and does what it says." in text
        await owner.tap("? help")
        await owner.until(Phase.HOLDING)
        assert "Why did you stop?" in (await owner.tap("X STOP"), await owner.tap("questions"))[1]
        await owner.tap("no more time")
        await owner.tap("warm")
        await owner.tap(" 7 ")
        await owner.tap("not now")
        assert isinstance(evening.app.screen, EndScreen)
        await owner.tap("Q close")
    assert evening.app.return_value is Phase.STOPPED
    assert owner.pressed == []
    assert evening.outcomes == ["given", "skipped", "cut_short"]
    said = evening.answered
    assert said is not None
    assert (said.stop_reason, said.skin, said.tolerance_0_10) == ("no_time", "warm", 7)


async def silently(evening: Evening) -> list[str]:
    """A session by keyboard without a sound, with every state in it; each screen that was seen."""
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        await through_the_round(owner)
        await owner.press("space")

        async def see_the_flash(phase: Phase) -> str:
            """Wait for ``phase``: its first frame is reversed, and only that."""
            assert isinstance(evening.app.screen, SessionScreen)
            panel = evening.app.screen.query_one("#panel")
            panel.remove_class("-flash")
            while evening.phase() is not phase:
                assert not panel.has_class("-flash")
                evening.time.now_ns += NS_PER_S // 2
                evening.app.beat()
            assert panel.has_class("-flash")
            return await owner.see()

        on_the_way = await owner.see()
        holds = await see_the_flash(Phase.HOLDING)
        moves = await see_the_flash(Phase.MOVING)
        paused = await owner.press("d")
        # The word, its shape, and the middle of the screen differ: no sound, no colour needed.
        states = (on_the_way, "... MOVE"), (holds, "■■■ HOLD"), (moves, "... MOVE")
        for text, sign in (*states, (paused, "|| PAUSED")):
            assert text.startswith(sign)
        assert len({middle(text) for text in (on_the_way, holds, paused)}) == 3
        # The first spot has a tick now, the third is an empty ring as before.
        assert (holds.count("✓"), moves.count("✓")) == (0, 1)
        assert "What do you see?" in await owner.press("u")
        assert "1 turns away *" in await owner.press("1")
        await owner.press("space")
        assert "Why? Press one key:" in await owner.press("s")
        await owner.press("2")
        await see_the_flash(Phase.HOLDING)
        await owner.until(Phase.FINISHED)
        assert (await owner.see()).startswith("== ALL DONE")
        await owner.press("space")
        # The choice that is stepped on has a mark.
        assert ">  1  fine" in await owner.press("space")
        await owner.press("1")
        assert ">0<" in await owner.press("space")
        for key in ("5", "n", "q"):
            await owner.press(key)
    assert evening.app.return_value is Phase.FINISHED
    assert evening.outcomes == ["given", "skipped", "given"]
    return owner.seen


def middle(text: str) -> str:
    """The rows of the big word or the digits, left of the dog."""
    return "\n".join(row[:28] for row in text.splitlines()[8:15])


async def test_with_the_sound_off_every_look_tells_the_same_by_words_and_shapes(
    own_world: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = []
    for look, no_colour in (("dark", False), ("dark", True), ("daylight", False)):
        home = own_world / f"{look}-{no_colour}"
        monkeypatch.setenv("COACH_HOME", str(home))
        if no_colour:
            monkeypatch.setenv("NO_COLOR", "1")
        else:
            monkeypatch.delenv("NO_COLOR", raising=False)
        screens = await silently(tonight(practised(tmp_path), look=look))
        seen.append([text.replace(str(home), "HOME") for text in screens])
    assert seen[0] == seen[1] == seen[2]


@pytest.mark.parametrize("signs", [True, False], ids=["signs marked", "asked why"])
async def test_a_stop_for_the_dogs_sake_is_kept_and_the_spot_rests(
    signs: bool, tmp_path: Path
) -> None:
    plan_file = tiny_plan(tmp_path)
    evening = tonight(plan_file)
    evening.runner.preparing = None
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        await owner.press("space")
        await owner.until(Phase.HOLDING)
        await owner.until(Phase.MOVING)
        await owner.until(Phase.HOLDING)
        if signs:
            await owner.press("u")
            assert "It is best to stop now." in await owner.press("g")
        await owner.press("x")
        assert evening.phase() is Phase.STOPPED
        text = await owner.press("space")
        if not signs:
            assert "Why did you stop?" in text
            assert "Leave that place alone for today." in flat(await owner.press("1"))
            text = await owner.press("space")
        # Who marked the signs is not asked why.
        assert "How is the skin where the laser was?" in text
        for key in ("1", "4", "n"):
            text = await owner.press(key)
        assert "Phone the vet at once for: a blister, a collapse, a fit." in text
        await owner.press("q")
    said = evening.answered
    assert said is not None
    assert (said.stop_reason, said.skin) == (None if signs else "dog_unhappy", "fine")
    assert evening.tally.reason == ("dog_unhappy" if signs else "asked")
    assert [(s.region, s.number) for s in evening.session.spots] == [
        ("lumbar", 1), ("lumbar", 2), ("tail_base", 1),
    ]  # fmt: skip
    again = tonight(plan_file)
    async with again.app.run_test(size=SMALL) as pilot:
        assert "2 spots, about 1 minute" in await Owner(again, pilot).see()
    assert [(s.region, s.number) for s in again.session.spots] == [
        ("lumbar", 1), ("tail_base", 1),
    ]  # fmt: skip
