"""The lesson, the questions after a session and the scores: words and figures.

What is asked and answered stands as it is read. When to phone the vet, what to do about hot skin
and for which signs to stop: body.md, section 3, common practice; scales: tests/cli/test_score.py.
"""

import datetime
from decimal import Decimal
from typing import Any

import pytest

from coach.bedside.lesson_pages import Meeting, lesson_done, meetings, teach_back
from coach.bedside.score_questions import (
    named,
    naming_questions,
    score_due,
    score_entry,
    score_questions,
    total_of,
)
from coach.journal.diary_entries import AfterSession, Entry, FunctionScore, LessonDone
from coach.plan.spots import Spot
from coach.record.after_questions import (
    after_entry,
    after_questions,
    line_of_words,
    next_lines,
    vet_signs,
    vet_signs_due,
)
from coach.session.questions import Question
from coach.units import NS_PER_S

S = NS_PER_S
TODAY = datetime.date(2026, 11, 30)


def asked(question: Question) -> tuple[str, tuple[str, ...], list[tuple[str, Any, str]]]:
    """The question, what helps with it, and key, value and words of each answer."""
    choices = [(choice.key, choice.value, choice.text) for choice in question.choices]
    return question.text, question.help, choices


# After a session


def test_after_a_session_that_was_stopped_four_things_are_asked() -> None:
    why, skin, tolerance, words = after_questions("Pip", stopped=True).questions
    assert why.id == "stop_reason"
    assert asked(why) == (
        "Why did you stop?",
        ("To stop is always right. It helps your vet to know why.",),
        [
            ("1", "dog_unhappy", "the dog was not happy"),
            ("2", "hot_skin", "the skin was hot or red"),
            ("3", "no_time", "no more time"),
            ("4", "asked", "another reason"),
        ],
    )
    assert skin.id == "skin"
    assert asked(skin) == (
        "How is the skin where the laser was?",
        ("Part the hair and look. Feel it with the back of your hand.",),
        [("1", "fine", "fine, as before"), ("2", "warm", "warm"), ("3", "red", "red")],
    )
    assert tolerance.id == "tolerance_0_10"
    assert asked(tolerance) == (
        "How well did Pip put up with it?",
        ("0: not at all. 10: at ease all the time.",),
        [(str(n) if n < 10 else "t", n, "") for n in range(11)],
    )
    assert words.id == "words"
    assert asked(words) == (
        "Is there anything you want to tell the vet?",
        ("One line in your own words.",),
        [],
    )
    assert words.typed is line_of_words


@pytest.mark.parametrize(
    ("stopped", "said", "left"),
    [
        (False, None, ["skin", "tolerance_0_10", "words"]),
        (True, {"stop_reason": "asked"}, ["skin", "tolerance_0_10", "words"]),
        (True, {"skin": "fine"}, ["stop_reason", "tolerance_0_10", "words"]),
        (True, {"tolerance_0_10": 0}, ["stop_reason", "skin", "words"]),
        (True, {"words": "x"}, ["stop_reason", "skin", "tolerance_0_10"]),
        (True, {}, ["stop_reason", "skin", "tolerance_0_10", "words"]),
    ],
)
def test_only_what_was_not_answered_yet_is_asked(
    stopped: bool, said: dict[str, Any] | None, left: list[str]
) -> None:
    answered = None if said is None else AfterSession(session="s", **said)
    asking = after_questions("Pip", stopped=stopped, answered=answered)
    assert [question.id for question in asking.questions] == left


def test_each_answer_that_matters_is_followed_by_what_to_do() -> None:
    why, skin, *_rest = after_questions("Pip", stopped=True).questions
    assert why.reply("hot_skin") == (
        "No more laser on that place today.",
        "Phone your vet before the next session.",
    )
    assert why.reply("dog_unhappy") == (
        "That was right. Leave that place alone for today.",
        "Tell your vet about it before the next session.",
    )
    assert [why.reply(answer) for answer in ("no_time", "asked")] == [(), ()]
    assert skin.reply("red") == (
        "No more laser on that place today.",
        "Phone your vet if it stays red, and at once if there is a blister.",
    )
    assert [skin.reply(answer) for answer in ("fine", "warm")] == [(), ()]


def test_words_become_one_line_of_at_most_two_thousand_letters() -> None:
    assert line_of_words("  she\tlicked \x1b\n it ") == "she licked it"
    assert line_of_words("x" * 2000) == "x" * 2000
    with pytest.raises(ValueError, match=r"^That is too long: at most 2000 letters\.$"):
        line_of_words("x" * 2001)
    for nothing in ("", " \t", "\x1b"):
        with pytest.raises(ValueError, match=r"^There is nothing to write down yet\.$"):
            line_of_words(nothing)


def test_an_answer_becomes_an_entry_about_its_session() -> None:
    entry = after_entry("000001-x", "tolerance_0_10", 7, by="Ada")
    assert entry == AfterSession(session="000001-x", tolerance_0_10=7, by="Ada")
    assert after_entry("000001-x", "skin", "red") == AfterSession(session="000001-x", skin="red")


