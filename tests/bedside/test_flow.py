"""A flow is data: what it yields, what comes back, and what happens when nobody is there."""

import pytest

from coach.bedside.flow import (
    Ask,
    Flow,
    Gone,
    Key,
    Show,
    Tell,
    TextPage,
    Work,
    ask,
    choose,
    show,
    tell,
    work,
)
from coach.session.questions import Answer, Asking, Question, numbered
from tests.flows import Play

COLOUR = Question(
    id="colour", text="Which colour?", choices=numbered(("red", "red"), ("blue", "blue"))
)
NAME = Question(id="name", text="Whose is it?", typed=lambda text: text.strip().title())
PAGE = TextPage(text=("A page.",), keys=(Key("on", "SPACE", "go on"), Key("back", "B", "back")))


def whole() -> Flow[list[object]]:
    asked = yield from ask(Asking(questions=(COLOUR, NAME)))
    yield from tell("Written down.")
    pressed = yield from show(PAGE)
    done = yield from work(lambda progress: 7, "Counting.")
    return [dict(asked.answers), pressed.id, done]


def test_a_flow_runs_on_a_list_of_answers() -> None:
    played = Play(whole(), [["blue", "juniper"], "back"]).run()
    assert played.ended
    assert played.result == [{"colour": "blue", "name": "Juniper"}, "back", 7]
    assert [type(step) for step in played.steps] == [Ask, Tell, Show, Work]
    assert played.told() == ["Written down."]


def test_what_nobody_answers_stays_open() -> None:
    played = Play(whole(), [{"name": "rowan"}, "on"]).run()
    assert played.result[0] == {"name": "Rowan"}


def test_a_flow_is_told_that_nobody_is_there_any_more() -> None:
    kept: list[str] = []

    def flow() -> Flow[None]:
        try:
            yield from choose(COLOUR)
        except Gone:
            kept.append("written")
            raise

    played = Play(flow(), []).run()
    assert not played.ended
    assert kept == ["written"]


def test_nothing_is_asked_of_an_empty_round_and_nothing_told_without_words() -> None:
    def flow() -> Flow[bool]:
        asked = yield from ask(Asking(questions=()))
        yield from tell()
        return asked.over

    played = Play(flow(), []).run()
    assert (played.steps, played.result) == ([], True)


def test_a_key_that_the_page_has_not_is_no_answer() -> None:
    with pytest.raises(ValueError, match="the page has back, on"):
        Play(show(PAGE), ["start"]).run()


def test_an_answer_that_cannot_be_kept_is_no_answer() -> None:
    def full(question: str, answer: Answer) -> str:
        return f"{question}: no room for {answer}."

    with pytest.raises(ValueError, match="no room for red"):
        Play(ask(Asking(questions=(COLOUR,)), keep=full), [["red"]]).run()
