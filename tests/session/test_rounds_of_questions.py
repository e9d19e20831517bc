"""A round of questions: what is asked, what may be typed, which dog it is and who treats."""

import pytest

from coach.session.household_questions import SOMEBODY_ELSE, name_of_helper, which_dog, who_treats
from coach.session.question_text import question_lines, spoken_text, typed
from coach.session.questions import Answer, Asking, Choice, Question, numbered, scale

SKIN = Question(
    id="skin",
    text="How is the skin?",
    help=("Look where the spots were.",),
    choices=numbered(("fine", "as always"), ("warm", "warm"), ("red", "red or hot")),
    reply=lambda answer: ("Phone your vet.",) if answer == "red" else (),
)
TOLERANCE = Question(id="tolerance", text="How did it go?", choices=scale(0, 10))


def number_of(text: str) -> Answer:
    if not text.strip().isdigit():
        raise ValueError("Give a number.")
    return int(text)


AGE = Question(id="age", text="How old?", typed=number_of)
ROUND = Asking(questions=(SKIN, TOLERANCE, AGE))


def test_answers_are_kept_by_question_and_lead_to_the_end() -> None:
    now = ROUND.answer("warm").answer(7).answer(12)
    assert now.answers == {"skin": "warm", "tolerance": 7, "age": 12}
    assert now.over
    assert now.question is None
    assert now.on() is now
    with pytest.raises(ValueError, match="nothing is asked"):
        now.answer(1)


def test_a_reply_is_told_before_the_next_question_even_at_the_end() -> None:
    for start in (ROUND, Asking(questions=(SKIN,))):
        told = start.answer("red")
        assert told.told == ("Phone your vet.",)
        assert told.question is None
        assert not told.over
        assert told.on().told == ()
    assert Asking(questions=(SKIN,)).answer("red").on().over
    assert ROUND.answer("red").on().question is TOLERANCE


def test_back_is_the_question_before_and_from_a_reply_its_own_question() -> None:
    assert ROUND.back().question is SKIN
    assert ROUND.answer("fine").back().question is SKIN
    assert ROUND.answer("red").back().question is SKIN
    at_the_third = ROUND.answer("fine").on()
    assert at_the_third.question is AGE
    assert at_the_third.back().question is TOLERANCE
    assert at_the_third.back().back().answer("warm").answers == {"skin": "warm"}


def test_a_question_may_be_left_without_an_answer() -> None:
    assert ROUND.on().on().on().over
    assert ROUND.on().answers == {}


def test_only_a_choice_is_an_answer() -> None:
    with pytest.raises(ValueError, match="skin: 'blue' is none of the choices"):
        ROUND.answer("blue")


def test_a_question_has_either_choices_or_typing_and_each_key_once() -> None:
    with pytest.raises(ValueError, match="x: either choices or typed"):
        Question(id="x", text="?")
    with pytest.raises(ValueError, match="x: either choices or typed"):
        Question(id="x", text="?", choices=scale(0, 1), typed=number_of)
    twice = (Choice(key="1", value=1), Choice(key="1", value=2))
    with pytest.raises(ValueError, match="x: a key twice"):
        Question(id="x", text="?", choices=twice)


def test_keys_of_a_scale_are_its_digits_and_ten_has_a_letter() -> None:
    assert [choice.key for choice in scale(0, 10)] == [*"0123456789", "t"]
    assert [choice.value for choice in scale(0, 10)] == list(range(11))
    assert [choice.key for choice in scale(2, 4)] == ["2", "3", "4"]
    ten = TOLERANCE.by_key("t")
    assert ten is not None
    assert ten.value == 10
    assert TOLERANCE.by_key("x") is None


def test_numbered_choices_count_from_one() -> None:
    assert [(c.key, c.value, c.words) for c in SKIN.choices] == [
        ("1", "fine", "as always"),
        ("2", "warm", "warm"),
        ("3", "red", "red or hot"),
    ]


# In lines of text


