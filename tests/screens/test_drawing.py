"""The session screen as pure text, at any size, in any phase."""

import dataclasses
import datetime
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.body.regions import regions
from coach.plan.spots import Spot
from coach.screens import block_letters, session_text
from coach.screens.layout_rows import rows_for
from coach.screens.session_layout import Drawing, Moment, coarse, draw
from coach.session import commands as cmd
from coach.session.machine import Phase
from coach.units import NS_PER_S, ceil_s, clock_text
from tests.screens.thin import BIG_HIPS, LONG_BACK, ThinSession, thin_session

# The range that the screens promise (design of the app: 60x20 to 240x70, never worse than 20x6).
WIDTHS = st.integers(20, 240)
HEIGHTS = st.integers(6, 70)
SIZES = [(60, 20), (80, 24), (100, 30), (120, 40), (160, 50), (240, 70)]


def in_phase(phase: Phase, session: ThinSession, *, spot: int = 0) -> Moment:
    """A moment in ``phase`` on spot ``spot``."""
    if phase is not Phase.READY:
        session.do(cmd.Start())
        for _ in range(spot):
            session.do(cmd.Skip("asked"))
    if phase in (Phase.HOLDING, Phase.PAUSED):
        session.do(cmd.Go())
        session.time.pass_s(3)
        session.tick()
    if phase is Phase.PAUSED:
        session.do(cmd.Pause("dog_moved"))
    return Moment(view=session.view(), opening=session.opening(), ends=session.time.wall())


def at(moment: Moment, hold_s: int, spot: Spot) -> Moment:
    """The same with another spot and so much to give."""
    view = dataclasses.replace(
        moment.view,
        spot=spot,
        place=regions()[spot.region],
        hold_ns=hold_s * NS_PER_S,
        left_ns=hold_s * NS_PER_S,
        spot_left_ns=hold_s * NS_PER_S,
    )
    return dataclasses.replace(moment, view=view)


def height_of(drawing: Drawing) -> int:
    parts = (
        drawing.bar,
        drawing.message,
        drawing.region,
        drawing.place,
        drawing.guidance,
        drawing.main,
        drawing.next_up,
        drawing.progress,
        drawing.dose,
    )
    return sum(len(part) for part in parts) + drawing.key_rows + drawing.air


def all_text(drawing: Drawing) -> str:
    keys = " ".join(f"{place.tap.key} {place.tap.label}" for place in drawing.keys)
    parts = (drawing.bar, drawing.message, drawing.region, drawing.place, drawing.guidance)
    more = (drawing.main, drawing.side, drawing.next_up, drawing.progress, drawing.dose)
    return "\n".join(row for part in parts + more for row in part) + "\n" + keys


PLACES = st.sampled_from(
    [
        (key, side, aspect)
        for key, place in regions().items()
        for side in place.sides
        for aspect in (place.aspects or (None,))
    ]
)
RUNNING = st.sampled_from([Phase.MOVING, Phase.HOLDING, Phase.PAUSED])


