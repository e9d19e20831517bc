"""The machine's table: what every listed pair does, and that no other pair does anything.

Longer than other files: one case for each row of the machine's table.
"""

from collections.abc import Callable
from dataclasses import replace

import pytest

from coach.session import commands as cmd
from coach.session import cues as say
from coach.session import events as ev
from coach.session.machine import (
    OVER,
    STALL_NS,
    TABLE,
    Machine,
    NotNow,
    Options,
    Phase,
    Step,
    one_key,
)
from coach.units import NS_PER_S
from tests.worlds import spots_for

S = NS_PER_S
T0 = 1_000 * S
COMMANDS: tuple[cmd.Command, ...] = (
    cmd.Start(),
    cmd.Go(),
    cmd.Pause("dog_moved"),
    cmd.CarryOn(),
    cmd.Skip("sore"),
    cmd.Again(),
    cmd.Back(),
    cmd.Say(),
    cmd.Stop("dog_unhappy"),
)


def kinds(step: Step) -> list[str]:
    return [event.kind for event in step.events]


def ready() -> Machine:
    return Machine(spots_for([10, 20, 30]), Options())


def moving() -> Machine:
    machine = ready()
    machine.do(cmd.Start(), T0)
    return machine


def holding() -> Machine:
    """Three seconds into the hold of the second spot; the first had its ten."""
    machine = moving()
    machine.tick(T0 + 8 * S)
    machine.tick(T0 + 18 * S)
    machine.tick(T0 + 26 * S)
    machine.tick(T0 + 29 * S)
    return machine


def paused() -> Machine:
    machine = holding()
    machine.do(cmd.Pause("contact_lost"), T0 + 30 * S)
    return machine


def finished() -> Machine:
    machine = moving()
    for second in range(200):
        machine.tick(T0 + second * S)
    return machine


def stopped() -> Machine:
    machine = holding()
    machine.do(cmd.Stop("no_time"), T0 + 30 * S)
    return machine


IN_PHASE: dict[Phase, Callable[[], Machine]] = {
    Phase.READY: ready,
    Phase.MOVING: moving,
    Phase.HOLDING: holding,
    Phase.PAUSED: paused,
    Phase.FINISHED: finished,
    Phase.STOPPED: stopped,
}
UNLISTED = [
    (phase, command)
    for phase in Phase
    for command in COMMANDS
    if (phase, type(command)) not in TABLE
]


def test_every_phase_can_be_reached_and_every_command_is_tried() -> None:
    assert {phase: make().phase for phase, make in IN_PHASE.items()} == {p: p for p in Phase}
    assert {type(command) for command in COMMANDS} == set(cmd.Command.__args__)


@pytest.mark.parametrize(
    ("phase", "command"), UNLISTED, ids=lambda x: getattr(x, "value", None) or type(x).__name__
)
def test_an_unlisted_pair_raises_and_changes_nothing(phase: Phase, command: cmd.Command) -> None:
    machine = IN_PHASE[phase]()
    before = machine.sitting
    with pytest.raises(NotNow) as refused:
        machine.do(command, before.now_ns)
    assert str(refused.value)
    assert machine.sitting == before


@pytest.mark.parametrize("phase", sorted(OVER, key=str))
def test_nothing_is_listed_once_it_is_over(phase: Phase) -> None:
    assert [command for where, command in TABLE if where is phase] == []
    assert IN_PHASE[phase]().next_deadline(T0) is None


