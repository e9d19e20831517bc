"""The picture of the dog in the session: where it is shown, what it tells, when it is drawn."""

import dataclasses
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.body.drawing import Drawing as DogDrawing
from coach.screens import block_letters, spots_picture
from coach.screens import session as session_screen
from coach.screens.dog_picture import Dog
from coach.screens.layout_rows import STACKED_CELLS
from coach.screens.session_layout import Moment, draw
from coach.session import commands as cmd
from coach.session.machine import Phase
from coach.session.view import View
from coach.units import ceil_s, clock_text
from tests.screens.test_drawing import height_of, in_phase
from tests.screens.thin import BIG_HIPS, LONG_BACK, app_for, bring_to, settled, shown, thin_session

RUNNING = st.sampled_from([Phase.MOVING, Phase.HOLDING, Phase.PAUSED])
PLANS = st.sampled_from([LONG_BACK, BIG_HIPS])


def roles(drawing: DogDrawing) -> dict[str, str]:
    found: dict[str, str] = {}
    for row in drawing.rows:
        for run in row:
            found[run.role] = found.get(run.role, "") + run.text
    return found


@settings(max_examples=60, deadline=None)
@given(
    width=st.integers(20, 240),
    height=st.integers(6, 70),
    phase=RUNNING,
    plan=PLANS,
    spot=st.integers(0, 11),
    told=st.lists(st.just("The sound device is gone; go on by eye."), max_size=3),
)
def test_the_picture_never_hides_side_or_countdown(
    width: int, height: int, phase: Phase, plan: Path, spot: int, told: list[str]
) -> None:
    moment = in_phase(phase, thin_session(plan), spot=spot)
    moment = Moment(view=moment.view, opening=moment.opening, ends=moment.ends, told=tuple(told))
    drawing = draw(moment, width=width, height=height, picture=True)
    middle = height_of(drawing) - len(drawing.main) + len(drawing.panel) + len(drawing.headline)
    assert middle == height
    side = moment.view.spot.side
    if drawing.side:
        columns = len(drawing.side[0])
        # The letters may be smaller than their place: some size must be there, whole.
        shown = [row.strip() for row in drawing.side if block_letters.FULL in row]
        sizes = [block_letters.letters(side, width=columns, height=h) for h in range(5, height + 1)]
        assert any(
            shown == [row.strip() for row in size if block_letters.FULL in row]
            for size in sizes
            if size
        )
    else:
        assert side.upper() in drawing.bar[0]
    if width >= STACKED_CELLS[0] and height >= STACKED_CELLS[1]:
        assert len(drawing.main) >= math.ceil(height / 3)
    if phase is Phase.HOLDING and drawing.picture is not None:
        seconds = clock_text(ceil_s(moment.view.left_ns))
        large = block_letters.digits(seconds, width=drawing.columns.text, height=len(drawing.main))
        assert large is not None
        assert any(block_letters.FULL in row for row in drawing.main)
        assert clock_text(ceil_s(moment.view.left_ns)) not in drawing.bar[0]
    if drawing.picture is not None:
        assert drawing.columns.text + drawing.picture[0] < width


@pytest.mark.parametrize(
    ("size", "wanted", "pictured", "letters"),
    [
        ((40, 12), True, False, True),
        ((60, 20), True, True, False),
        ((60, 20), False, False, True),
        ((80, 24), True, True, False),
        ((80, 24), False, False, True),
        # Room for both, whatever is wanted.
        ((120, 40), True, True, True),
        ((120, 40), False, True, True),
        ((240, 70), True, True, True),
    ],
)
def test_picture_and_letters_by_size(
    size: tuple[int, int], wanted: bool, pictured: bool, letters: bool
) -> None:
    moment = in_phase(Phase.HOLDING, thin_session(), spot=9)
    drawing = draw(moment, width=size[0], height=size[1], picture=wanted)
    assert (drawing.picture is not None) == pictured
    assert any(block_letters.FULL in row for row in drawing.region) == letters


def test_beside_the_picture_the_place_is_named_in_both_languages_with_the_dose() -> None:
    moment = in_phase(Phase.HOLDING, thin_session(), spot=9)
    drawing = draw(moment, width=60, height=20, picture=True)
    assert "".join(drawing.headline).strip() == "lower back · lumbar spine, L1-L7"
    assert "coached" in drawing.dose[0]
    assert drawing.next_up[0].strip().startswith("Next: lower back, left, spot 2 of 4")