@pytest.mark.parametrize(
    ("answers", "due"),
    [
        ({}, False),
        ({"stop_reason": "no_time", "skin": "fine", "tolerance_0_10": 4}, False),
        ({"stop_reason": "dog_unhappy"}, True),
        ({"stop_reason": "hot_skin"}, True),
        ({"skin": "warm"}, True),
        ({"skin": "red"}, True),
        ({"tolerance_0_10": 3}, True),
        ({"tolerance_0_10": 0}, True),
        ({"tolerance_0_10": None}, False),
    ],
)
def test_when_to_phone_the_vet_is_read_where_an_answer_asks_for_it(
    answers: dict[str, object], due: bool
) -> None:
    assert vet_signs_due(answers, first=False) is due
    assert vet_signs_due(answers, first=True) is True
    assert vet_signs("Pip") == (
        "Phone the vet at once for: a blister, a collapse, a fit.",
        "Phone the vet as well if Pip is clearly worse tomorrow.",
    )


def next_said(
    *,
    days: int | None = None,
    hours: float | None = None,
    over: bool = False,
    gap: str | None = None,
    trusted: bool = True,
) -> tuple[str, ...]:
    """``days`` from a Monday at 19:30; the gap lets the next begin ``hours`` after it."""
    now = datetime.datetime(2026, 11, 30, 19, 30, tzinfo=datetime.UTC)
    return next_lines(
        due=None if days is None else TODAY + datetime.timedelta(days=days),
        not_before=None if hours is None else now + datetime.timedelta(hours=hours),
        over=over,
        gap_hours=None if gap is None else Decimal(gap),
        now=now,
        trusted=trusted,
    )


def test_the_next_session_is_told_as_the_owner_counts_days() -> None:
    assert next_said() == ()
    assert next_said(gap="24") == ()
    assert next_said(days=-1) == ("Next session: today.",)
    assert next_said(days=0) == ("Next session: today.",)
    assert next_said(days=1) == ("Next session: tomorrow.",)
    assert next_said(days=2) == ("Next session: in 2 days, on 2026-12-02.",)
    # The gap alone, or on the very day.
    assert next_said(hours=2) == ("Next session: today from 21:30 on.",)
    assert next_said(days=0, hours=2) == ("Next session: today from 21:30 on.",)
    assert next_said(hours=24) == ("Next session: tomorrow from 19:30 on.",)
    assert next_said(days=1, hours=24) == ("Next session: tomorrow from 19:30 on.",)
    assert next_said(hours=48.5) == ("Next session: in 2 days, on 2026-12-02, from 20:00 on.",)
    # The later of both; of the gap no hour where the day is a later one.
    assert next_said(days=3, hours=24) == ("Next session: in 3 days, on 2026-12-03.",)
    assert next_said(days=0, hours=72) == (
        "Next session: in 3 days, on 2026-12-03, from 19:30 on.",
    )


def test_without_a_clock_only_the_hours_between_are_told() -> None:
    assert next_said(days=1, hours=24, gap="20", trusted=False) == (
        "Next session: in 20 hours or later.",
    )
    assert next_said(days=1, hours=24, trusted=False) == ()
    over = ("This was the last session of the plan.", "Ask your vet how to go on.")
    assert next_said(days=1, over=True, gap="20") == over
    assert next_said(days=1, over=True, gap="20", trusted=False) == over


# The lesson


def spot(region: str, side: str, aspect: str | None = None) -> Spot:
    return Spot(
        index=0,
        region=region,
        side=side,  # type: ignore[arg-type]
        aspect=aspect,
        number=1,
        of=1,
        hold_ns=S,
        move_ns=S,
    )


def test_the_lesson_meets_each_region_once_with_its_sides_and_faces() -> None:
    spots = [
        spot("lumbar", "right"),
        spot("stifle", "left", "medial"),
        spot("lumbar", "middle"),
        spot("stifle", "left", "lateral"),
        spot("lumbar", "right"),
        spot("stifle", "left", "medial"),
        spot("lumbar", "left"),
    ]
    assert meetings(spots) == (
        Meeting(region="lumbar", sides=("left", "middle", "right"), aspects=()),
        Meeting(region="stifle", sides=("left",), aspects=("medial", "lateral")),
    )
    assert meetings(spots[:2])[0].sides == ("right",)
    assert meetings([]) == ()


