"""What each command says, what it cuts off, and which lines of a journal are carried on from."""

from dataclasses import replace

import pytest

from coach.session import commands as cmd
from coach.session import cues as say
from coach.session import events as ev
from coach.session.cues import Cue, Priority
from coach.session.machine import Machine, NotNow, Options, Phase, Step
from coach.session.replay import restore
from coach.units import NS_PER_S
from tests.worlds import Lines, header_for, spots_for

S = NS_PER_S
T0 = 1_000 * S


def started(*hold_s: float, options: Options | None = None) -> Machine:
    machine = Machine(spots_for(hold_s), options or Options())
    machine.do(cmd.Start(), T0)
    return machine


def holding(*hold_s: int, options: Options | None = None) -> Machine:
    """In the second of three spots, four seconds into its hold; the first had all it should."""
    machine = started(*(hold_s or (10, 20, 30)), options=options)
    for at_s in (8, 18, 26, 30):
        machine.tick(T0 + at_s * S)
    return machine


def texts(step: Step) -> list[str]:
    return [cue.text for cue in step.cues]


def test_a_tick_that_comes_late_loses_no_line_of_the_record() -> None:
    machine = started(0.5, 10)
    # Due at 8 s, over at 8.5 s, and nobody looked until 8.9 s.
    events = machine.tick(T0 + 8_900_000_000).events
    assert [(type(event), event.at_ns - T0) for event in events] == [
        (ev.HoldStarted, 8 * S),
        (ev.HoldEnded, 8_500_000_000),
        (ev.MoveStarted, 8_500_000_000),
    ]


@pytest.mark.parametrize(
    ("command", "first"),
    [
        (cmd.Pause(), "Paused. Lift the laser off."),
        (cmd.Skip("sore"), "Skipped."),
        (cmd.Again(), "Once more, from the beginning."),
        (cmd.Back(), "Going back."),
        (cmd.Stop("dog_unhappy"), "Stopped. Switch the laser off."),
    ],
)
def test_a_command_silences_what_was_lined_up_and_says_what_it_did(
    command: cmd.Command, first: str
) -> None:
    step = holding().do(command, T0 + 30 * S)
    assert step.interrupts is True
    assert texts(step)[0] == first


def test_whatever_starts_or_carries_on_begins_with_silence_and_the_start_tone() -> None:
    machine = Machine(spots_for([10, 10]), Options(advance="wait"))
    start = machine.do(cmd.Start(), T0)
    assert start.interrupts is True
    assert texts(start) == ["Lower back, left.", "Press when ready."]
    go = machine.do(cmd.Go(), T0 + S)
    assert go.interrupts is True
    assert go.cues[0].tone == "start"
    paused = machine.do(cmd.Pause(), T0 + 2 * S)
    assert paused.cues[0].priority is Priority.URGENT
    carried = machine.do(cmd.CarryOn(), T0 + 9 * S)
    assert carried.interrupts is True
    assert carried.cues[0].tone == "start"


def test_time_that_passes_and_a_question_cut_nothing_off() -> None:
    machine = started(10, 20)
    assert not machine.tick(T0 + 8 * S).interrupts
    assert not machine.do(cmd.Say(), T0 + 9 * S).interrupts


def test_what_is_said_before_a_cut_off_is_dropped_and_what_comes_after_it_stays() -> None:
    one, two = (Cue(text=text, at_ns=0, until_ns=1) for text in ("one", "two"))
    begun, over = ev.SessionStarted(at_ns=1), ev.SessionFinished(at_ns=2)
    quiet = Step((begun,), (one,)) + Step((over,), (two,))
    assert (quiet.events, quiet.cues, quiet.interrupts) == ((begun, over), (one, two), False)
    loud = Step((begun,), (one,)) + Step((over,), (two,), interrupts=True)
    assert (loud.events, loud.cues, loud.interrupts) == ((begun, over), (two,), True)
    after = Step((), (one,), interrupts=True) + Step((), (two,))
    assert (after.cues, after.interrupts) == ((one, two), True)


