"""The readiness round on the screen and line by line, over the real runner and a real journal."""

import io
from pathlib import Path

import pytest
from textual.pilot import Pilot

from coach.bedside.runner import Runner
from coach.journal.journal import read_journal
from coach.lines.line_mode import PlainCoach
from coach.record.tally import tally_of
from coach.screens.driver import EveningApp
from coach.session import commands as cmd
from coach.session.machine import Phase
from coach.session.readiness import Round, eyes_only, round_for
from coach.session.readiness_timing import Preparing
from tests.e2e.virtual import FakeTime, Script, runner_for
from tests.screens.one_app import session_app
from tests.screens.thin import LONG_BACK, settled, shown

S = 10**9


def prepared(home: Path, *, first: bool) -> tuple[Runner, FakeTime]:
    time = FakeTime()
    runner = runner_for(LONG_BACK, home, time)
    plan = runner.plan_file.plan
    runner.preparing = Preparing(round_for(plan, first=first, position="sternal"))
    return runner, time


async def press(pilot: Pilot[Phase], time: FakeTime, *keys: str) -> None:
    """Each key after the question has been read."""
    for key in keys:
        time.now_ns += 3 * S
        await pilot.press(key)
        await settled(pilot)


async def big_key_alone(pilot: Pilot[Phase], time: FakeTime, runner: Runner) -> None:
    """What is asked now, by the one key: done, or the first answer on which it stays."""
    asked = runner.view().readiness
    prompt = None if asked is None else asked.prompt
    await press(pilot, time, "space")
    if prompt is not None and not prompt.preset:
        time.now_ns += 3 * S
        assert isinstance(pilot.app, EveningApp)
        pilot.app.beat()
        await settled(pilot)


def rows(runner: Runner) -> list[tuple[str, ...]]:
    return [
        (line["kind"], *(str(v) for k, v in line["data"].items() if k != "at_ns"))
        for line in read_journal(runner.path).lines
        if line["kind"] in ("readiness", "whats_new")
    ]


@pytest.mark.parametrize("first", [True, False], ids=["first", "later"])
@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)], ids=lambda s: f"{s[0]}x{s[1]}")
async def test_by_the_one_key_alone_each_point_is_shown_whole_and_logged(
    size: tuple[int, int], first: bool, tmp_path: Path
) -> None:
    runner, time = prepared(tmp_path, first=first)
    assert runner.preparing is not None
    points = runner.preparing.round.points
    app = session_app(runner, mono_ns=time)
    async with app.run_test(size=size) as pilot:
        for number, point in enumerate(points):
            await settled(pilot)
            text = " ".join(shown(app).split())
            if number:
                assert point.question in text
                assert all(" ".join(line.split()) in text for line in point.help)
            assert runner.view().phase is Phase.READY
            assert len(rows(runner)) == number
            await big_key_alone(pilot, time, runner)
        assert "All is ready. Press SPACE to start." in shown(app)
        await press(pilot, time, "space")
        assert runner.view().phase is Phase.MOVING
    runner.close()
    assert [row[1] for row in rows(runner)] == [point.id for point in points]
    assert tally_of(read_journal(runner.path).lines).problems == ()


@pytest.mark.parametrize("key", ["space", "enter", "n", "y"])
@pytest.mark.parametrize("first", [True, False], ids=["first", "later"])
async def test_a_row_of_presses_a_second_apart_answers_nothing(
    key: str, first: bool, tmp_path: Path
) -> None:
    """22 presses in 22 s went through all of it, the eyes included."""
    runner, time = prepared(tmp_path, first=first)
    app = session_app(runner, mono_ns=time)
    async with app.run_test(size=(60, 20)) as pilot:
        await settled(pilot)
        for _ in range(30):
            time.now_ns += S
            await pilot.press(key)
            await settled(pilot)
        assert rows(runner) == []
        assert runner.view().phase is Phase.READY
        # Nor does the last of them, however long nobody presses any more.
        time.now_ns += 20 * S
        app.beat()
        await settled(pilot)
        assert rows(runner) == []
    runner.close()


async def test_nothing_else_starts_a_session_before_the_round_is_through(tmp_path: Path) -> None:
    runner, time = prepared(tmp_path, first=False)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        await press(pilot, time, "space", "g", "s", "a", "n", "d", "enter", "n")
        assert runner.view().phase is Phase.READY
        assert runner.do(cmd.Start()) == "the questions come first"
        # "n" to what is new, Enter to the room, "n" to the eyewear: it waits there.
        assert rows(runner)[-1] == ("readiness", "eyewear", "not_yet")
        assert "Take your time. I wait." in shown(app)
        # A press that comes as fast as nobody reads answers nothing, and the wait begins anew.
        await press(pilot, time, "space")
        before = rows(runner)
        await pilot.press("y")
        assert rows(runner) == before
        time.now_ns += S
        await pilot.press("y")
        await settled(pilot)
        assert rows(runner) == before
        assert "Read it first, then press." in shown(app)
    runner.close()