def test_the_three_questions_of_the_lesson_and_what_is_said_to_each_answer() -> None:
    side, rib, stop = teach_back("Pip").questions
    assert [question.id for question in (side, rib, stop)] == ["side", "last_rib", "stop"]
    assert asked(side) == (
        "Pip looks at you, and the plan says left. Whose left is that?",
        (),
        [("1", "mine", "mine"), ("2", "dog", "the dog's")],
    )
    why = (
        "Left and right are always the dog's, wherever you sit.",
        "When a dog looks at you, its left is on your right.",
    )
    assert side.reply("dog") == ("Yes, the dog's.", *why)
    assert side.reply("mine") == ("Many people think so at first.", *why)
    assert asked(rib) == (
        "Where does the last rib meet the back?",
        ("You feel the end of the last rib at the side.",),
        [
            ("1", "forward", "along the rib, up and to the front"),
            ("2", "straight_up", "straight up from its end"),
        ],
    )
    why = (
        "The rib runs up and to the front.",
        "Go along it with a finger until you come to the back.",
    )
    assert rib.reply("forward") == ("Yes, along the rib.", *why)
    assert rib.reply("straight_up") == ("Many people think so at first.", *why)
    assert asked(stop) == (
        "Pip growls, and ten seconds are left. What do you do?",
        (),
        [
            ("1", "after", "hold on for ten seconds, then stop"),
            ("2", "at_once", "take the head off and stop"),
        ],
    )
    signs = (
        "Stop at once at a growl, a snap, a flinch, a yelp or a freeze.",
        "Stop as well if it shakes, if the skin is hot or red,",
        "or if it has left twice. You never have to give a reason first.",
    )
    assert stop.reply("at_once") == ("Yes, stop at once.", *signs)
    assert stop.reply("after") == ("Many people think so at first.", *signs)


def test_a_lesson_counts_first_answers() -> None:
    assert lesson_done({}) is None
    all_right = {"side": "dog", "last_rib": "forward", "stop": "at_once"}
    assert lesson_done(all_right, by="Ada") == LessonDone(right=3, of=3, by="Ada")
    one = {**all_right, "side": "mine", "stop": "after"}
    assert lesson_done(one) == LessonDone(right=1, of=3)
    assert lesson_done({"stop": "after"}) == LessonDone(right=0, of=1)


# Scores


def test_the_scores_are_asked_for_in_these_words() -> None:
    function, stairs, sofa, total = score_questions(
        "Pip", activities=["stairs", "sofa"], instrument="LOAD"
    ).questions
    assert [question.id for question in (function, stairs, sofa, total)] == [
        "function",
        "activity_0",
        "activity_1",
        "total",
    ]
    assert asked(function) == (
        "How well does Pip get about these days?",
        ("Think of the last seven days.", "0: not at all. 10: as well as you can think of."),
        [(str(n) if n < 10 else "t", n, "") for n in range(11)],
    )
    assert asked(stairs) == (
        "stairs: how well does it go?",
        ("Think of the last seven days.",),
        [
            ("0", 0, "not at all"),
            ("1", 1, "with great trouble"),
            ("2", 2, "with some trouble"),
            ("3", 3, "nearly with ease"),
            ("4", 4, "with ease"),
        ],
    )
    assert asked(sofa)[0] == "sofa: how well does it go?"
    assert asked(total) == (
        "What is the total of this form: LOAD?",
        ("Your vet asks for it. Fill in the form on paper first.",),
        [],
    )
    assert total.typed is total_of
    (only,) = score_questions("Pip", activities=[], instrument="").questions
    assert only == function


def test_what_to_watch_is_asked_for_five_times() -> None:
    questions = naming_questions("Pip").questions
    assert [question.id for question in questions] == [f"activity_{n}" for n in range(5)]
    assert [question.text for question in questions] == [
        "What would you like to see Pip do with ease again?",
        *["What else would you like to see Pip do with ease again?"] * 4,
    ]
    assert [question.help for question in questions] == [
        (
            f"Name 3 to 5 things, one by one. This is number {number}.",
            "A few words each, such as: climb the stairs.",
        )
        for number in range(1, 6)
    ]


def test_answers_become_a_score_of_what_was_answered() -> None:
    activities = ["stairs", "sofa", "car"]
    assert score_entry({}, activities=activities, instrument="") is None
    entry = score_entry(
        {"function": 0, "activity_0": 4, "activity_2": 0, "total": "21.50"},
        activities=activities,
        instrument="LOAD",
        by="Ada",
    )
    assert entry is not None
    assert entry.payload() == {
        "score_0_10": 0,
        "activities": {"stairs": 4, "car": 0},
        "total": {"instrument": "LOAD", "value": "21.50"},
        "by": "Ada",
    }
    entry = score_entry({"activity_1": 2}, activities=activities, instrument="LOAD")
    assert entry is not None
    assert entry.payload() == {
        "score_0_10": None,
        "activities": {"sofa": 2},
        "total": None,
        "by": "",
    }
    three = {"activity_0": "a", "activity_1": "b", "activity_2": "c"}
    told = named(three)
    assert told is not None
    assert (told.activities, told.by) == (("a", "b", "c"), "")


def test_scores_come_in_the_rhythm_of_the_plan() -> None:
    def due(*days: int, every: int | None = 7) -> bool:
        said: list[tuple[datetime.date, Entry]] = [
            (TODAY - datetime.timedelta(days=ago), FunctionScore(score_0_10=5)) for ago in days
        ]
        # What else is in the diary is no score.
        said.append((TODAY, AfterSession(session="s")))
        return score_due(said, every_days=every, today=TODAY)

    assert not due(every=None)
    assert due()
    assert [due(ago) for ago in (0, 6, 7, 8)] == [False, False, True, True]
    # The last one said counts; one from the future is a clock that went back.
    assert not due(30, 1)
    assert due(1, 30)
    assert due(-1)
