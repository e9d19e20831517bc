"""The questions after a session and the scores: what may be typed, and what each answer brings.

Scales: tests/cli/test_score.py has the source. What to do about hot or red skin: common practice,
no source.
"""

import pytest

from coach.bedside.score_questions import (
    activity_of,
    named,
    naming_questions,
    score_questions,
    total_of,
)
from coach.journal.diary_entries import AfterSession
from coach.record.after_questions import after_questions


def test_every_answer_about_a_stop_or_the_skin_is_explained_where_it_matters() -> None:
    asking = after_questions("Pip", stopped=True)
    told = {
        (question.id, choice.value): question.reply(choice.value)
        for question in asking.questions
        for choice in question.choices
    }
    # Nothing more on a place that was hot, red or minded; nothing to read for the rest.
    matters = {("stop_reason", "hot_skin"), ("stop_reason", "dog_unhappy"), ("skin", "red")}
    assert {key for key, lines in told.items() if lines} == matters
    assert all("vet" in told[key][1] for key in matters)
    assert [question.id for question in asking.questions] == [
        "stop_reason",
        "skin",
        "tolerance_0_10",
        "words",
    ]
    said = AfterSession(session="s", stop_reason="asked", skin="fine", tolerance_0_10=0, words="x")
    assert after_questions("Pip", stopped=True, answered=said).over


def test_scores_have_a_word_for_each_step_and_all_questions_their_number() -> None:
    function, stairs = score_questions("Pip", activities=["stairs"], instrument="").questions
    assert [choice.value for choice in function.choices] == list(range(11))
    assert [(choice.key, choice.value) for choice in stairs.choices] == [
        (str(step), step) for step in range(5)
    ]
    assert len({choice.text for choice in stairs.choices} - {""}) == 5
    naming = naming_questions("Pip").questions
    assert len(naming) == 5
    for number, question in enumerate(naming, start=1):
        assert "Pip" in question.text
        assert f"This is number {number}." in question.help[0]
        assert question.typed is activity_of


def test_what_is_typed_is_taken_in_a_few_plain_words() -> None:
    assert activity_of("  climb\tthe \x1b stairs ") == "climb the stairs"
    assert activity_of("x" * 40) == "x" * 40
    for text in ("", " \t", "x" * 41):
        with pytest.raises(ValueError, match="at most 40 letters"):
            activity_of(text)
    assert [total_of(text) for text in ("0", " 3,5 ", "1000")] == ["0", "3.5", "1000"]
    for text in ("-1", "1000.1", "NaN", "many"):
        with pytest.raises(ValueError, match=f'"{text}". It can be a number from 0 to 1000'):
            total_of(text)
    names = {"activity_0": "Stairs", "activity_1": "stairs", "activity_2": "sofa"}
    assert named(names) is None
    told = named({**names, "activity_3": "car"}, by="Ada")
    assert told is not None
    assert (told.activities, told.by) == (("Stairs", "sofa", "car"), "Ada")
