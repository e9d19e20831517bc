"""How long the screen sleeps: as long as nothing that it shows can change, and no longer."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.screens.redraw_timing import BEAT_S, LONGEST_S, next_second_s
from coach.session import commands as cmd
from coach.session.view import View
from coach.units import NS_PER_S, ceil_s
from tests.screens.thin import ThinSession, thin_session


def holding() -> ThinSession:
    session = thin_session()
    assert session.do(cmd.Start()) is None
    assert session.do(cmd.Go()) is None
    return session


HOLD = holding().view()


def at(left_ns: int) -> View:
    return replace(HOLD, left_ns=left_ns)


@given(left_ns=st.integers(1, 600 * NS_PER_S))
def test_the_next_second_is_shown_neither_before_its_time_nor_late(left_ns: int) -> None:
    slept_ns = round(next_second_s(at(left_ns), 1) * NS_PER_S)
    late_ns = (ceil_s(left_ns) - 1) * NS_PER_S - (left_ns - slept_ns)
    # As late as nobody sees: common practice, no source.
    assert 0 <= late_ns <= 50_000_000


@given(left_ns=st.integers(1, 600 * NS_PER_S), speed=st.integers(2, 1000))
def test_a_fast_rehearsal_is_not_drawn_more_often_than_an_eye_follows(
    left_ns: int, speed: int
) -> None:
    assert BEAT_S <= next_second_s(at(left_ns), speed) <= LONGEST_S


@pytest.mark.parametrize("command", [cmd.Pause("asked"), cmd.Stop("asked")])
def test_where_no_second_passes_the_screen_sleeps_long(command: cmd.Command) -> None:
    session = holding()
    assert session.do(command) is None
    assert next_second_s(session.view(), 1) == LONGEST_S
