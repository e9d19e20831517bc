"""The calm touch before the first spot: a cue with its seconds, laser off, never counted.

Dog, people and laser are invented.
"""

from coach.journal.header import header_of
from coach.plan.findings import total_ns
from coach.plan.spots import session_of, spots_in, spots_of
from coach.session import commands as cmd
from coach.session import events as ev
from coach.session.cues import every_text
from coach.session.machine import Machine, Options
from coach.units import NS_PER_S
from tests.plan.test_format_2 import PLAN_2
from tests.plan.test_phases import file_of
from tests.plan.worlds import changed, read

S = NS_PER_S
TOUCH = "[care]\ntouch_seconds = 30\n"
PLAIN = read(PLAN_2)
TOUCHED = read(changed(("[[regions]]", f"{TOUCH}\n[[regions]]"), text=PLAN_2))


def test_it_takes_its_time_before_the_first_spot_and_gives_nothing() -> None:
    plain, touched = spots_of(PLAIN), spots_of(TOUCHED)
    assert touched[0].move_ns - plain[0].move_ns == 30 * S
    assert touched[1:] == plain[1:]
    assert sum(s.hold_ns for s in touched) == sum(s.hold_ns for s in plain)
    assert total_ns(touched) - total_ns(plain) == 30 * S


def test_the_touch_is_said_first_and_the_place_when_it_is_over() -> None:
    machine = Machine(spots_of(TOUCHED), Options())
    step = machine.do(cmd.Start(), 0)
    said = {cue.text: cue.at_ns for cue in step.cues}
    touch_ns, place_ns = (
        said["Laser off. Stroke the dog calmly."],
        said["Lower back, left, spot one."],
    )
    assert place_ns - touch_ns >= 30 * S
    moves = [event for event in step.events if isinstance(event, ev.MoveStarted)]
    assert moves[0].until_ns == machine.spots[0].move_ns
    # Nothing is counted while the dog is stroked.
    machine.tick(29 * S)
    assert machine.given_ns(0, 29 * S) == 0
    # Back to the first spot: nobody strokes again.
    until_ns = machine.spots[0].move_ns + machine.spots[0].hold_ns
    machine.tick(machine.spots[0].move_ns)
    machine.tick(until_ns)
    back = machine.do(cmd.Back(), until_ns + S)
    assert "Laser off. Stroke the dog calmly." not in {cue.text for cue in back.cues}


def test_the_prescribers_words_are_said_and_kept_in_the_log() -> None:
    text = changed(
        ("[[regions]]", f'{TOUCH}touch_words = "Lay a hand on its neck."\n\n[[regions]]'),
        text=PLAN_2,
    )
    plan = read(text)
    spots = spots_of(plan)
    assert "Lay a hand on its neck." in every_text(spots, laser_button=False)
    header = header_of(file_of(plan), spots, Options(), version="0", rehearsal=False)
    assert spots_in(header["spots"]) == spots  # type: ignore[arg-type]


def test_without_it_nothing_changes() -> None:
    assert session_of(PLAIN).spots[0].touch_ns == 0
    assert "Laser off. Stroke the dog calmly." not in every_text(
        spots_of(PLAIN), laser_button=False
    )
