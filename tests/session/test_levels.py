"""Reminders fade with practice; one early sign is taught a session, in a move and never in a hold.

The levels, and that they fade: house rule, common practice, no source.
"""

import datetime
from dataclasses import replace
from pathlib import Path

import pytest

from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.session import commands as cmd
from coach.session.coaching_level import TECHNIQUE, has_room, level_for, tips_for
from coach.session.cues import Cue
from coach.session.machine import OVER, Machine, Options, Phase
from coach.session.signals import EARLY
from tests.worlds import spots_for

PLAN = load_plan(
    Path(__file__).parents[2] / "plans" / "demo-long-back.toml", today=datetime.date(2026, 11, 25)
).plan
SPOTS = spots_of(PLAN)
LESSONS = [signal.lesson for signal in EARLY]


def said(options: Options) -> list[tuple[Phase, Cue]]:
    """Every cue of a whole session with the phase in which it is said."""
    machine = Machine(SPOTS, options)
    cues = [(machine.phase, cue) for cue in machine.do(cmd.Start(), 0).cues]
    heard = [(Phase.MOVING, cue) for _, cue in cues]
    now_ns = 0
    while machine.phase not in OVER:
        now_ns = machine.next_deadline(now_ns) or now_ns
        step = machine.tick(now_ns)
        heard += [(machine.phase, cue) for cue in step.cues]
    return heard


@pytest.mark.parametrize(
    ("done", "level"), [(0, "full"), (2, "full"), (3, "short"), (9, "short"), (10, "few")]
)
def test_the_level_comes_from_the_sessions_done(done: int, level: str) -> None:
    assert level_for(done) == level
    assert level_for(done, "full") == "full"
    assert level_for(done, "few") == "few"


@pytest.mark.parametrize(("done", "technique"), [(0, 3), (5, 1), (20, 0)])
def test_a_session_reminds_less_with_practice_and_teaches_one_sign_in_a_move(
    done: int, technique: int
) -> None:
    level = level_for(done)
    tips = tips_for(SPOTS, level=level, sessions_done=done)
    heard = said(Options(tips=tips, reminders=level))
    about = [(phase, cue.text) for phase, cue in heard if cue.text in (*TECHNIQUE, *LESSONS)]
    assert {phase for phase, _ in about} == {Phase.MOVING}
    assert len({text for _, text in about if text in TECHNIQUE}) == technique
    assert [text for _, text in about if text in LESSONS] == [EARLY[done % 7].lesson]
    # Never more than one of them on one way.
    assert len({index for index, _ in tips}) == len(tips)
    assert all(len(text.split()) <= 8 for _, text in about)


def test_while_the_dog_is_turned_no_sentence_has_room() -> None:
    (spot,) = spots_for([10], move_s=20)
    # Eight seconds without the turn.
    assert has_room(replace(spot, turn_ns=12 * 10**9))
    assert not has_room(replace(spot, turn_ns=12 * 10**9 + 1))


def test_a_way_that_is_too_short_for_a_sentence_has_none() -> None:
    rules = PLAN.rules.model_copy(update={"move_seconds": 3})
    hurried = spots_of(PLAN.model_copy(update={"rules": rules}))
    tips = dict(tips_for(hurried, level="full", sessions_done=0))
    assert all(hurried[index].move_ns - hurried[index].turn_ns >= 8 * 10**9 for index in tips)


def test_a_turn_takes_the_room_of_a_sentence_and_the_sign_comes_at_the_first_free_way() -> None:
    turned, free, later = spots_for([10, 10, 10], move_s=8)
    turned = replace(turned, turn_ns=1)
    tips = tips_for([turned, free, later], level="few", sessions_done=0)
    assert tips == ((1, LESSONS[0]),)


def test_whoever_gives_a_spot_again_is_not_told_how() -> None:
    machine = Machine(SPOTS, Options(tips=((0, TECHNIQUE[0]),)))
    assert TECHNIQUE[0] in [cue.text for cue in machine.do(cmd.Start(), 0).cues]
    machine.do(cmd.Go(), 1)
    assert TECHNIQUE[0] not in [cue.text for cue in machine.do(cmd.Again(), 10**9).cues]