# What each listed pair writes down, and where it leads. From the description of the commands.
LISTED: list[tuple[Phase, cmd.Command, list[str], Phase, int]] = [
    (Phase.READY, cmd.Start(), ["session_started", "move_started"], Phase.MOVING, 0),
    (Phase.READY, cmd.Stop(), ["session_stopped"], Phase.STOPPED, 0),
    (Phase.MOVING, cmd.Go(), ["hold_started"], Phase.HOLDING, 0),
    (Phase.MOVING, cmd.Pause(), ["paused"], Phase.PAUSED, 0),
    (Phase.MOVING, cmd.Skip(), ["spot_skipped", "move_started"], Phase.MOVING, 1),
    (Phase.MOVING, cmd.Say(), [], Phase.MOVING, 0),
    (Phase.MOVING, cmd.Stop(), ["session_stopped"], Phase.STOPPED, 0),
    (Phase.HOLDING, cmd.Pause(), ["hold_ended", "paused"], Phase.PAUSED, 1),
    (Phase.HOLDING, cmd.Skip(), ["hold_ended", "spot_skipped", "move_started"], Phase.MOVING, 2),
    (Phase.HOLDING, cmd.Again(), ["hold_ended", "spot_again", "move_started"], Phase.MOVING, 1),
    (Phase.HOLDING, cmd.Back(), ["hold_ended", "went_back", "move_started"], Phase.MOVING, 0),
    (Phase.HOLDING, cmd.Say(), [], Phase.HOLDING, 1),
    (Phase.HOLDING, cmd.Stop(), ["hold_ended", "session_stopped"], Phase.STOPPED, 1),
    (Phase.PAUSED, cmd.CarryOn(), ["carried_on", "hold_started"], Phase.HOLDING, 1),
    (Phase.PAUSED, cmd.Skip(), ["spot_skipped", "move_started"], Phase.MOVING, 2),
    (Phase.PAUSED, cmd.Again(), ["spot_again", "move_started"], Phase.MOVING, 1),
    (Phase.PAUSED, cmd.Back(), ["went_back", "move_started"], Phase.MOVING, 0),
    (Phase.PAUSED, cmd.Say(), [], Phase.PAUSED, 1),
    (Phase.PAUSED, cmd.Stop(), ["session_stopped"], Phase.STOPPED, 1),
]


@pytest.mark.parametrize(
    ("phase", "command", "written", "then", "spot"),
    LISTED,
    ids=[f"{row[0].value}-{type(row[1]).__name__}" for row in LISTED],
)
def test_a_listed_pair(
    phase: Phase, command: cmd.Command, written: list[str], then: Phase, spot: int
) -> None:
    machine = IN_PHASE[phase]()
    step = machine.do(command, machine.sitting.now_ns)
    assert kinds(step) == written
    assert (machine.phase, machine.spot.index) == (then, spot)


def test_every_listed_pair_is_tried() -> None:
    # Again and Back while moving to the first spot have nowhere to go: tried by themselves below.
    by_themselves = {(Phase.MOVING, cmd.Again), (Phase.MOVING, cmd.Back)}
    assert {(phase, type(command)) for phase, command, *_ in LISTED} | by_themselves == set(TABLE)


@pytest.mark.parametrize("command", [cmd.Again(), cmd.Back()])
def test_on_the_way_to_the_first_spot_there_is_nothing_behind(command: cmd.Command) -> None:
    machine = moving()
    before = machine.sitting
    with pytest.raises(NotNow):
        machine.do(command, T0 + S)
    assert machine.sitting == before


@pytest.mark.parametrize("command", [cmd.Again(), cmd.Back()])
def test_on_the_way_to_the_second_spot_they_mean_the_first(command: cmd.Command) -> None:
    machine = moving()
    machine.tick(T0 + 8 * S)
    machine.tick(T0 + 18 * S)
    step = machine.do(command, T0 + 20 * S)
    assert kinds(step)[-1] == "move_started"
    assert (machine.phase, machine.spot.index) == (Phase.MOVING, 0)


# Deadlines


def test_a_whole_session_runs_on_its_deadlines_without_drift() -> None:
    # By hand: move 8, hold 10, move 8, hold 20, move 8, hold 30: over after 84 s.
    machine = moving()
    events: list[ev.Event] = []
    now_ns = T0
    while (deadline := machine.next_deadline(now_ns)) is not None:
        # Each tick comes 90 ms late, as on a busy small computer.
        now_ns = deadline + 90_000_000
        events += machine.tick(now_ns).events
    times = [(e.kind, e.at_ns - T0) for e in events if e.kind in ("hold_started", "hold_ended")]
    assert times == [
        ("hold_started", 8 * S),
        ("hold_ended", 18 * S),
        ("hold_started", 26 * S),
        ("hold_ended", 46 * S),
        ("hold_started", 54 * S),
        ("hold_ended", 84 * S),
    ]
    assert machine.phase is Phase.FINISHED
    assert machine.sitting.given_ns == (10 * S, 20 * S, 30 * S)


