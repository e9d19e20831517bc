"""The readiness round as time passes: said once, waited for, and nobody answers in their sleep."""

import datetime
from dataclasses import replace
from pathlib import Path

import pytest

from coach.plan.files import load_plan
from coach.session import commands as cmd
from coach.session.readiness import eyes_only, round_for, waiting
from coach.session.readiness_timing import AWAY_NS, Preparing, read_ns
from coach.units import NS_PER_S

PLAN = load_plan(
    Path(__file__).parents[2] / "plans" / "demo-long-back.toml", today=datetime.date(2026, 11, 25)
).plan
KEYS = ("Big key: yes, done.", "N: not yet.")
EYEWEAR = ("Is eyewear on everyone in the room?", *KEYS, "R: more.")
DOG_EYES = ("Are Juniper's eyes covered or turned away?", *KEYS, "R: more.")


def test_a_question_is_said_once_and_then_once_that_the_coach_waits() -> None:
    preparing = Preparing(eyes_only(PLAN))
    said = [sentence for second in range(3600) for sentence in preparing.tick(second * NS_PER_S)]
    assert said == [*EYEWEAR, waiting()]
    assert preparing.away
    assert preparing.deadline_ns(3600 * NS_PER_S) is None


def test_the_first_key_of_an_owner_who_comes_back_answers_nothing() -> None:
    preparing = Preparing(eyes_only(PLAN))
    preparing.tick(0)
    assert preparing.deadline_ns(NS_PER_S) == AWAY_NS
    preparing.tick(AWAY_NS)
    assert preparing.one_key() is None
    assert not preparing.away
    assert preparing.tick(AWAY_NS + 1) == EYEWEAR
    answer = preparing.one_key()
    assert answer == "done"
    following, _ = preparing.round.answer(answer)
    assert preparing.go_to(following, AWAY_NS + 2) == DOG_EYES


def test_back_and_say_are_all_that_can_be_asked_for_meanwhile() -> None:
    preparing = Preparing(eyes_only(PLAN))
    preparing.tick(0)
    following, _ = preparing.round.answer("done")
    preparing.go_to(following, 1)
    assert preparing.command(cmd.Back(), 2) == EYEWEAR
    again = preparing.command(cmd.Say(), 3)
    assert (again[0], *again[-2:]) == (EYEWEAR[0], *KEYS)
    for command in (cmd.Start(), cmd.CarryOn(), cmd.Go(), cmd.Skip(), cmd.Again()):
        with pytest.raises(ValueError, match="the questions come first"):
            preparing.command(command, 4)


def test_the_end_of_the_round_is_told() -> None:
    preparing = Preparing(eyes_only(PLAN))
    preparing.tick(0)
    last, _ = preparing.round.answer("done")
    end, _ = last.answer("done")
    assert preparing.go_to(end, 1) == ("All is ready. Press to start.",)
    assert not preparing.asks
    assert preparing.tick(2) == ()
    stopping = Preparing(round_for(PLAN, first=True))
    now = stopping.round
    while now.point.id != "lump":
        assert now.prompt is not None
        now, _ = now.answer(now.prompt.options[0].answer)
    stopped, _ = now.answer("yes")
    told = stopping.go_to(stopped, 1)
    assert told[0] == "No session today. Phone your vet."
    assert len(told) == 2


def test_whoever_asks_to_hear_it_again_is_there() -> None:
    preparing = Preparing(eyes_only(PLAN))
    preparing.tick(0)
    preparing.tick(AWAY_NS)
    assert preparing.away
    preparing.command(cmd.Say(), AWAY_NS + 1)
    assert not preparing.away
    assert preparing.deadline_ns(AWAY_NS + 1) == 2 * AWAY_NS + 1
    # Not yet ready is an answer too.
    waits, _ = preparing.round.answer("not_yet")
    assert preparing.go_to(waits, AWAY_NS + 5)[0] == "Take your time. I wait."
    assert preparing.deadline_ns(AWAY_NS + 5) == 2 * AWAY_NS + 5


def test_about_health_the_one_key_answers_nothing_by_itself() -> None:
    preparing = Preparing(round_for(PLAN, first=False))
    preparing.tick(0)
    following, _ = preparing.round.answer("done")
    said = preparing.go_to(following, 1)
    assert said[0] == "Is anything on this list new with Juniper?"
    assert "Big key: no." not in said
    assert preparing.one_key() is None


def test_a_question_is_there_for_as_long_as_it_takes_to_read() -> None:
    # 240 words a minute, from memory: a word in 0.25 s; at least 1.2 s.
    prompt = eyes_only(PLAN).prompt
    assert prompt is not None
    assert len(prompt.lines[0].split()) == 7
    assert read_ns(prompt) == 7 * NS_PER_S // 4
    assert read_ns(replace(prompt, lines=("Why?",))) == 12 * NS_PER_S // 10
