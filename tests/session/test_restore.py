"""A sitting put together from the lines of a journal is the one that the machine had."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.record.tally import tally_of
from coach.session import commands as cmd
from coach.session.machine import OVER, Machine, NotNow, Options, Phase
from coach.session.replay import restore
from coach.units import NS_PER_S
from tests.session.test_machine_properties import HOLDS_S, OPTIONS, STORY, play
from tests.worlds import Lines, header_for, spots_for

S = NS_PER_S


@settings(max_examples=300, deadline=None)
@given(HOLDS_S, OPTIONS, STORY)
def test_what_the_machine_knew_comes_back(
    hold_s: list[int], options: Options, story: list[tuple[int, cmd.Command | None]]
) -> None:
    told = play(hold_s, options, story, 1_000_000)
    before = told.machine.sitting
    after = restore(told.machine.spots, told.lines.lines, now_ns=7)
    if before.phase in OVER:
        assert after is None
        return
    assert after is not None
    assert (after.phase, after.now_ns, after.until_ns) == (Phase.PAUSED, 7, None)
    assert (after.repeats, after.skipped) == (before.repeats, before.skipped)
    # What the running hold gave up to its last heartbeat has come in; grants stay as they were.
    assert after.given_ns == tuple(spot.given_ns for spot in tally_of(told.lines.lines).spots)
    assert after.granted_ns == before.granted_ns
    assert (
        after.index == before.index
        or after.given_ns[before.index] >= (after.granted_ns[before.index])
    )


@settings(max_examples=200, deadline=None)
@given(HOLDS_S, OPTIONS, STORY, STORY, st.data())
def test_carried_on_after_a_cut_anywhere_nothing_counts_twice(
    hold_s: list[int],
    options: Options,
    story: list[tuple[int, cmd.Command | None]],
    later: list[tuple[int, cmd.Command | None]],
    data: st.DataObject,
) -> None:
    told = play(hold_s, options, story, 1_000_000)
    lines = Lines(header_for(told.machine.spots, options))
    lines.lines[:] = told.lines.lines[: data.draw(st.integers(1, len(told.lines.lines)))]
    sitting = restore(told.machine.spots, lines.lines, now_ns=0)
    if sitting is None:
        return
    # Another boot: its clock begins near zero again.
    machine = Machine(told.machine.spots, options)
    machine.sitting = sitting
    lines.add("session_resumed", {"why": "test"})
    now_ns = 3 * S
    lines.add_events(machine.do(cmd.CarryOn(), now_ns).events)
    for wait_ns, command in later:
        now_ns += wait_ns
        try:
            step = machine.tick(now_ns) if command is None else machine.do(command, now_ns)
        except NotNow:
            continue
        lines.add_events(step.events)
    lines.add_events(machine.tick(now_ns).events)
    if machine.phase not in OVER:
        lines.add_events(machine.do(cmd.Stop("closed"), now_ns).events)
    tally = tally_of(lines.lines)
    assert tuple(spot.given_ns for spot in tally.spots) == machine.sitting.given_ns
    assert tally.problems == ()
    assert tally.cuts == 1


def machine_in_second_hold() -> tuple[Machine, Lines]:
    machine = Machine(spots_for([10, 20, 30]), Options())
    lines = Lines(header_for(machine.spots))
    lines.add_events(machine.do(cmd.Start(), 0).events)
    for second in range(1, 31):
        lines.add_events(machine.tick(second * S).events)
    return machine, lines


def test_cut_in_a_hold_it_carries_on_with_the_seconds_that_are_left() -> None:
    # The second hold began at 26 s; its heartbeat at 30 s is the last line.
    machine, lines = machine_in_second_hold()
    sitting = restore(machine.spots, lines.lines, now_ns=50 * S)
    assert sitting is not None
    assert (sitting.index, sitting.left_ns) == (1, 16 * S)
    carried = Machine(machine.spots, Options())
    carried.sitting = sitting
    step = carried.do(cmd.CarryOn(), 60 * S)
    # The owner gets a whole move to find the spot again.
    assert [event.kind for event in step.events] == ["carried_on", "move_started"]
    carried.tick(68 * S)
    assert carried.next_deadline(68 * S + 16 * S) == 84 * S


def test_cut_between_a_hold_and_the_next_move_it_carries_on_with_the_next_spot() -> None:
    _, lines = machine_in_second_hold()
    upto = [line["kind"] for line in lines.lines].index("hold_ended") + 1
    sitting = restore(spots_for([10, 20, 30]), lines.lines[:upto], now_ns=0)
    assert sitting is not None
    assert sitting.index == 1


def test_what_never_began_is_not_restored() -> None:
    assert restore(spots_for([10]), Lines(header_for(spots_for([10]))).lines, now_ns=0) is None


def test_another_plan_is_refused() -> None:
    machine, lines = machine_in_second_hold()
    other = (replace(machine.spots[0], hold_ns=1), *machine.spots[1:])
    with pytest.raises(ValueError, match="other spots"):
        restore(other, lines.lines, now_ns=0)