def session_view(done: int) -> View:
    session = thin_session()
    session.do(cmd.Start())
    for _ in range(done):
        session.do(cmd.Go())
        session.time.now_ns += session.view().left_ns
        session.tick()
    return session.view()


@pytest.mark.parametrize("look", ["colour", "console"])
def test_every_state_has_its_own_sign(look: str) -> None:
    view = session_view(10)
    states = [state for _, state in view.states]
    assert states == ["done"] * 10 + ["current"] + ["coming"] * 10
    drawn = roles(spots_picture.sketch(view, width=80, height=24, look=look))  # type: ignore[arg-type]
    done, coming = {"colour": ("✓", "○"), "console": ("*", "o")}[look]
    assert set(drawn["done"]) == {done}
    assert set(drawn["coming"]) == {coming}
    assert drawn["number"] == str(view.spot.number)
    # A block of five columns and three rows, the number in its middle.
    assert len(drawn["current"].replace(" ", "")) + 1 >= 11


def test_a_spot_left_out_is_neither_done_nor_coming() -> None:
    session = thin_session()
    session.do(cmd.Start())
    session.do(cmd.Skip("sore"))
    assert [state for _, state in session.view().states[:3]] == ["left out", "current", "coming"]


def test_left_and_right_are_mirrored() -> None:
    """On the dog's left its head is left of you, on its right it is right of you."""
    session = thin_session(BIG_HIPS)
    session.do(cmd.Start())
    seen = {}
    for _ in session.spots:
        view = session.view()
        if view.phase in (Phase.FINISHED, Phase.STOPPED):
            break
        if view.place.kind == "limb" and view.spot.aspect != "medial":
            drawn = spots_picture.sketch(view, width=60, height=20, look="console").text()
            last = drawn.splitlines()[-1].split()
            seen[view.spot.side] = (last[:2], last[-2:])
        session.do(cmd.Skip("asked"))
    assert seen == {
        "left": (["<", "head"], ["tail", ">"]),
        "right": (["<", "tail"], ["head", ">"]),
    }


async def test_a_key_changes_between_picture_and_letters() -> None:
    session = thin_session()
    app = app_for(session)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        first = shown(app)
        assert "tail ▶" in first
        session.time.pass_s(1)
        await pilot.press("p")
        await settled(pilot)
        assert "tail ▶" not in shown(app)
        assert "█" in shown(app).splitlines()[2]
        session.time.pass_s(1)
        await pilot.press("p")
        await settled(pilot)
        assert "tail ▶" in shown(app)


async def test_a_small_screen_leaves_the_picture_out_and_a_large_one_brings_it_back() -> None:
    session = thin_session()
    app = app_for(session)
    async with app.run_test(size=(120, 40)) as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        for size, there in (((40, 12), False), ((60, 20), True), ((120, 40), True)):
            await pilot.resize_terminal(*size)
            await settled(pilot)
            assert ("tail ▶" in shown(app)) == there
            assert app.screen.query_one(Dog).display == there


async def test_it_is_drawn_when_a_spot_changes_and_not_by_the_second(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    drawn: list[View] = []

    def counted(view: View, *, width: int, height: int, look: str) -> DogDrawing:
        drawn.append(view)
        return spots_picture.sketch(view, width=width, height=height, look=look)  # type: ignore[arg-type]

    monkeypatch.setattr(session_screen, "sketch", counted)
    session = thin_session()
    app = app_for(session)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        before = len(drawn)
        for _ in range(20):
            session.time.pass_s(1)
            app.beat()
            await settled(pilot)
        assert session.view().phase is Phase.HOLDING
        assert len(drawn) == before
        session.time.now_ns += session.view().left_ns
        app.beat()
        await settled(pilot)
        assert len(drawn) == before + 1


async def test_a_tap_on_the_dog_is_the_one_key() -> None:
    session = thin_session()
    app = app_for(session)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.click(Dog, offset=(5, 5))
        await settled(pilot)
        assert session.view().phase is Phase.PAUSED


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40), (240, 70)])
@pytest.mark.parametrize("waits", [False, True])
def test_a_turn_of_the_dog_and_its_near_side_are_told(size: tuple[int, int], waits: bool) -> None:
    moment = in_phase(Phase.MOVING, thin_session())
    view = dataclasses.replace(
        moment.view, turn="Turn the dog: left side up.", near_side="The far side.", waits=waits
    )
    drawing = draw(
        dataclasses.replace(moment, view=view), width=size[0], height=size[1], picture=True
    )
    assert any("Turn the dog: left side up." in row for row in drawing.main)
    assert "THE FAR SIDE" in drawing.bar[0]