def test_one_late_tick_tells_all_that_came_due() -> None:
    machine = started(10, 20, options=Options(heartbeat_ns=100 * S))
    machine.tick(T0 + 8 * S)
    step = machine.tick(T0 + 18 * S + S // 2)
    assert [event.kind for event in step.events] == ["hold_ended", "move_started"]


def test_a_tick_over_two_deadlines_loses_nothing_of_the_first() -> None:
    # A hold of half a second, and a tick 800 ms late.
    machine = started(0.5, 10)
    step = machine.tick(T0 + 8 * S + 8 * S // 10)
    assert [(event.kind, event.at_ns - T0) for event in step.events] == [
        ("hold_started", 8 * S),
        ("hold_ended", 8 * S + S // 2),
        ("move_started", 8 * S + S // 2),
    ]


def test_a_dog_that_is_half_turned_takes_the_time_of_a_turn_to_come_back() -> None:
    one, two = spots_for([10, 10])
    machine = Machine(
        [
            replace(one, position="sternal"),
            replace(two, position="left lateral", move_ns=13 * S, turn_ns=5 * S),
        ],
        Options(),
    )
    machine.do(cmd.Start(), T0)
    machine.tick(T0 + 8 * S)
    machine.do(cmd.Pause(), T0 + 12 * S)
    machine.do(cmd.Skip("sore"), T0 + 13 * S)
    machine.do(cmd.Back(), T0 + 20 * S)
    # Eight seconds of way and five for the turn.
    assert machine.next_deadline(T0 + 20 * S) == T0 + 33 * S


def test_what_has_had_everything_takes_no_time_any_more() -> None:
    machine = started(10, 20, 30)
    for at_s in (8, 18, 26, 46):
        machine.tick(T0 + at_s * S)
    machine.do(cmd.Back(), T0 + 47 * S)
    machine.do(cmd.Back(), T0 + 48 * S)
    assert machine.spot.index == 0
    # Only the third is left: 8 s of way and its 30 s.
    assert machine.to_come_ns(T0 + 48 * S) == 38 * S


def test_again_in_the_second_half_of_a_hold_means_the_same_spot() -> None:
    machine = holding(10, 20, 30)
    machine.do(cmd.Pause(), T0 + 30 * S)
    machine.do(cmd.CarryOn(), T0 + 40 * S)
    # Four seconds before the pause, and four after it.
    step = machine.do(cmd.Again(), T0 + 44 * S)
    assert (machine.spot.index, machine.sitting.repeats) == (1, (0, 1, 0))
    assert texts(step)[:2] == ["Once more, from the beginning.", "Lower back, right, spot one."]
    assert [cue.text for cue in step.cues if cue.tone is None] == texts(step)[:2]


def test_on_the_way_only_the_number_is_said_where_only_that_changes() -> None:
    # Spots one and two of the left side follow each other.
    spots = [
        replace(spot, side="left", number=spot.index + 1, of=2, position="sternal")
        for spot in spots_for([10, 10])
    ]
    machine = Machine(spots, Options(owner_sits="left"))
    machine.do(cmd.Start(), T0)
    machine.tick(T0 + 8 * S)
    assert texts(machine.tick(T0 + 18 * S))[-2:] == ["Next, spot two.", "Hold."]
    # Who goes back hears the number too.
    assert texts(machine.do(cmd.Back(), T0 + 19 * S))[0] == "Going back."


@pytest.mark.parametrize(("button", "text"), [(False, "Hold."), (True, "Start the laser. Hold.")])
def test_where_the_laser_has_a_button_it_is_told(button: bool, text: str) -> None:
    machine = Machine(spots_for([10]), Options(laser_button=button))
    (cue,) = [cue for cue in machine.do(cmd.Start(), T0).cues if cue.tone == "start"]
    assert (cue.text, cue.at_ns, cue.until_ns) == (text, T0 + 8 * S, T0 + 9 * S)


def test_the_end_is_told_for_ten_seconds() -> None:
    machine = started(10)
    machine.tick(T0 + 8 * S)
    (cue,) = machine.tick(T0 + 18 * S).cues
    assert (cue.text, cue.at_ns, cue.until_ns) == (say.FINISHED, T0 + 18 * S, T0 + 28 * S)


def test_where_we_are_is_worth_three_seconds() -> None:
    step = holding().do(cmd.Say(), T0 + 30 * S)
    assert texts(step) == ["Lower back, right, spot one.", "Sixteen seconds left."]
    assert {(cue.at_ns, cue.until_ns) for cue in step.cues} == {(T0 + 30 * S, T0 + 33 * S)}


def test_what_is_not_possible_says_why() -> None:
    with pytest.raises(NotNow, match=r"^this is the first spot$"):
        started(10).do(cmd.Back(), T0 + S)
    with pytest.raises(NotNow, match=r"^there is no spot yet to give again$"):
        started(10).do(cmd.Again(), T0 + S)
    with pytest.raises(NotNow, match=r"^that is not possible while a spot is held$"):
        holding().do(cmd.CarryOn(), T0 + 30 * S)
    with pytest.raises(ValueError, match=r"^a session needs at least one spot$"):
        Machine((), Options())


def test_again_counts_once_takes_back_the_skip_and_means_the_running_spot() -> None:
    machine = holding(options=Options(repeats_allowed=2))
    machine.do(cmd.Again(), T0 + 30 * S)
    assert (machine.spot.index, machine.sitting.repeats) == (1, (0, 1, 0))
    assert machine.sitting.granted_ns == (10 * S, 24 * S, 30 * S)
    # Skipped, and then given once more after all: it is no longer left out.
    machine.tick(T0 + 38 * S)
    machine.do(cmd.Skip("sore"), T0 + 40 * S)
    assert machine.sitting.skipped == frozenset({1})
    machine.do(cmd.Again(), T0 + 41 * S)
    assert (machine.spot.index, machine.sitting.skipped) == (1, frozenset())
    assert machine.sitting.came_from is None
    assert machine.sitting.repeats == (0, 2, 0)


def test_after_a_hold_nothing_runs_on() -> None:
    machine = started(10, options=Options(advance="wait", patience_ns=600 * S))
    machine.do(cmd.Go(), T0 + 5 * S)
    # Within the hold nobody is waited for.
    assert machine.sitting.answer_ns is None
    machine.do(cmd.Pause(), T0 + 7 * S)
    assert machine.sitting.until_ns is None
    assert machine.sitting.beat_ns is None


def test_an_event_takes_only_whole_numbers_from_zero_and_known_reasons() -> None:
    for make in (
        lambda n: ev.SessionStarted(at_ns=n),
        lambda n: ev.CarriedOn(at_ns=0, spot=n),
        lambda n: ev.HoldStarted(at_ns=0, spot=0, left_ns=n),
        lambda n: ev.Heartbeat(at_ns=0, spot=0, given_ns=n),
    ):
        assert make(0).at_ns == 0
        for wrong in (-1, 1.0, "1"):
            with pytest.raises(ValueError, match="must be a whole number >= 0"):
                make(wrong)
    with pytest.raises(ValueError, match=r"^paused: unknown reason 'tired'$"):
        ev.Paused(at_ns=0, spot=0, reason="tired")


def test_no_tip_is_no_words() -> None:
    options = Options(tips=((1, "Hold still."),))
    assert (options.tip(0), options.tip(1)) == ("", "Hold still.")


# Carried on from these lines


def lines_of(*events: ev.Event) -> Lines:
    lines = Lines(header_for(spots_for([10, 20, 30])))
    lines.add("session_started", {"at_ns": 1})
    lines.add_events(events)
    return lines


def held(spot: int, given_ns: int) -> tuple[ev.Event, ...]:
    return (
        ev.MoveStarted(at_ns=1, spot=spot, until_ns=2),
        ev.HoldStarted(at_ns=2, spot=spot, left_ns=30 * S),
        ev.Heartbeat(at_ns=3, spot=spot, given_ns=given_ns),
    )


def ended(spot: int, given_ns: int) -> ev.Event:
    return ev.HoldEnded(at_ns=4, spot=spot, given_ns=given_ns, reason="complete")


def carried(lines: Lines) -> tuple[int, tuple[int, ...], tuple[int, ...], frozenset[int]]:
    sitting = restore(spots_for([10, 20, 30]), lines.lines, now_ns=5)
    assert sitting is not None
    assert (sitting.phase, sitting.now_ns) == (Phase.PAUSED, 5)
    return sitting.index, sitting.given_ns, sitting.repeats, sitting.skipped


def test_a_hold_that_was_cut_counts_its_heartbeat_once_however_often_it_was_cut() -> None:
    lines = lines_of(*held(0, 4 * S))
    assert carried(lines) == (0, (4 * S, 0, 0), (0, 0, 0), frozenset())
    lines.add("session_resumed", {})
    assert carried(lines) == (0, (4 * S, 0, 0), (0, 0, 0), frozenset())
    lines.add("session_resumed", {})
    lines.add_events(held(0, 3 * S))
    lines.add("session_resumed", {})
    assert carried(lines) == (0, (7 * S, 0, 0), (0, 0, 0), frozenset())
    # Before its first heartbeat a hold has given nothing.
    lines.add_events([ev.HoldStarted(at_ns=9, spot=0, left_ns=3 * S)])
    assert carried(lines) == (0, (7 * S, 0, 0), (0, 0, 0), frozenset())


def test_a_hold_that_ended_counts_its_end_and_the_next_spot_is_carried_on_with() -> None:
    lines = lines_of(*held(0, 9 * S), ended(0, 10 * S))
    assert carried(lines) == (1, (10 * S, 0, 0), (0, 0, 0), frozenset())
    lines.add_events([*held(1, 6 * S)])
    assert carried(lines) == (1, (10 * S, 6 * S, 0), (0, 0, 0), frozenset())


def test_once_more_going_back_and_leaving_out_are_known_again() -> None:
    lines = lines_of(
        *held(0, 9 * S), ended(0, 10 * S), ev.SpotSkipped(at_ns=5, spot=1, reason="sore")
    )
    assert carried(lines) == (2, (10 * S, 0, 0), (0, 0, 0), frozenset({1}))
    lines.add_events([ev.SpotAgain(at_ns=6, spot=0)])
    sitting = restore(spots_for([10, 20, 30]), lines.lines, now_ns=5)
    assert sitting is not None
    assert (sitting.index, sitting.repeats) == (0, (1, 0, 0))
    assert sitting.granted_ns == (20 * S, 20 * S, 30 * S)
    lines.add_events([ev.SpotAgain(at_ns=7, spot=1)])
    assert carried(lines) == (1, (10 * S, 0, 0), (1, 1, 0), frozenset())
    lines.add_events([ev.SpotSkipped(at_ns=8, spot=1, reason="sore")])
    lines.add_events([ev.SpotAgain(at_ns=9, spot=1)])
    assert carried(lines)[2] == (1, 2, 0)
    lines.add_events([ev.SpotSkipped(at_ns=10, spot=1, reason="sore")])
    lines.add_events([ev.WentBack(at_ns=11, spot=1)])
    assert carried(lines) == (1, (10 * S, 0, 0), (1, 2, 0), frozenset())


@pytest.mark.parametrize(
    "kind", ["session_finished", "session_stopped", "session_cut_off", "session_closed"]
)
def test_what_is_over_is_not_carried_on(kind: str) -> None:
    lines = lines_of(*held(0, 4 * S))
    lines.add(kind, {})
    assert restore(spots_for([10, 20, 30]), lines.lines, now_ns=5) is None


def test_what_never_began_is_not_carried_on() -> None:
    lines = Lines(header_for(spots_for([10])))
    assert restore(spots_for([10]), lines.lines, now_ns=5) is None
