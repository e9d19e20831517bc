"""What is shown at one moment of a session, worked out by hand from the plan and the clock."""

from dataclasses import replace

import pytest

from coach.session import commands as cmd
from coach.session.machine import Machine, Options, Phase
from coach.session.readiness import Round
from coach.session.view import View, view
from coach.units import NS_PER_S
from tests.worlds import spots_for

S = NS_PER_S
T0 = 1_000 * S


def shown(machine: Machine, now_ns: int, *, power_uw: int = 500_000) -> View:
    return view(machine, now_ns, dog="Pip", rehearsal=False, power_uw=power_uw)


def started(*hold_s: int, options: Options | None = None) -> Machine:
    """Spots of so many seconds, eight seconds of way to each."""
    machine = Machine(spots_for(hold_s), options or Options())
    machine.do(cmd.Start(), T0)
    return machine


def test_before_the_start_everything_is_to_come() -> None:
    machine = Machine(spots_for([10, 20]), Options(laser_button=True, reminders="few"))
    seen = shown(machine, T0)
    assert (seen.phase, seen.waits, seen.spot.index) == (Phase.READY, True, 0)
    assert seen.next_spot is machine.spots[1]
    assert (seen.left_ns, seen.hold_ns, seen.spot_left_ns) == (10 * S, 10 * S, 10 * S)
    # 8 + 10 + 8 + 20 s.
    assert seen.to_come_ns == 46 * S
    assert (seen.done_spots, seen.spots) == (0, 2)
    # 500 mW for 30 s is 15 J.
    assert (seen.given_fj, seen.planned_fj) == (0, 15 * 10**15)
    assert (seen.laser_button, seen.reminders) == (True, "few")
    assert (seen.dog, seen.place.key) == ("Pip", "lumbar")
    assert (seen.turn, seen.tip, seen.near_side) == ("", "", "")
    assert not seen.asks
    assert [state for _, state in seen.states] == ["current", "coming"]


def test_on_the_way_the_seconds_are_those_of_the_way() -> None:
    machine = started(10, 20, options=Options(tips=((0, "Hold still."),)))
    seen = shown(machine, T0 + 3 * S)
    assert (seen.phase, seen.waits, seen.left_ns, seen.spot_left_ns) == (
        Phase.MOVING,
        False,
        5 * S,
        10 * S,
    )
    assert seen.to_come_ns == 43 * S
    assert seen.tip == "Hold still."
    # A tick that is late shows nothing below zero.
    assert shown(machine, T0 + 9 * S).left_ns == 0


def test_in_a_hold_energy_is_that_of_whole_seconds() -> None:
    machine = started(10, 20, options=Options(tips=((0, "Hold still."),)))
    machine.tick(T0 + 8 * S)
    seen = shown(machine, T0 + 11 * S + S // 2)
    assert (seen.phase, seen.waits, seen.tip) == (Phase.HOLDING, False, "")
    assert seen.left_ns == seen.spot_left_ns == 6 * S + S // 2
    # 500 mW for the three whole seconds is 1.5 J.
    assert seen.given_fj == 15 * 10**14


def test_what_was_done_and_what_was_left_out() -> None:
    machine = started(10, 20, 30, 40)
    machine.tick(T0 + 8 * S)
    machine.tick(T0 + 18 * S)
    machine.do(cmd.Skip("sore"), T0 + 20 * S)
    seen = shown(machine, T0 + 21 * S)
    assert [state for _, state in seen.states] == ["done", "left out", "current", "coming"]
    assert (seen.done_spots, seen.spots) == (2, 4)
    assert seen.given_fj == 5 * 10**15


def test_where_the_coach_waits_it_says_so() -> None:
    machine = started(10, options=Options(advance="wait"))
    seen = shown(machine, T0 + 2 * S)
    assert (seen.waits, seen.left_ns) == (True, 10 * S)
    machine.do(cmd.Go(), T0 + 3 * S)
    assert not shown(machine, T0 + 4 * S).waits
    machine.do(cmd.Pause(), T0 + 5 * S)
    seen = shown(machine, T0 + 60 * S)
    assert (seen.phase, seen.waits, seen.left_ns) == (Phase.PAUSED, True, 8 * S)
    machine.do(cmd.Stop(), T0 + 61 * S)
    seen = shown(machine, T0 + 62 * S)
    assert (seen.waits, seen.to_come_ns) == (False, 0)


def test_only_what_the_table_lists_is_allowed() -> None:
    seen = shown(started(10), T0 + S)
    assert seen.allows(cmd.Pause)
    assert not seen.allows(cmd.Start)
    assert not seen.allows(cmd.CarryOn)


def test_a_dog_that_lies_another_way_is_to_be_turned() -> None:
    first, second = spots_for([10, 10])
    # Left lateral is left side DOWN (trade term): the right side comes up.
    turned = Machine(
        [replace(first, position="sternal"), replace(second, position="left lateral")],
        Options(owner_sits="left"),
    )
    turned.do(cmd.Start(), T0)
    seen = shown(turned, T0 + S)
    assert (seen.turn, seen.near_side) == ("", "The side nearest you.")
    turned.tick(T0 + 8 * S)
    turned.tick(T0 + 18 * S)
    seen = shown(turned, T0 + 19 * S)
    assert seen.turn == "Turn the dog: right side up."
    assert seen.near_side == "The side nearest you, on top."
    # Half way the owner goes back: nobody knows how the dog lies now.
    turned.do(cmd.Back(), T0 + 20 * S)
    assert shown(turned, T0 + 21 * S).turn == "Turn the dog: onto its chest."
    same = Machine(
        [replace(first, position="sternal"), replace(second, position="sternal")], Options()
    )
    same.do(cmd.Start(), T0)
    same.tick(T0 + 8 * S)
    same.tick(T0 + 18 * S)
    assert shown(same, T0 + 19 * S).turn == ""


@pytest.mark.parametrize(("verdict", "asks"), [("", True), ("go", False), ("stop", False)])
def test_what_is_handed_in_is_shown(verdict: str, asks: bool) -> None:
    round_ = Round(points=(), verdict=verdict)  # type: ignore[arg-type]
    seen = view(
        Machine(spots_for([10]), Options()),
        T0,
        dog="Pip",
        rehearsal=True,
        power_uw=1,
        notices=("no sound",),
        pause_reason="sore",
        readiness=round_,
        away=True,
    )
    assert seen.rehearsal
    assert seen.notices == ("no sound",)
    assert (seen.pause_reason, seen.away) == ("sore", True)
    assert seen.asks is asks
