"""A whole session with the screen off: a listener who hears the cues and sees nothing knows, at
each start tone, where the head belongs; when to lift it; how the dog lies; and what to do next.
"""

from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest

from coach.body import region
from coach.plan.files import load_plan
from coach.plan.spots import Spot, spots_of
from coach.session import commands as cmd
from coach.session.cues import Cue
from coach.session.machine import OVER, Machine, Options
from coach.units import NS_PER_S
from tests.e2e.virtual import TODAY

PLANS = sorted((Path(__file__).parents[2] / "plans").glob("demo-*.toml"))

NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
# What an owner takes from the words. Left lateral recumbency is left side down, right side up.
LIES = {
    "on its chest": "sternal",
    "onto its chest": "sternal",
    "standing": "standing",
    "let it stand": "standing",
    "right side up": "left lateral",
    "left side up": "right lateral",
}


@dataclass
class Listener:
    """Knows only what was said."""

    regions: dict[str, str]
    region: str = ""
    side: str = ""
    number: int = 1
    lies: str = ""
    waits: bool = False
    laser_off: bool = False
    said: list[str] = field(default_factory=list)

    def hears(self, text: str) -> None:
        self.said.append(text)
        words = text.lower()
        for told, position in LIES.items():
            if words.startswith(("begin with", "turn the dog")) and told in words:
                self.lies = position
        place = next((name for name in self.regions if name in words), None)
        if place is not None:
            self.region = self.regions[place]
            around = words.replace(place, " ")
            self.side = next(s for s in ("left", "right", "middle") if s in around)
            self.number = 1
        if "spot" in words and ("next" in words or place is not None):
            self.number = 1 + NUMBERS.index(words.rstrip(".").split("spot ")[1])
        self.waits = self.waits or text == "Press when ready."
        self.laser_off = self.laser_off or "Switch the laser off" in text


def coached(machine: Machine) -> list[tuple[Cue, int, bool]]:
    """Every cue with the spot it came with and whether a hand was waited for; all is obeyed."""
    told = []
    now_ns = 0
    step = machine.do(cmd.Start(), now_ns)
    while True:
        waits = machine.sitting.until_ns is None and machine.phase not in OVER
        told += [(cue, machine.sitting.index, waits) for cue in step.cues]
        if machine.phase in OVER:
            return told
        if waits:
            now_ns += 20 * NS_PER_S
            step = machine.do(cmd.Go(), now_ns)
        else:
            deadline_ns = machine.next_deadline(now_ns)
            assert deadline_ns is not None
            now_ns = deadline_ns
            step = machine.tick(now_ns)


@pytest.mark.parametrize("plan", PLANS, ids=lambda path: path.stem)
@pytest.mark.parametrize("advance", ["auto", "wait"])
def test_nothing_that_is_needed_is_only_seen(plan: Path, advance: str) -> None:
    loaded = load_plan(plan, today=TODAY).plan
    spots = spots_of(loaded)
    button = loaded.laser.starts == "button at each spot"
    machine = Machine(
        spots,
        Options(
            advance="wait" if advance == "wait" else "auto",
            laser_button=button,
            repeats_allowed=0,
        ),
    )
    told = coached(machine)
    listener = Listener({region(spot.region).spoken: spot.region for spot in spots})
    starts: list[tuple[int, Spot]] = []
    ends: list[int] = []
    remaining = iter(spots)
    for cue, _, waits in sorted(told, key=lambda item: item[0].at_ns):
        if cue.tone == "start":
            spot = next(remaining)
            known = (listener.region, listener.side, listener.number)
            assert known == (spot.region, spot.side, spot.number), listener.said[-4:]
            if spot.position is not None:
                assert listener.lies == spot.position, listener.said[-4:]
            assert not waits
            assert listener.waits == (advance == "wait"), "a hand is asked for when one is needed"
            listener.waits = False
            assert ("Start the laser" in cue.text) == button
            starts.append((cue.at_ns, spot))
        if cue.tone == "end":
            ends.append(cue.at_ns)
        if cue.text:
            listener.hears(cue.text)
    # A tone begins and a tone ends each spot, after its seconds exactly.
    assert len(starts) == len(ends) == len(spots)
    for (begins_ns, spot), ends_ns in zip(starts, ends, strict=True):
        assert ends_ns - begins_ns == spot.hold_ns
    assert all(end < begin for end, (begin, _) in zip(ends, starts[1:], strict=False))
    assert all(before < after for before, after in pairwise(ends))
    assert listener.said[-1] == "All done. Switch the laser off."


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (cmd.Pause("dog_moved"), "Paused. Lift the laser off."),
        (cmd.Stop("hot_skin"), "Stopped. Switch the laser off."),
        (cmd.Skip("sore"), "Skipped."),
        (cmd.Say(), "seconds left."),
    ],
)
def test_what_the_owner_asks_for_is_answered_aloud(asked: cmd.Command, told: str) -> None:
    spots = spots_of(load_plan(PLANS[1], today=TODAY).plan)
    machine = Machine(spots, Options(advance="wait"))
    machine.do(cmd.Start(), 0)
    machine.do(cmd.Go(), NS_PER_S)
    cues = machine.do(asked, 4 * NS_PER_S).cues
    assert any(told in cue.text for cue in cues), cues