@settings(deadline=None)
@given(
    width=WIDTHS,
    height=HEIGHTS,
    phase=RUNNING,
    place=PLACES,
    hold_s=st.integers(1, 1800),
    told=st.lists(st.text(alphabet="abc ", max_size=90), max_size=3),
)
def test_side_state_and_seconds_are_there_at_any_size(
    width: int,
    height: int,
    phase: Phase,
    place: tuple[str, str, str | None],
    hold_s: int,
    told: list[str],
) -> None:
    moment = in_phase(phase, thin_session())
    key, side, aspect = place
    spot = dataclasses.replace(
        moment.view.spot,
        region=key,
        side=side,  # type: ignore[arg-type]
        aspect=aspect,
    )
    moment = dataclasses.replace(at(moment, hold_s, spot), told=tuple(told))
    drawing = draw(moment, width=width, height=height)
    assert height_of(drawing) == height
    side_wide = len(drawing.side[0]) if drawing.side else 0
    assert {len(row) for row in drawing.main} == {drawing.columns.text - side_wide}
    for part in (drawing.bar, drawing.message, drawing.place, drawing.progress, drawing.dose):
        assert all(len(row) <= width for row in part)

    bar = drawing.bar[0]
    assert session_text.STATE[phase] in bar
    assert bar.startswith(session_text.SHAPE[phase]) or width < 40
    drawn_side = block_letters.letters(side, width=max(1, side_wide), height=len(drawing.main))
    assert side.upper() in bar or drawn_side is not None
    if phase is Phase.HOLDING:
        text = clock_text(hold_s)
        large = any(block_letters.FULL in row for row in drawing.main)
        assert large or text in "".join(drawing.main)
        if large:
            assert len(drawing.main) >= math.ceil(height / 3)
            filled = [row for row in drawing.main if block_letters.FULL in row]
            assert filled[0] is drawing.main[0]
            assert filled[-1] is drawing.main[-1]
    if phase is Phase.MOVING:
        assert f"MOVE {hold_s} s" in bar or moment.view.waits


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("hold_s", [9, 30, 75, 1800])
def test_the_countdown_takes_a_third_of_the_height(width: int, height: int, hold_s: int) -> None:
    moment = in_phase(Phase.HOLDING, thin_session())
    drawing = draw(at(moment, hold_s, moment.view.spot), width=width, height=height)
    inked = [number for number, row in enumerate(drawing.main) if block_letters.FULL in row]
    assert inked[-1] - inked[0] + 1 >= height / 3
    assert any(block_letters.FULL in row for row in drawing.side)
    assert any(block_letters.FULL in row for row in drawing.region)


# Legibility: a character of 22 minutes of arc at 2 m is 12.8 mm high (NUREG-0700: H = 6.283 x D x
# arcmin / 21600). A 7-inch screen with 20 rows is about 86 mm high (no source: common practice).
def test_block_letters_on_a_seven_inch_screen_are_readable_from_two_metres() -> None:
    row_mm = 86 / 20
    wanted_mm = 6.283 * 2000 * 22 / 21600
    drawing = draw(in_phase(Phase.HOLDING, thin_session()), width=60, height=20)
    for part in (drawing.region, drawing.main, drawing.side):
        inked = [number for number, row in enumerate(part) if block_letters.FULL in row]
        assert (inked[-1] - inked[0] + 1) * row_mm >= wanted_mm


@pytest.mark.parametrize("plan", [LONG_BACK, BIG_HIPS])
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_from_60x20_nothing_is_left_out(plan: object, width: int, height: int) -> None:
    session = thin_session(LONG_BACK if plan == LONG_BACK else BIG_HIPS)
    moment = in_phase(Phase.HOLDING, session, spot=4)
    view = moment.view
    text = all_text(draw(moment, width=width, height=height))
    assert view.place.owner_words in text
    assert view.place.term in text
    assert session_text.of_text(view.spot) in text
    assert session_text.next_text(view) in text
    assert "to go, ends" in text
    assert "coached, not measured" in text
    for key in ("SPACE pause", "X STOP", "D dog moved", "S skip", "A again", "B back", "? help"):
        assert key in text


@pytest.mark.parametrize("key", regions())
def test_every_place_fits_sixty_columns_uncut(key: str) -> None:
    place = regions()[key]
    moment = in_phase(Phase.HOLDING, thin_session())
    for side in place.sides:
        for aspect in place.aspects or (None,):
            spot = dataclasses.replace(moment.view.spot, region=key, side=side, aspect=aspect)
            drawing = draw(at(moment, 30, spot), width=60, height=20)
            text = " ".join(drawing.place)
            assert text == session_text.place_text(at(moment, 30, spot).view)
            assert ".." not in "".join(drawing.bar)


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("phase", [Phase.MOVING, Phase.PAUSED])
def test_large_digits_are_for_holds_only(phase: Phase, width: int, height: int) -> None:
    """The seconds of a move can never be taken for those of a hold: the word is drawn instead."""
    moment = in_phase(phase, thin_session())
    drawing = draw(moment, width=width, height=height)
    picture = [row for row in drawing.main if block_letters.FULL in row]
    factor = len(picture) // block_letters.LETTER_ROWS
    word = session_text.STATE[phase]
    drawn = [
        block_letters.scaled(block_letters.beside([font[letter] for letter in word], 1), factor)
        for font in (block_letters.WIDE, block_letters.NARROW)
    ]
    assert any(
        all(row.rstrip() in seen for seen, row in zip(picture, rows, strict=True)) for rows in drawn
    )
    again = at(moment, 7, moment.view.spot)
    other = draw(again, width=width, height=height)
    assert [row for row in other.main if block_letters.FULL in row] == picture


