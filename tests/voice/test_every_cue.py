"""Every line that a demo session can say, rendered by the real engine in a real child process."""

import wave
from array import array
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import pytest

from coach.plan.files import load_plan
from coach.plan.spots import Spot, spots_of
from coach.session import commands as cmd
from coach.session import cues
from coach.session.cues import Cue, every_text
from coach.session.machine import OVER, Machine, Options
from coach.units import NS_PER_S
from coach.voice.mixer import AFTER_TONE_NS
from coach.voice.render import Cache
from tests.e2e.virtual import TODAY

PLANS = sorted((Path(__file__).parents[2] / "plans").glob("demo-*.toml"))

# A line that nothing follows on a schedule still has to be over before the player gives up on
# last words, or before the owner asks again. Common practice, no source.
AT_MOST_NS = 5 * NS_PER_S
# -40 dB of full scale: far above the noise of a 16-bit file, far below any speech.
SILENCE = 330


def spots_in(plan: Path) -> tuple[Spot, ...]:
    return spots_of(load_plan(plan, today=TODAY).plan)


@pytest.fixture(params=PLANS, ids=lambda plan: plan.stem)
def spots(request: pytest.FixtureRequest) -> tuple[Spot, ...]:
    plan: Path = request.param
    return spots_in(plan)


def cues_of(spots: tuple[Spot, ...], options: Options) -> list[Cue]:
    """What an undisturbed session says, in its order in time."""
    machine = Machine(spots, options)
    said = list(machine.do(cmd.Start(), 0).cues)
    now_ns = 0
    while machine.phase not in OVER:
        deadline_ns = machine.next_deadline(now_ns)
        if deadline_ns is None:
            said += machine.do(cmd.Go(), now_ns).cues
        else:
            now_ns = deadline_ns
            said += machine.tick(now_ns).cues
    return sorted(said, key=lambda cue: cue.at_ns)


def shortest_slots_ns(said: list[Cue]) -> dict[str, int]:
    """For each text, the shortest time from its begin to the next tone or line."""
    slots: dict[str, int] = defaultdict(lambda: AT_MOST_NS)
    for cue, following in pairwise(said):
        if cue.text:
            begins_ns = cue.at_ns + (AFTER_TONE_NS if cue.tone else 0)
            slots[cue.text] = min(slots[cue.text], following.at_ns - begins_ns)
    return dict(slots)


def sound_of(path: Path) -> "array[int]":
    """The samples, after a look at the form: mono, 16 bit, 22 050 Hz."""
    with wave.open(str(path), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, 22_050)
        return array("h", file.readframes(file.getnframes()))


def lasts_ns(samples: "array[int]") -> int:
    return len(samples) * NS_PER_S // 22_050


def test_there_are_two_demo_plans() -> None:
    assert len(PLANS) == 2


@pytest.mark.long
@pytest.mark.parametrize("laser_button", [False, True])
def test_each_line_is_a_sound_file_with_sound_in_it(
    speech: Cache, spots: tuple[Spot, ...], *, laser_button: bool
) -> None:
    texts = every_text(spots, laser_button=laser_button)
    assert speech.render(texts) == {}
    for text in texts:
        samples = sound_of(speech.path(text))
        assert max(map(abs, samples)) > SILENCE, text
        assert lasts_ns(samples) < AT_MOST_NS, text


@pytest.mark.parametrize("laser_button", [False, True])
def test_each_line_is_over_before_the_next_begins(
    speech: Cache, spots: tuple[Spot, ...], *, laser_button: bool
) -> None:
    slots = shortest_slots_ns(cues_of(spots, Options(laser_button=laser_button)))
    assert speech.render(slots) == {}
    assert set(slots) <= set(every_text(spots, laser_button=laser_button))
    too_long = {
        text: (lasts_ns(sound_of(speech.path(text))), slot_ns)
        for text, slot_ns in slots.items()
        if lasts_ns(sound_of(speech.path(text))) >= slot_ns
    }
    assert too_long == {}


def test_where_to_go_is_told_before_the_move_is_over(
    speech: Cache, spots: tuple[Spot, ...]
) -> None:
    # Once more, and the whole place: the longest that is ever said on one move.
    for spot in spots:
        lines = [cues.ONCE_MORE, cues.place_text(spot)]
        assert speech.render(lines) == {}
        total_ns = sum(lasts_ns(sound_of(speech.path(line))) for line in lines)
        assert total_ns < spot.move_ns, (lines, total_ns, spot.move_ns)


def test_the_count_of_the_last_three_fits_into_its_seconds(speech: Cache) -> None:
    counted = [cues.count_text(seconds) for seconds in cues.COUNTED_S]
    assert counted == ["Three.", "Two.", "One."]
    assert speech.render(counted) == {}
    for text in counted:
        assert lasts_ns(sound_of(speech.path(text))) < NS_PER_S, text


def test_no_line_has_more_than_eight_words(spots: tuple[Spot, ...]) -> None:
    for laser_button in (False, True):
        for text in every_text(spots, laser_button=laser_button):
            assert len(text.split()) <= 8, text


def test_a_session_that_is_asked_for_everything_says_nothing_unprepared(
    spots: tuple[Spot, ...],
) -> None:
    prepared = set(every_text(spots, laser_button=False))
    machine = Machine(spots, Options(repeats_allowed=1))
    now_ns = 0
    said = list(machine.do(cmd.Start(), now_ns).cues)
    commands: list[cmd.Command] = [
        cmd.Say(),
        cmd.Pause("dog_moved"),
        cmd.Say(),
        cmd.CarryOn(),
        cmd.Again(),
        cmd.Skip("dog_objects"),
        cmd.Back(),
        cmd.Stop("dog_unhappy"),
    ]
    for command in commands:
        # Into the hold, and three seconds on.
        while machine.phase.value == "moving":
            deadline_ns = machine.next_deadline(now_ns)
            assert deadline_ns is not None
            now_ns = deadline_ns
            said += machine.tick(now_ns).cues
        now_ns += 3 * NS_PER_S
        said += machine.do(command, now_ns).cues
    assert {cue.text for cue in said if cue.text} - prepared == set()
