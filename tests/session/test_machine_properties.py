"""For any commands at any times: what was given, what was granted, and what the journal says."""

from dataclasses import dataclass

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.record.tally import tally_of
from coach.session import commands as cmd
from coach.session.machine import OVER, Machine, NotNow, Options, Phase
from coach.units import NS_PER_S
from tests.worlds import Lines, header_for, spots_for

COMMANDS = st.one_of(
    st.builds(cmd.Go),
    st.builds(cmd.Pause, st.sampled_from(cmd.PAUSE_REASONS)),
    st.builds(cmd.CarryOn),
    st.builds(cmd.Skip, st.sampled_from(cmd.SKIP_REASONS)),
    st.builds(cmd.Again),
    st.builds(cmd.Back),
    st.builds(cmd.Say),
    # Stop ends the story; it is made rare so that most stories are long.
    st.just(None),
    st.just(None),
    st.builds(cmd.Stop, st.sampled_from(cmd.STOP_REASONS)),
)
# Ticks a moment apart, a little late, badly late, and now and then back in time.
WAITS_NS = st.one_of(
    st.integers(0, NS_PER_S // 5),
    st.integers(0, 3 * NS_PER_S),
    st.integers(0, 40 * NS_PER_S),
    st.just(-NS_PER_S),
)
STORY = st.lists(st.tuples(WAITS_NS, COMMANDS), max_size=60)
OPTIONS = st.builds(
    Options,
    advance=st.sampled_from(["auto", "wait"]),
    laser_button=st.booleans(),
    repeats_allowed=st.integers(0, 3),
    heartbeat_ns=st.sampled_from([NS_PER_S, 2 * NS_PER_S]),
    lead_ns=st.sampled_from([0, NS_PER_S // 5]),
    # Short, so that many stories meet its end.
    patience_ns=st.sampled_from([10 * NS_PER_S, 600 * NS_PER_S]),
)
HOLDS_S = st.lists(st.integers(1, 30), min_size=1, max_size=5)
POWER_UW = st.integers(1_000, 30_000_000)


@dataclass(slots=True)
class Told:
    """A story that was played: the machine at its end, its lines, and when each was written."""

    machine: Machine
    lines: Lines
    now_ns: int


def play(
    hold_s: list[int], options: Options, story: list[tuple[int, cmd.Command | None]], power_uw: int
) -> Told:
    machine = Machine(spots_for(hold_s), options)
    lines = Lines(header_for(machine.spots, options, power_uw=power_uw))
    now_ns = 5_000 * NS_PER_S
    lines.add_events(machine.do(cmd.Start(), now_ns).events)
    for wait_ns, command in story:
        now_ns += wait_ns
        before = machine.sitting
        try:
            step = machine.tick(now_ns) if command is None else machine.do(command, now_ns)
        except NotNow:
            assert machine.sitting == before
            continue
        lines.add_events(step.events)
    return Told(machine, lines, now_ns)


@settings(max_examples=300, deadline=None)
@given(HOLDS_S, OPTIONS, STORY, POWER_UW)
def test_the_journal_tallies_what_the_machine_gave(
    hold_s: list[int],
    options: Options,
    story: list[tuple[int, cmd.Command | None]],
    power_uw: int,
) -> None:
    told = play(hold_s, options, story, power_uw)
    machine = told.machine
    told.lines.add_events(machine.tick(told.now_ns).events)
    if machine.phase not in OVER:
        told.lines.add_events(machine.do(cmd.Stop("closed"), told.now_ns).events)
    tally = tally_of(told.lines.lines)

    given_ns = machine.sitting.given_ns
    assert tuple(spot.given_ns for spot in tally.spots) == given_ns
    assert tuple(spot.repeats for spot in tally.spots) == machine.sitting.repeats
    assert tally.problems == ()
    assert tally.state == ("finished" if machine.phase is Phase.FINISHED else "stopped")
    for spot, seconds in zip(tally.spots, hold_s, strict=True):
        assert spot.given_ns <= seconds * NS_PER_S * (1 + spot.repeats)
        assert spot.repeats <= options.repeats_allowed
        if spot.outcome == "skipped":
            assert spot.index in machine.sitting.skipped
    # Energy: the sum of the parts is the part of the sum, to the last femtojoule.
    total = tally.total()
    assert total.given_fj == sum(power_uw * spot_ns for spot_ns in given_ns)
    assert total.given_fj == sum(tally.total(s).given_fj for s in tally.by_side().values())


@settings(max_examples=300, deadline=None)
@given(HOLDS_S, OPTIONS, STORY)
def test_given_is_the_time_between_hold_start_and_hold_end(
    hold_s: list[int], options: Options, story: list[tuple[int, cmd.Command | None]]
) -> None:
    told = play(hold_s, options, story, 1_000_000)
    began: dict[int, int] = {}
    held = [0] * len(hold_s)
    for line in told.lines.lines:
        data = line["data"]
        if line["kind"] == "hold_started":
            assert not began, "two holds at once"
            began[data["spot"]] = data["at_ns"]
        elif line["kind"] == "hold_ended":
            elapsed_ns = data["at_ns"] - began.pop(data["spot"])
            # A hold that ends before its lead is over never began.
            assert data["given_ns"] == max(0, elapsed_ns)
            held[data["spot"]] += data["given_ns"]
    assert tuple(held) == told.machine.sitting.given_ns
    assert bool(began) == (told.machine.phase is Phase.HOLDING)


@settings(max_examples=300, deadline=None)
@given(HOLDS_S, OPTIONS, STORY, st.data())
def test_cut_anywhere_the_tally_never_says_more_than_was_given(
    hold_s: list[int],
    options: Options,
    story: list[tuple[int, cmd.Command | None]],
    data: st.DataObject,
) -> None:
    whole = play(hold_s, options, story, 1_000_000)
    lines = whole.lines.lines
    kept = data.draw(st.integers(1, len(lines)))
    cut = tally_of(lines[:kept])
    full = tally_of(lines)
    for before, after in zip(cut.spots, full.spots, strict=True):
        assert before.given_ns <= after.given_ns


@settings(max_examples=200, deadline=None)
@given(HOLDS_S, st.lists(st.integers(1, NS_PER_S // 4), min_size=1, max_size=300))
def test_while_ticks_come_a_pulled_plug_loses_at_most_a_heartbeat_and_a_tick(
    hold_s: list[int], ticks_ns: list[int]
) -> None:
    options = Options()
    machine = Machine(spots_for(hold_s), options)
    lines = Lines(header_for(machine.spots, options))
    now_ns = 5_000 * NS_PER_S
    lines.add_events(machine.do(cmd.Start(), now_ns).events)
    for tick_ns in ticks_ns:
        truth = [machine.given_ns(index, now_ns + tick_ns - 1) for index in range(len(hold_s))]
        told = [spot.given_ns for spot in tally_of(lines.lines).spots]
        lost = [t - s for t, s in zip(truth, told, strict=True)]
        assert min(lost) >= 0
        assert sum(lost) <= options.heartbeat_ns + tick_ns
        now_ns += tick_ns
        lines.add_events(machine.tick(now_ns).events)