async def test_on_a_page_each_line_has_a_yes_and_a_no_to_tap(tmp_path: Path) -> None:
    runner, time = prepared(tmp_path, first=True)
    app = session_app(runner, mono_ns=time)
    async with app.run_test(size=(60, 20)) as pilot:

        async def tap(label: str, word: str) -> str:
            time.now_ns += S
            text = shown(app).splitlines()
            (y,) = (n for n, row in enumerate(text) if label in row and "  yes" in row)
            assert await pilot.click(offset=(text[y].rindex(word) + 1, y))
            await settled(pilot)
            return shown(app)

        await press(pilot, time, "space")
        assert "About Juniper, once for this plan (2 of 8)" in shown(app)
        lines = runner.preparing.round.page if runner.preparing else ()
        assert len(lines) == 9
        for line in reversed(lines[1:]):
            text = await tap(line.label, "no")
            assert f"{line.label[:30]}" in text
            asked = runner.view().readiness
            assert asked is not None
            assert asked.point.id == lines[0].id
        # Answered otherwise, and followed at once; then the page is there again.
        assert "Did your vet say you may go on?" in await tap("thyroid problem", "yes")
        await press(pilot, time, "y")
        assert "[ yes ]" in shown(app)
        await tap(lines[0].label, "no")
        assert "How is Juniper today?" in shown(app)
    runner.close()
    assert ("whats_new", "thyroid", "yes", "vet_agreed") in rows(runner)


@pytest.mark.parametrize("size", [(40, 12), (60, 20)], ids=["40x12", "60x20"])
async def test_where_a_page_is_too_long_the_line_that_is_asked_is_in_sight(
    size: tuple[int, int], tmp_path: Path
) -> None:
    runner, time = prepared(tmp_path, first=True)
    app = session_app(runner, mono_ns=time)
    async with app.run_test(size=size) as pilot:
        await press(pilot, time, "space")
        while (asked := runner.view().readiness) is not None and asked.page:
            (row,) = (row for row in shown(app).splitlines() if row.startswith("> "))
            assert asked.point.label[:20] in row
            await press(pilot, time, "n")
    runner.close()


@pytest.mark.parametrize(
    ("keys", "row"),
    [
        (["y", "n", "y"], ("whats_new", "lump", "yes", "stop")),
        (["y", "n", "n", "y", "n"], ("whats_new", "wound", "yes", "vet_not_asked")),
    ],
    ids=["a hard stop", "the vet was not asked"],
)
async def test_a_stop_in_the_round_tells_why_and_gives_nothing(
    keys: list[str], row: tuple[str, ...], tmp_path: Path
) -> None:
    runner, time = prepared(tmp_path, first=False)
    app = session_app(runner, mono_ns=time)
    async with app.run_test(size=(60, 20)) as pilot:
        await press(pilot, time, "space")
        await press(pilot, time, *keys)
        assert runner.view().phase is Phase.STOPPED
        assert "No session today. Phone your vet." in shown(app)
    runner.close()
    assert rows(runner)[-1] == row
    tally = tally_of(read_journal(runner.path).lines)
    assert (tally.state, tally.total().given_ns) == ("not_begun", 0)


async def test_an_owner_who_walks_away_is_waited_for_on_a_dimmed_screen(tmp_path: Path) -> None:
    runner, time = prepared(tmp_path, first=False)
    app = session_app(runner, mono_ns=time)
    async with app.run_test() as pilot:
        await press(pilot, time, "space")
        before = rows(runner)
        time.now_ns += 3600 * S
        app.beat()
        await settled(pilot)
        assert "I am still here. Press to go on." in shown(app)
        assert app.screen.has_class("-away")
        await press(pilot, time, "space")
        assert rows(runner) == before
        assert not app.screen.has_class("-away")
        await press(pilot, time, "n")
        assert len(rows(runner)) == len(before) + 1
    runner.close()


def plainly(start: Round, home: Path, words: list[str]) -> tuple[str, Runner]:
    time = FakeTime()
    runner = runner_for(LONG_BACK, home, time)
    runner.preparing = Preparing(start)
    out = io.StringIO()
    PlainCoach(runner, Script(time, [(n, word) for n, word in enumerate(words, 1)]), out).run()
    runner.close()
    return out.getvalue(), runner


def test_line_by_line_with_words(tmp_path: Path) -> None:
    plan = prepared(tmp_path / "a", first=False)[0].plan_file.plan
    start = round_for(plan, first=False, position="sternal")
    words = ["yes", "", "no", "yes", "not yet", "yes", "back", "go"]
    words += ["back", "back", "yes", "no", "yes"]
    text, runner = plainly(start, tmp_path, words)
    assert "Question 4 of 5: Is eyewear on everyone in the room?" in text
    assert "Not now: this needs a yes or a no." in text
    assert "Not now: the questions come first." in text
    assert "No session today. Phone your vet." in text
    assert rows(runner)[-1] == ("whats_new", "lump", "yes", "stop")
    assert "MOVE" not in text


def test_line_by_line_the_eyes_alone_and_then_the_session(tmp_path: Path) -> None:
    plan = prepared(tmp_path / "a", first=False)[0].plan_file.plan
    text, runner = plainly(eyes_only(plan), tmp_path, ["", "yes", "", "stop"])
    assert text.index("All is ready. Press Enter to start.") < text.index("MOVE to spot 1")
    assert runner.machine.phase is Phase.STOPPED
