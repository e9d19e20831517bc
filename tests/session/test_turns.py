"""Turning the dog and the owner's seat: what is said, how long it takes, which side is near.

Left lateral recumbency means that the left side is DOWN (term of the trade), so its right side
is up, on top, and the nearest to whoever kneels by the dog.
"""

import contextlib
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from coach.body.position import Position
from coach.body.regions import Side
from coach.plan.files import load_plan
from coach.plan.spots import Spot, spots_of
from coach.session import commands as cmd
from coach.session.cues import every_text, near_text
from coach.session.machine import OVER, Machine, NotNow, Options, Phase, Step
from coach.session.view import view
from coach.units import NS_PER_S
from tests.e2e.virtual import TODAY

S = NS_PER_S
PLANS = Path(__file__).parents[2] / "plans"


def spot(index: int, side: Side, position: Position, *, turn_s: int = 0) -> Spot:
    return Spot(
        index=index,
        region="stifle",
        side=side,
        aspect="lateral",
        number=1,
        of=1,
        hold_ns=10 * S,
        move_ns=(8 + turn_s) * S,
        position=position,
        turn_ns=turn_s * S,
    )


SPOTS = (
    spot(0, "left", "sternal"),
    spot(1, "right", "left lateral", turn_s=30),
    spot(2, "right", "left lateral"),
    spot(3, "left", "right lateral", turn_s=30),
    spot(4, "left", "sternal", turn_s=30),
)


def said(step: Step, word: str = "") -> list[tuple[int, str]]:
    return [(cue.at_ns, cue.text) for cue in step.cues if word in cue.text and cue.text]


def at_spot(index: int, options: Options | None = None) -> tuple[Machine, int]:
    """A second into the hold of a spot."""
    machine, now_ns = Machine(SPOTS, options or Options()), 0
    machine.do(cmd.Start(), 0)
    while machine.sitting.index < index or machine.phase is not Phase.HOLDING:
        now_ns = machine.next_deadline(now_ns) or now_ns
        machine.tick(now_ns)
    return machine, now_ns + S


def test_how_the_dog_lies_is_said_first_and_the_place_follows() -> None:
    step = Machine(SPOTS, Options()).do(cmd.Start(), 0)
    assert said(step)[:2] == [
        (0, "Begin with the dog on its chest."),
        (4 * S, "Left knee, outside."),
    ]


def test_a_turn_is_announced_and_has_its_seconds_before_the_place() -> None:
    machine, _ = at_spot(0)
    step = machine.tick(18 * S)
    assert said(step, "Turn") == [(18 * S, "Turn the dog: right side up.")]
    assert said(step, "knee") == [(48 * S, "Right knee, outside.")]
    assert machine.sitting.until_ns == (18 + 30 + 8) * S


def test_waiting_for_the_key_the_place_follows_the_turn_at_once() -> None:
    machine = Machine(SPOTS, Options(advance="wait"))
    machine.do(cmd.Start(), 0)
    machine.do(cmd.Go(), S)
    step = machine.tick(11 * S)
    assert said(step) == [
        (11 * S, "Turn the dog: right side up."),
        (15 * S, "Right knee, outside."),
        (15 * S, "Press when ready."),
    ]


def test_no_word_of_turning_where_the_dog_stays_as_it_lies() -> None:
    machine, now_ns = at_spot(1)
    step = machine.tick(now_ns + 9 * S)
    assert machine.sitting.index == 2
    assert said(step, "Turn") == []
    assert machine.sitting.until_ns == now_ns + 9 * S + 8 * S


def test_going_back_over_a_turn_turns_the_dog_back() -> None:
    machine, now_ns = at_spot(3)
    step = machine.do(cmd.Back(), now_ns)
    assert said(step, "Turn") == [(now_ns, "Turn the dog: right side up.")]
    assert machine.sitting.until_ns is None  # it has had its seconds: waits for the key
    machine.do(cmd.Again(), now_ns)
    assert machine.sitting.until_ns == now_ns + 38 * S


def test_a_spot_skipped_on_the_way_does_not_lose_the_turn() -> None:
    machine, now_ns = at_spot(0)
    now_ns = 18 * S
    machine.tick(now_ns)
    step = machine.do(cmd.Skip("sore"), now_ns + S)
    assert machine.sitting.index == 2
    assert said(step, "Turn") == [(now_ns + S, "Turn the dog: right side up.")]
    assert machine.sitting.until_ns == now_ns + S + 38 * S


def test_a_dog_that_is_half_turned_needs_the_time_of_a_turn_for_going_back_too() -> None:
    machine, _ = at_spot(0)
    machine.tick(18 * S)
    machine.do(cmd.Back(), 20 * S)
    assert machine.sitting.index == 0
    machine.do(cmd.Again(), 20 * S)
    # 8 s of way and 30 s to let it lie down again, as it lay at the start.
    assert machine.sitting.until_ns == (20 + 8 + 30) * S