def test_what_the_one_key_does_is_said_in_every_phase() -> None:
    says = {
        Phase.READY: "SPACE start",
        Phase.MOVING: "SPACE pause",
        Phase.HOLDING: "SPACE pause",
        Phase.PAUSED: "SPACE carry on",
    }
    for phase, text in says.items():
        assert text in all_text(draw(in_phase(phase, thin_session()), width=60, height=20))
    waiting = draw(in_phase(Phase.MOVING, thin_session(BIG_HIPS)), width=60, height=20)
    assert "SPACE go" in all_text(waiting)
    assert "SPACE when the head is on it" in all_text(waiting)
    assert "then laser on, hold 30 s" in all_text(waiting)


def test_a_spot_that_was_left_half_done_says_how_much_is_left() -> None:
    session = thin_session(BIG_HIPS)
    in_phase(Phase.HOLDING, session, spot=2)  # 3 s of 40
    session.do(cmd.Skip("sore"))
    session.do(cmd.Back())
    moment = Moment(view=session.view(), opening=session.opening(), ends=session.time.wall())
    planned_s = ceil_s(moment.view.hold_ns)
    assert f"hold {planned_s - 3} s" in all_text(draw(moment, width=60, height=20))


def test_a_notice_is_told_even_on_a_tiny_screen() -> None:
    moment = in_phase(Phase.HOLDING, thin_session())
    moment = dataclasses.replace(moment, told=("No sound device here.",))
    for width, height in [(60, 20), (40, 12)]:
        drawing = draw(moment, width=width, height=height)
        assert drawing.message == ("No sound device here.",)
        assert any(block_letters.FULL in row for row in drawing.main)


def test_a_rehearsal_says_that_the_laser_is_off_and_nothing_counts() -> None:
    moment = in_phase(Phase.HOLDING, thin_session(rehearsal=True))
    text = all_text(draw(moment, width=60, height=20))
    assert "REHEARSAL: LASER OFF" in text
    assert "0 J given, nothing counts" in text
    assert "coached" not in text


@given(
    height=st.integers(1, 70),
    message=st.integers(0, 5),
    keys=st.integers(1, 4),
    place=st.integers(1, 3),
    guidance=st.lists(st.integers(1, 4), max_size=3),
)
def test_rows_add_up(height: int, message: int, keys: int, place: int, guidance: list[int]) -> None:
    rows = rows_for(height, message=message, place=place, keys=keys, guidance=guidance)
    assert rows.total == height
    assert rows.panel >= min(height, math.ceil(height / 3))


@given(
    left_ns=st.integers(0, 1800 * NS_PER_S),
    given_fj=st.integers(0, 300 * 10**15),
    seconds=st.integers(0, 86_399),
)
def test_a_coarse_moment_looks_the_same(left_ns: int, given_fj: int, seconds: int) -> None:
    fine = in_phase(Phase.HOLDING, thin_session())
    view = dataclasses.replace(
        fine.view, left_ns=left_ns, spot_left_ns=left_ns, to_come_ns=left_ns, given_fj=given_fj
    )
    ends = fine.ends + datetime.timedelta(seconds=seconds)
    fine = dataclasses.replace(fine, view=view, ends=ends)
    assert draw(coarse(fine), width=60, height=20) == draw(fine, width=60, height=20)
