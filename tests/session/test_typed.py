"""The readiness round and the signs of the dog in lines of text, and what is typed there."""

import datetime
from pathlib import Path

import pytest

from coach.plan.files import load_plan
from coach.session.readiness import Answer, eyes_only, round_for
from coach.session.typed_answers import answer_typed, round_lines, signs_lines, signs_typed

PLAN = load_plan(
    Path(__file__).parents[2] / "plans" / "demo-long-back.toml", today=datetime.date(2026, 11, 25)
).plan


def test_a_question_is_numbered_and_shows_what_can_be_typed() -> None:
    asked = eyes_only(PLAN)
    lines = round_lines(asked)
    assert lines[0] == "Question 1 of 2: Is eyewear on everyone in the room?"
    assert lines[-2:] == ("  Enter: yes, done", "  n: not yet")
    assert len(lines) == 3 + len(asked.points[0].help)
    waits, _ = asked.answer("not_yet")
    assert round_lines(waits) == ("Take your time. I wait.", *lines)
    last, _ = asked.answer("done")
    assert round_lines(last)[0].startswith("Question 2 of 2: ")
    end, _ = last.answer("done")
    assert round_lines(end) == ()


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        ("y", "done"),
        ("yes", "done"),
        ("n", "not_yet"),
        ("no", "not_yet"),
        ("not yet", "not_yet"),
        ("maybe", None),
        ("", None),
    ],
)
def test_yes_and_no_are_typed_in_a_few_ways(words: str, answer: Answer | None) -> None:
    assert answer_typed(eyes_only(PLAN), words) == answer


def test_no_answer_fits_a_round_that_is_over_and_yes_means_what_is_asked() -> None:
    end, _ = eyes_only(PLAN).answer("done")[0].answer("done")
    assert answer_typed(end, "yes") is None
    now = round_for(PLAN, first=True)
    while now.point.id != "lump":
        assert now.prompt is not None
        now, _ = now.answer(now.prompt.options[0].answer)
    assert (answer_typed(now, "yes"), answer_typed(now, "no")) == ("yes", "no")


def test_about_health_enter_alone_is_no_answer_and_a_page_has_its_heading() -> None:
    now = round_for(PLAN, first=True)
    now, _ = now.answer("done")
    lines = round_lines(now)
    assert lines[0] == "About Juniper, once for this plan."
    assert lines[1].endswith("Does Juniper have metal implants or a pacemaker?")
    assert lines[-2:] == ("  n: no", "  y: yes")
    assert answer_typed(now, "") is None
    now, _ = now.answer("no")
    assert "About Juniper" not in " ".join(round_lines(now))


def test_signs_are_typed_by_their_keys() -> None:
    assert signs_lines()[:2] == ("What do you see? Type the keys, such as: 1 3", "  1  turns away")
    assert len(signs_lines()) == 15
    assert signs_typed("1 g 1") == ("turns_away", "growls")
    assert signs_typed("1 x") == ()
    assert signs_typed("") == ()