def test_what_is_to_come_counts_every_turn() -> None:
    machine = Machine(SPOTS, Options())
    # Five holds of 10 s, five moves of 8 s, three turns of 30 s.
    assert machine.to_come_ns(0) == (50 + 40 + 90) * S
    # Back over two spots that had all they should: no way to them is to come any more.
    machine, now_ns = at_spot(2)
    for _again in range(2):
        machine.do(cmd.Back(), now_ns)
    # Spot 3 lacks 9 s and has a way of 8 s with a turn of 30 s; then two of 48 s each.
    assert machine.to_come_ns(now_ns) == (9 + 38 + 2 * 48) * S


@pytest.mark.parametrize(
    ("side", "position", "owner_sits", "words"),
    [
        ("left", "sternal", "left", "The side nearest you."),
        ("right", "sternal", "left", "The far side."),
        ("left", "standing", "right", "The far side."),
        ("right", "standing", "right", "The side nearest you."),
        # On its left side the right one is on top, wherever the owner sat before.
        ("right", "left lateral", "left", "The side nearest you, on top."),
        ("left", "left lateral", "left", "The far side, underneath."),
        ("right", "left lateral", "right", "The side nearest you, on top."),
        ("left", "right lateral", "right", "The side nearest you, on top."),
        ("right", "right lateral", "left", "The far side, underneath."),
        ("left", "sternal", None, ""),
    ],
)
def test_the_near_side(side: Side, position: Position, owner_sits: Side | None, words: str) -> None:
    assert near_text(spot(0, side, position), owner_sits) == words
    assert len(words.split()) <= 8


def test_the_middle_is_neither_near_nor_far() -> None:
    (middle, *_) = (
        s
        for s in spots_of(load_plan(PLANS / "demo-long-back.toml", today=TODAY).plan)
        if s.side == "middle"
    )
    assert near_text(middle, "left") == ""


def test_the_near_side_flips_with_the_turn_and_the_screen_knows() -> None:
    machine, now_ns = at_spot(0, Options(owner_sits="right"))

    def shown() -> tuple[str, str]:
        seen = view(machine, now_ns, dog="Pip", rehearsal=False, power_uw=1)
        return seen.near_side, seen.turn

    assert shown() == ("The far side.", "")
    step = machine.tick(now_ns := 18 * S)
    assert said(step, "nearest") == [(48 * S, "The side nearest you, on top.")]
    assert shown() == ("The side nearest you, on top.", "Turn the dog: right side up.")
    machine.tick(now_ns := 56 * S)
    assert shown() == ("The side nearest you, on top.", "")
    assert "The side nearest you, on top." in [c.text for c in machine.do(cmd.Say(), now_ns).cues]


def test_nothing_is_said_of_near_and_far_while_the_seat_is_not_known() -> None:
    texts = every_text(SPOTS, laser_button=False)
    assert not [text for text in texts if "near" in text or "far" in text]


STORY = st.lists(
    st.sampled_from(
        [cmd.Go(), cmd.Pause("asked"), cmd.CarryOn(), cmd.Skip("sore"), cmd.Again(), cmd.Back()]
    )
    | st.none(),
    max_size=40,
)


@settings(deadline=None)
@example([cmd.Go(), cmd.Skip("sore"), cmd.Again(), cmd.Go()], "wait", None)
@given(STORY, st.sampled_from(["auto", "wait"]), st.sampled_from([None, "left", "right"]))
def test_no_hold_begins_on_a_dog_that_was_not_turned(
    story: list[cmd.Command | None], advance: str, owner_sits: Side | None
) -> None:
    """Whatever happens: before each hold, the last word about lying is the one it needs."""
    options = Options(advance="wait" if advance == "wait" else "auto", owner_sits=owner_sits)
    prepared = set(every_text(SPOTS, laser_button=False, owner_sits=owner_sits))
    machine, now_ns, lies = Machine(SPOTS, options), 0, ""
    steps = [machine.do(cmd.Start(), 0)]
    for command in [*story, *([None] * 60)]:
        if machine.phase in OVER:
            break
        now_ns = machine.next_deadline(now_ns) or now_ns
        steps.append(machine.tick(now_ns))
        if command is not None:
            with contextlib.suppress(NotNow):
                steps.append(machine.do(command, now_ns))
    up = {"sternal": "chest", "left lateral": "right side up", "right lateral": "left side up"}
    for step in steps:
        for cue in step.cues:
            if cue.text.startswith(("Begin with", "Turn the dog")):
                lies = cue.text
                assert cue.text in prepared
        for event in step.events:
            if event.kind == "hold_started":
                position = SPOTS[event.spot].position  # type: ignore[attr-defined]
                assert position is not None
                assert up[position] in lies