def test_a_late_tick_gives_no_more_than_the_spot() -> None:
    machine = moving()
    machine.tick(T0 + 8 * S)
    step = machine.tick(T0 + 100 * S)
    (ended,) = [event for event in step.events if isinstance(event, ev.HoldEnded)]
    assert (ended.at_ns, ended.given_ns, ended.reason) == (T0 + 18 * S, 10 * S, "complete")


def test_before_its_late_tick_a_hold_shows_no_more_than_the_spot_either() -> None:
    machine = moving()
    machine.tick(T0 + 8 * S)
    assert machine.given_ns(0, T0 + 100 * S) == 10 * S
    assert machine.left_ns(T0 + 100 * S) == 0


@pytest.mark.parametrize(("late_ns", "begins"), [(STALL_NS, "deadline"), (STALL_NS + 1, "tick")])
def test_after_a_stall_nothing_is_counted_that_nobody_was_told(late_ns: int, begins: str) -> None:
    machine = moving()
    now_ns = T0 + 8 * S + late_ns
    step = machine.tick(now_ns)
    (started,) = [event for event in step.events if isinstance(event, ev.HoldStarted)]
    assert started.at_ns == (T0 + 8 * S if begins == "deadline" else now_ns)
    # The start tone was lined up with the move; after a stall it must come again.
    assert ("start" in [cue.tone for cue in step.cues]) == (begins == "tick")


def test_time_that_runs_backwards_changes_nothing() -> None:
    machine = holding()
    before = machine.sitting
    assert machine.tick(T0) == Step()
    assert machine.sitting == before