def test_a_question_is_printed_with_its_answers_and_how_to_give_one() -> None:
    assert question_lines(ROUND) == (
        "How is the skin?",
        "Look where the spots were.",
        "  1  as always",
        "  2  warm",
        "  3  red or hot",
        "Type the number. Only Enter: go on without. back: the one before.",
    )
    assert question_lines(ROUND.on()) == (
        "How did it go?",
        "Type a number from 0 to 10. Only Enter: go on without.",
    )
    assert question_lines(ROUND.on().on()) == (
        "How old?",
        "Type it and press Enter. Only Enter: go on without. back: the one before.",
    )
    assert question_lines(ROUND.answer("red")) == ("Phone your vet.", "Press Enter to go on.")
    assert question_lines(ROUND.on().on().on()) == ()


def test_what_is_said_is_the_question_with_the_keys_or_the_reply() -> None:
    assert spoken_text(ROUND).startswith(
        "How is the skin? Look where the spots were. 1: as always. 2: warm. 3: red or hot."
    )
    # Ten has the letter T.
    assert spoken_text(ROUND.on()).startswith("How did it go? Press a number from 0 to 10. T: 10.")
    short = Asking(questions=(Question(id="x", text="How many?", choices=scale(1, 4)),))
    assert spoken_text(short).startswith("How many? Press a number from 1 to 4.")
    assert "T:" not in spoken_text(short)
    assert spoken_text(ROUND.on().on()).startswith("How old? ")
    assert spoken_text(ROUND.answer("red")).startswith("Phone your vet. ")


@pytest.mark.parametrize(
    ("line", "answer"),
    [("2", "warm"), (" warm ", "warm"), ("AS  ALWAYS", "fine"), ("red", "red"), ("Fine", "fine")],
)
def test_a_key_its_words_or_its_value_may_be_typed(line: str, answer: str) -> None:
    assert typed(ROUND, line).answers == {"skin": answer}


def test_enter_goes_on_and_back_goes_back() -> None:
    assert typed(ROUND, "  ").question is TOLERANCE
    assert typed(ROUND.on(), "Back").question is SKIN
    assert typed(ROUND.answer("red"), "anything").question is TOLERANCE
    assert typed(ROUND.on(), "10").answers == {"tolerance": 10}
    assert typed(ROUND.on().on(), "12").answers == {"age": 12}


def test_what_is_no_answer_is_told_with_what_can_be() -> None:
    with pytest.raises(ValueError, match=r'^I found "blue sky"\. It can be: 1, 2, 3\.$'):
        typed(ROUND, "blue  sky")
    with pytest.raises(ValueError, match=r"It can be: 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10\.$"):
        typed(ROUND.on(), "11")
    with pytest.raises(ValueError, match=f'"{"y" * 40}"'):
        typed(ROUND, "y" * 60)
    with pytest.raises(ValueError, match="Give a number"):
        typed(ROUND.on().on(), "twelve")


# Which dog, and who treats


def test_which_dog_is_answered_by_its_place() -> None:
    asking = which_dog(["Pip", "Rex"])
    assert question_lines(asking)[:3] == ("Which dog is in front of you?", "  1  Pip", "  2  Rex")
    assert typed(asking, "rex").answers == {"dog": 1}
    assert typed(asking, "1").over
    many = which_dog([f"Dog {number}" for number in range(12)]).question
    assert many is not None
    assert len(many.choices) == 9


def test_who_treats_may_be_somebody_else() -> None:
    asking = who_treats([f"Helper {number}" for number in range(12)])
    assert question_lines(asking)[:2] == ("Who treats today?", "It is written in the log.")
    assert asking.question is not None
    assert len(asking.question.choices) == 9
    assert typed(asking, "helper 7").answers == {"helper": "Helper 7"}
    assert typed(asking, "9").answers == {"helper": SOMEBODY_ELSE}
    assert question_lines(asking)[-2] == "  9  somebody else"


def test_a_new_helper_is_asked_for_a_name_that_can_be_kept() -> None:
    def short(text: str) -> str:
        if len(text) > 10:
            raise ValueError("of the file")
        return text.title()

    asking = name_of_helper(short)
    assert question_lines(asking)[:3] == (
        "Who treats? What is your name?",
        "It is written in the log, so that the vet knows who to ask.",
        "You are asked once. You may leave it out.",
    )
    assert typed(asking, "sam").answers == {"new_helper": "Sam"}
    with pytest.raises(ValueError, match=r"^Use a short name\.$"):
        typed(asking, "a name that is too long")
