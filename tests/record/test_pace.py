"""How long a session takes: from the times between the holds of the sessions before."""

import datetime
import statistics
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.record.dog_course import read_pace
from coach.record.session_length import FEWEST, Between, between_of, done_text, foretell
from coach.session import commands as cmd
from coach.session.machine import OVER, Machine, Options
from coach.units import NS_PER_S
from tests.homes import evening, write_session
from tests.worlds import Lines, header_for, spots_for

NOW = datetime.datetime(2026, 11, 25, 19, 20, tzinfo=datetime.UTC)
MINUTE = 60 * NS_PER_S


def between(*minutes: float) -> list[Between]:
    """Sessions whose ten minutes between the holds took so long."""
    return [Between(10 * MINUTE, round(each * MINUTE)) for each in minutes]


def test_few_sessions_say_nothing_and_the_plan_is_told() -> None:
    found = foretell(between(20, 20), hold_ns=12 * MINUTE, move_ns=10 * MINUTE)
    assert (found.low_ns, found.expected_ns, found.high_ns, found.sessions) == (
        *[22 * MINUTE] * 3,
        0,
    )
    assert done_text(found, now=NOW) == "You will be done at about 19:42, by the plan."


def test_the_middle_and_the_range_of_the_sessions_before() -> None:
    # Twelve minutes of holds; 8, 10 and 15 minutes between them.
    found = foretell(between(10, 15, 8), hold_ns=12 * MINUTE, move_ns=10 * MINUTE)
    assert [n // MINUTE for n in (found.low_ns, found.expected_ns, found.high_ns)] == [20, 22, 27]
    assert done_text(found, now=NOW) == (
        "You will be done at about 19:42 (19:40 to 19:47, by your last 3 sessions)."
    )
    assert done_text(found, now=NOW, speed=60) == (
        "You will be done at about 19:20 (19:20 to 19:20, by your last 3 sessions)."
    )
    # A shorter session of the same home: half of the moves, half of the time between.
    assert foretell(between(10, 15, 8), hold_ns=0, move_ns=5 * MINUTE).high_ns == 7.5 * MINUTE


def test_one_odd_evening_and_what_was_long_ago_do_not_make_the_range() -> None:
    old = between(*[90] * 5)
    lately = between(9, 10, 11, 10, 9, 60, 10, 11, 10, 3)
    found = foretell([*old, *lately], hold_ns=0, move_ns=10 * MINUTE)
    assert [n // MINUTE for n in (found.low_ns, found.expected_ns, found.high_ns)] == [9, 10, 11]


@given(
    past=st.lists(st.builds(Between, st.integers(1, 10**13), st.integers(0, 10**13)), max_size=14),
    hold_ns=st.integers(0, 10**13),
    move_ns=st.integers(0, 10**13),
)
def test_never_below_the_holds_and_the_expected_is_the_median(
    past: list[Between], hold_ns: int, move_ns: int
) -> None:
    found = foretell(past, hold_ns=hold_ns, move_ns=move_ns)
    assert hold_ns <= found.low_ns <= found.expected_ns <= found.high_ns
    if len(past) < FEWEST:
        assert found.expected_ns == hold_ns + move_ns
        return
    times = [Fraction(one.taken_ns, one.planned_ns) for one in past[-10:]]
    assert abs(found.expected_ns - hold_ns - statistics.median(times) * move_ns) <= 1


def lived(*, pause_s: int = 0, stop: bool = False, rehearsal: bool = False) -> Lines:
    """A session of three spots of 20 s with moves of 8 s, paused once for so long."""
    spots = spots_for([20, 20, 20])
    machine = Machine(spots, Options())
    lines = Lines(header_for(spots, rehearsal=rehearsal))
    now_ns = NS_PER_S
    lines.add_events(machine.do(cmd.Start(), now_ns).events)
    paused = False
    while machine.phase not in OVER:
        deadline = machine.next_deadline(now_ns)
        assert deadline is not None
        now_ns = deadline
        lines.add_events(machine.tick(now_ns).events)
        if machine.sitting.index == 1 and not paused and machine.phase not in OVER:
            paused = True
            if stop:
                lines.add_events(machine.do(cmd.Stop("no_time"), now_ns).events)
                break
            lines.add_events(machine.do(cmd.Pause("asked"), now_ns).events)
            now_ns += pause_s * NS_PER_S
            lines.add_events(machine.do(cmd.CarryOn(), now_ns).events)
    return lines


def test_what_a_log_tells_of_the_time_between_holds() -> None:
    # Three moves of 8 s; the machine gives a move anew after a pause, at most 8 s.
    found = between_of(lived(pause_s=100).lines)
    assert found is not None
    assert found.planned_ns == 24 * NS_PER_S
    assert 124 * NS_PER_S <= found.taken_ns <= 132 * NS_PER_S
    assert between_of(lived(stop=True).lines) is None
    assert between_of(lived(rehearsal=True).lines) is None


@pytest.mark.parametrize("kept", [False, True])
def test_the_pace_is_read_from_the_journals(tmp_path: Path, kept: bool) -> None:
    """Seeds 0 and 1 of the homes: gone through by the plan, and stopped early."""
    begins = datetime.datetime(2026, 11, 1, 19, tzinfo=datetime.UTC)
    for number, seed in enumerate((0, 0, 1, 0), start=1):
        when = begins + datetime.timedelta(days=number)
        write_session(tmp_path / "journals", number, evening(seed, [4, 4, 4]), begins=when)
    place = tmp_path / "summary" if kept else None
    for _ in range(1 + kept):
        past = read_pace(tmp_path, "Pip", kept=place)
        # Three spots with moves of 3 s.
        assert [one.planned_ns for one in past] == [9 * NS_PER_S] * 3
        assert all(9 * NS_PER_S <= one.taken_ns <= 10 * NS_PER_S for one in past)
    assert read_pace(tmp_path, "Rex", kept=place) == []