def test_heartbeats_come_every_second_of_a_hold_and_at_no_other_time() -> None:
    machine = moving()
    beats = []
    for tenth in range(1, 400):
        now_ns = T0 + tenth * S // 10
        step = machine.tick(now_ns)
        beats += [e for e in step.events if isinstance(e, ev.Heartbeat)]
    first = [(beat.at_ns - T0) // S for beat in beats if beat.spot == 0]
    assert first == [9, 10, 11, 12, 13, 14, 15, 16, 17]
    assert [beat.given_ns for beat in beats if beat.spot == 0] == [n * S for n in range(1, 10)]


def test_a_wait_session_counts_nothing_until_the_key() -> None:
    machine = Machine(spots_for([10, 10]), Options(advance="wait"))
    machine.do(cmd.Start(), T0)
    assert machine.tick(T0 + 500 * S) == Step()
    machine.do(cmd.Go(), T0 + 500 * S)
    assert machine.given_ns(0, T0 + 503 * S) == 3 * S


def test_a_wait_session_pauses_when_nobody_answers_and_carries_on_from_there() -> None:
    options = Options(advance="wait", patience_ns=120 * S)
    machine = Machine(spots_for([10, 10], move_s=8), options)
    machine.do(cmd.Start(), T0)
    machine.do(cmd.Go(), T0 + 20 * S)
    machine.tick(T0 + 30 * S)
    # The eight seconds of the move, then two minutes of patience.
    pauses_ns = T0 + (30 + 8 + 120) * S
    assert machine.next_deadline(T0 + 31 * S) == pauses_ns
    assert machine.tick(pauses_ns - 1) == Step()
    step = machine.tick(pauses_ns)
    assert step.events == (ev.Paused(at_ns=pauses_ns, spot=1, reason="no_answer"),)
    assert step.interrupts
    assert [(cue.text, cue.tone) for cue in step.cues] == [(say.NO_ANSWER, "pause")]
    # A pause waits for ever, and is told once.
    assert machine.next_deadline(pauses_ns) is None
    assert machine.tick(pauses_ns + 100_000 * S) == Step()
    back_ns = pauses_ns + 100_000 * S
    carried = machine.do(cmd.CarryOn(), back_ns)
    assert [event.kind for event in carried.events] == ["carried_on", "move_started"]
    assert machine.next_deadline(back_ns) == back_ns + (8 + 120) * S
    machine.do(cmd.Go(), back_ns + 5 * S)
    machine.tick(back_ns + 15 * S)
    assert machine.phase is Phase.FINISHED
    assert machine.sitting.given_ns == (10 * S, 10 * S)


def test_whoever_asks_how_long_is_left_is_there() -> None:
    machine = Machine(spots_for([10]), Options(advance="wait", patience_ns=60 * S))
    machine.do(cmd.Start(), T0)
    machine.do(cmd.Say(), T0 + 50 * S)
    assert machine.next_deadline(T0 + 50 * S) == T0 + 110 * S


def test_go_comes_too_late_once_nobody_answered() -> None:
    machine = Machine(spots_for([10]), Options(advance="wait", patience_ns=60 * S))
    machine.do(cmd.Start(), T0)
    with pytest.raises(NotNow):
        machine.do(cmd.Go(), T0 + 500 * S)
    assert machine.tick(T0 + 500 * S).events[0].kind == "paused"


def test_a_session_that_moves_on_by_itself_knows_no_patience() -> None:
    machine = Machine(spots_for([10]), Options(patience_ns=0))
    machine.do(cmd.Start(), T0)
    machine.tick(T0 + 1)
    assert machine.phase is Phase.MOVING


def test_a_lead_puts_the_start_after_the_key_by_so_much() -> None:
    machine = Machine(spots_for([10]), Options(advance="wait", lead_ns=S // 5))
    machine.do(cmd.Start(), T0)
    step = machine.do(cmd.Go(), T0 + S)
    assert step.events[0].at_ns == T0 + S + S // 5
    assert machine.given_ns(0, T0 + S + S // 5) == 0
    # Paused before it began: nothing was given, and nothing is owed.
    paused_step = machine.do(cmd.Pause(), T0 + S + S // 10)
    assert [e.given_ns for e in paused_step.events if isinstance(e, ev.HoldEnded)] == [0]
    assert machine.left_ns(T0 + 2 * S) == 10 * S


# Pause and carry on


def test_carry_on_gives_exactly_what_is_left() -> None:
    machine = paused()
    assert machine.given_ns(1, T0 + 400 * S) == 4 * S
    step = machine.do(cmd.CarryOn(), T0 + 400 * S)
    (started,) = [event for event in step.events if isinstance(event, ev.HoldStarted)]
    assert started.left_ns == 16 * S
    assert machine.next_deadline(T0 + 416 * S) == T0 + 416 * S
    machine.tick(T0 + 416 * S)
    assert machine.given_ns(1, T0 + 500 * S) == 20 * S


def test_a_pause_while_moving_carries_on_with_the_whole_move() -> None:
    machine = moving()
    machine.do(cmd.Pause(), T0 + 7 * S)
    step = machine.do(cmd.CarryOn(), T0 + 60 * S)
    assert kinds(step) == ["carried_on", "move_started"]
    assert machine.next_deadline(T0 + 60 * S) == T0 + 68 * S


# Skip, again, back


def test_skipping_the_last_spot_finishes() -> None:
    machine = Machine(spots_for([10]), Options())
    machine.do(cmd.Start(), T0)
    assert kinds(machine.do(cmd.Skip("sore"), T0 + S)) == ["spot_skipped", "session_finished"]


def test_a_skipped_spot_is_not_offered_again_by_itself() -> None:
    machine = moving()
    machine.do(cmd.Skip("sore"), T0 + S)
    machine.do(cmd.Skip("sore"), T0 + 2 * S)
    machine.do(cmd.Back(), T0 + 3 * S)
    assert machine.spot.index == 1
    assert machine.sitting.skipped == frozenset({0})


def test_again_gives_the_whole_spot_on_top_and_only_as_often_as_the_plan_allows() -> None:
    machine = holding()
    machine.do(cmd.Again(), T0 + 30 * S)
    assert machine.left_ns(T0 + 30 * S) == 20 * S
    machine.tick(T0 + 38 * S)
    with pytest.raises(NotNow, match="plan does not allow"):
        machine.do(cmd.Again(), T0 + 40 * S)
    machine.tick(T0 + 58 * S)
    assert machine.given_ns(1, T0 + 58 * S) == 24 * S


def test_again_is_refused_where_the_plan_allows_none() -> None:
    machine = Machine(spots_for([10]), Options(repeats_allowed=0))
    machine.do(cmd.Start(), T0)
    machine.tick(T0 + 8 * S)
    with pytest.raises(NotNow, match="plan does not allow"):
        machine.do(cmd.Again(), T0 + 10 * S)


def test_back_to_a_spot_that_had_everything_counts_nothing() -> None:
    machine = holding()
    step = machine.do(cmd.Back(), T0 + 30 * S)
    assert say.NOTHING_LEFT in [cue.text for cue in step.cues]
    # Nothing is due but the end of the patience, which is a pause.
    due_ns = machine.next_deadline(T0 + 30 * S)
    assert due_ns is not None
    assert due_ns >= T0 + 30 * S + machine.options.patience_ns
    # Go then means onward, with what is left there.
    machine.do(cmd.Go(), T0 + 40 * S)
    assert (machine.spot.index, machine.left_ns(T0 + 40 * S)) == (1, 16 * S)


# Words and the one key


@pytest.mark.parametrize(
    ("phase", "means"),
    [
        (Phase.READY, cmd.Start()),
        (Phase.MOVING, cmd.Pause()),
        (Phase.HOLDING, cmd.Pause()),
        (Phase.PAUSED, cmd.CarryOn()),
        (Phase.FINISHED, None),
        (Phase.STOPPED, None),
    ],
)
def test_the_one_key(phase: Phase, means: cmd.Command | None) -> None:
    assert one_key(IN_PHASE[phase]()) == means


def test_the_one_key_means_go_where_the_coach_waits() -> None:
    machine = Machine(spots_for([10]), Options(advance="wait"))
    machine.do(cmd.Start(), T0)
    assert one_key(machine) == cmd.Go()


def test_stop_is_urgent_and_silences_what_was_lined_up() -> None:
    step = holding().do(cmd.Stop(), T0 + 30 * S)
    assert step.interrupts
    assert [(cue.text, cue.tone) for cue in step.cues] == [(say.STOPPED, "pause")]


def test_a_hold_counts_the_last_three_seconds_and_halfway() -> None:
    machine = moving()
    machine.tick(T0 + 8 * S)
    machine.tick(T0 + 18 * S)
    step = machine.tick(T0 + 26 * S)
    told = [(cue.text or cue.tone, (cue.at_ns - T0) // S) for cue in step.cues]
    assert told == [("Halfway.", 36), ("Three.", 43), ("Two.", 44), ("One.", 45), ("end", 46)]


def test_say_again_tells_place_and_seconds_left() -> None:
    step = holding().do(cmd.Say(), T0 + 30 * S)
    assert step.cues[-1].text == "Sixteen seconds left."
    assert not step.interrupts


@pytest.mark.parametrize("make", [cmd.Pause, cmd.Skip, cmd.Stop])
def test_an_unknown_reason_is_refused(make: Callable[[str], object]) -> None:
    with pytest.raises(ValueError, match="allowed are asked"):
        make("because")


@pytest.mark.parametrize("value", [-1, 1.5, "3", None])
def test_an_event_takes_whole_nanoseconds_only(value: object) -> None:
    with pytest.raises(ValueError, match="at_ns must be a whole number"):
        ev.SessionStarted(at_ns=value)  # type: ignore[arg-type]


def test_no_spots_no_session() -> None:
    with pytest.raises(ValueError, match="at least one spot"):
        Machine((), Options())


def test_the_time_to_come_is_holds_and_moves() -> None:
    # By hand: 84 s in all; 29 s in, 55 are to come.
    assert ready().to_come_ns(T0) == 84 * S
    assert holding().to_come_ns(T0 + 29 * S) == 55 * S
    assert replace(stopped().sitting).phase is Phase.STOPPED
    assert stopped().to_come_ns(T0 + 30 * S) == 0
