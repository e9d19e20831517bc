"""Something went wrong: one key from anywhere stops and silences; what to do is shown and said."""

from pathlib import Path

import pytest
from textual.pilot import Pilot

from coach.bedside.runner import WRONG_NS, Runner
from coach.handover.dog_case import read_case
from coach.journal.diary import read_diary
from coach.journal.diary_entries import answers_of
from coach.journal.journal import read_journal
from coach.paths import dog_folder
from coach.record.tally import tally_of
from coach.reports.session_text import report_lines
from coach.screens.driver import EveningApp
from coach.session.machine import Phase
from coach.session.went_wrong import MISHAPS
from tests.e2e.virtual import TODAY, FakeTime, coach_plainly, runner_for
from tests.screens.evening import SMALL, HeardVoice, Owner, flat, tiny_plan, tonight
from tests.screens.one_app import session_app
from tests.screens.thin import LONG_BACK, app_for, bring_to, settled, shown, thin_session

S = 10**9


def accidents(runner: Runner) -> list[tuple[int, str]]:
    lines = read_journal(runner.path).lines
    return [
        (line["data"]["spot"], line["data"]["what"])
        for line in lines
        if line["kind"] == "went_wrong"
    ]


async def held(app: EveningApp[Phase], pilot: Pilot[Phase], time: FakeTime) -> None:
    """In the second second of the first hold."""
    for key in ("space", "g"):
        time.now_ns += S
        await pilot.press(key)
        await settled(pilot)
    time.now_ns += S


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)], ids=lambda s: f"{s[0]}x{s[1]}")
@pytest.mark.parametrize("mishap", MISHAPS, ids=lambda mishap: mishap.id)
async def test_one_key_stops_at_once_and_says_in_large_words_what_to_do(
    size: tuple[int, int], mishap: object, tmp_path: Path
) -> None:
    key, what = mishap.key, mishap.id  # type: ignore[attr-defined]
    time = FakeTime()
    runner = runner_for(LONG_BACK, tmp_path, time)
    app = session_app(runner, mono_ns=time)
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        await held(app, pilot, time)
        assert "E emergency" in shown(app)
        await pilot.press("e")
        # Before anything is drawn: stopped, and a second was given.
        assert runner.machine.phase is Phase.STOPPED
        assert runner.machine.given_ns(0, time()) == S
        await settled(pilot)
        assert "What happened? Press one key:" in flat(shown(app))
        time.now_ns += S
        await pilot.press(key)
        await settled(pilot)
        text = flat(shown(app))
        assert "Phone your vet." in text
        assert all(step in text for step in mishap.steps)  # type: ignore[attr-defined]
        assert "███" in shown(app)
        time.now_ns += 2 * S
        await pilot.press("space")
        await settled(pilot)
        assert "WENT WRONG: " in shown(app)
    runner.close()
    assert accidents(runner) == [(0, ""), (0, what)]
    lines = read_journal(runner.path).lines
    assert lines[-1]["kind"] == "session_closed"
    tally = tally_of(lines)
    assert (tally.state, tally.reason, tally.problems) == ("stopped", "went_wrong", ())
    assert tally.went_wrong == (what,)
    # First in the report, before the dog and the plan.
    assert report_lines(tally)[0].startswith("WENT WRONG: ")


@pytest.mark.parametrize("phase", [Phase.READY, Phase.MOVING, Phase.HOLDING, Phase.PAUSED])
@pytest.mark.parametrize("before", [(), ("question_mark",), ("u",), ("s",)], ids=str)
async def test_from_anywhere(phase: Phase, before: tuple[str, ...]) -> None:
    session = thin_session()
    app = app_for(session)
    async with app.run_test(size=(80, 24)) as pilot:
        await bring_to(pilot, session, phase)
        await pilot.press(*before, "e")
        await settled(pilot)
        assert session.view().phase is Phase.STOPPED
        assert "What happened?" in shown(app)


async def test_what_was_being_said_is_silenced_and_the_first_aid_is_said(tmp_path: Path) -> None:
    voice = HeardVoice()
    evening = tonight(tiny_plan(tmp_path), voice=voice)
    evening.runner.preparing = None
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        await owner.see()
        await owner.press("space")
        await owner.until(Phase.HOLDING)
        voice.said.clear()
        await owner.press("e", after_s=1)
        assert "What happened?" in voice.said
        assert "2: a burn." in voice.said
        voice.said.clear()
        await owner.press("2")
        assert voice.said[:2] == [
            "Cool it with cool running water.",
            "For 20 minutes. No ice, no cream.",
        ]


async def test_by_one_key_alone_and_by_touch_alone(tmp_path: Path) -> None:
    evening = tonight(tiny_plan(tmp_path))
    evening.runner.preparing = None
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        await owner.see()
        await owner.press("space")
        await owner.until(Phase.HOLDING)
        await owner.press("space")
        await owner.choose("emergency")
        assert evening.phase() is Phase.STOPPED
        # Nothing is preset: the first press shows the first, only waiting takes one.
        assert "LIGHT IN AN EYE? Wait 3 s" in await owner.press("space")
        assert "Wash the bite" in flat(await owner.step_to("a bite"))
        await owner.press("space")
        assert "WENT WRONG: a bite" in await owner.see()
        # On the end screen it is there too; the log is closed by then.
        await owner.tap("E emergency")
        assert "Pull the plug" in flat(await owner.tap("5 the laser stays on"))
        await owner.tap("SPACE go on")
    assert [what for _, what in accidents(evening.runner)] == ["", "bite"]
    folder = dog_folder(evening.plan_file.plan.dog.name)
    said = answers_of(read_diary(folder).entries)[evening.after.session]
    assert said.went_wrong == "stays_on"
    # Both reach the vet, by their names.
    (session,) = read_case(folder, today=TODAY).sessions
    assert [(one.what, one.spot) for one in session.went_wrong] == [("bite", 0), ("stays_on", None)]


async def test_the_log_waits_two_minutes_to_be_told_and_then_closes(tmp_path: Path) -> None:
    time = FakeTime()
    runner = runner_for(LONG_BACK, tmp_path, time)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        await settled(pilot)
        await held(app, pilot, time)
        await pilot.press("e")
        time.now_ns += WRONG_NS - 1
        app.beat()
        assert not runner.log_ended
        time.now_ns += 1
        app.beat()
        assert runner.log_ended
    runner.close()
    assert tally_of(read_journal(runner.path).lines).went_wrong == ("not_said",)


@pytest.mark.parametrize(
    ("typed", "what"), [("2", "burn"), ("nonsense", "not_said"), ("", "not_said")]
)
def test_line_by_line(typed: str, what: str, tmp_path: Path) -> None:
    words = [(0.0, ""), (2.0, "go"), (5.0, "emergency"), (6.0, typed)]
    text, path = coach_plainly(LONG_BACK, tmp_path, words)
    lines = read_journal(path).lines
    assert tally_of(lines).went_wrong == (what,)
    assert lines[-1]["kind"] == "session_closed"
    assert ("Cool it with cool running water." in text) is (what == "burn")
