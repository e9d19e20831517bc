"""A dog that is not happy: paused at once, signs kept at once, advice told, the owner decides."""

import io
from pathlib import Path

import pytest

from coach.journal.journal import read_journal
from coach.lines.line_mode import PlainCoach
from coach.record.tally import tally_of
from coach.screens.step_scanning import PAIR_NS
from coach.session.machine import Phase
from tests.e2e.virtual import FakeTime, Script, coach_plainly, runner_for
from tests.screens.one_app import session_app
from tests.screens.thin import LONG_BACK, settled, shown

S = 10**9


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)], ids=lambda s: f"{s[0]}x{s[1]}")
async def test_a_session_that_is_stopped_for_signs(size: tuple[int, int], tmp_path: Path) -> None:
    time = FakeTime()
    runner = runner_for(LONG_BACK, tmp_path, time)
    app = session_app(runner, mono_ns=time)
    async with app.run_test(size=size) as pilot:

        async def press(key: str) -> str:
            time.now_ns += S
            await pilot.press(key)
            await settled(pilot)
            return shown(app)

        await press("space")
        await press("g")
        assert "What do you see?" in await press("u")
        assert runner.view().phase is Phase.PAUSED
        held_ns = runner.machine.given_ns(0, time())
        assert "H hot or red skin" in shown(app)
        assert "One more sign: take a break." in await press("2")
        assert "Take a break. Let your dog rest." in await press("3")
        assert "Take a break. Let your dog rest." not in await press("3")
        await press("space")
        assert runner.view().phase is Phase.PAUSED
        await press("space")
        time.now_ns += PAIR_NS
        app.beat()
        assert runner.view().phase is Phase.HOLDING
        await press("u")
        assert "It is best to stop now." in await press("y")
        await press("x")
        assert runner.view().phase is Phase.STOPPED
    runner.close()
    lines = read_journal(runner.path).lines
    seen = [line["data"] for line in lines if line["kind"] == "signals_seen"]
    assert [(data["spot"], data["signals"], data["outcome"]) for data in seen] == [
        (0, ["yawns"], "go_on"),
        (0, ["yawns", "licks_lips"], "pause"),
        (0, ["yawns"], "go_on"),
        (0, ["flinches"], "stop"),
    ]
    tally = tally_of(lines)
    assert (tally.state, tally.reason, tally.problems) == ("stopped", "dog_unhappy", ())
    # A second from the start of the hold to the pause, and another one after it.
    assert (held_ns, tally.total().given_ns) == (S, 2 * S)


def test_line_by_line(tmp_path: Path) -> None:
    words = [(0.0, ""), (2.0, "go"), (5.0, "unhappy"), (6.0, "2 h"), (7.0, "stop")]
    text, path = coach_plainly(LONG_BACK, tmp_path, words)
    assert "It is best to stop now." in text
    lines = read_journal(path).lines
    (seen,) = [line["data"] for line in lines if line["kind"] == "signals_seen"]
    assert seen["signals"] == ["yawns", "hot_skin"]
    assert tally_of(lines).reason == "hot_skin"


def test_without_the_list_open_a_key_of_it_is_no_sign(tmp_path: Path) -> None:
    time = FakeTime()
    runner = runner_for(LONG_BACK, tmp_path, time)
    out = io.StringIO()
    script = Script(time, [(0, ""), (2, "unhappy"), (3, ""), (4, "2"), (5, "stop")])
    PlainCoach(runner, script, out).run()
    runner.close()
    assert "signals_seen" not in [line["kind"] for line in read_journal(runner.path).lines]
