"""A rehearsal as a lesson: the places of the plan, a try of each, and three questions.

What is right is said in body.md: left and right are the dog's; the last rib is followed up and
forward, "straight up" is wrong (section 1); at a growl one stops at once (section 3).
"""

import datetime
import io
import time
from pathlib import Path

import pytest

from coach.bedside.evening import Ended, Evening, SessionWish
from coach.bedside.flow import Ask, Coach, Key, Pressed, Show, show
from coach.bedside.lesson_flow import lesson_for
from coach.bedside.lesson_pages import (
    RIGHT,
    Meeting,
    lesson_done,
    lesson_lines,
    meetings,
    teach_back,
)
from coach.bedside.pages import LessonPage
from coach.bedside.runner import Runner
from coach.bedside.session_flow import session_flow
from coach.body.regions import regions
from coach.journal.diary import read_diary
from coach.journal.diary_entries import LessonDone
from coach.lines.line_mode import PlainCoach, Typed
from coach.paths import dog_folder
from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.screens.lesson import LessonScreen
from coach.session.machine import Phase
from tests.flows import Play
from tests.screens.one_app import calm, flow_app
from tests.screens.thin import FakeTime

ROOT = Path(__file__).parents[2]
PLANS = [ROOT / "plans" / "demo-long-back.toml", ROOT / "plans" / "demo-big-hips.toml"]
TODAY = datetime.date(2026, 11, 25)


class Script:
    """An input that has ended."""

    def wait(self, timeout_s: float | None) -> Typed:
        time.sleep(timeout_s or 0)
        return Typed(ended=True)

    def forget(self) -> bool:
        return False


def test_the_lesson_meets_every_place_of_the_plan_once_in_its_order() -> None:
    spots = spots_of(load_plan(PLANS[1], today=TODAY).plan)
    met = meetings(spots)
    assert {meeting.region for meeting in met} == {spot.region for spot in spots}
    assert len({meeting.region for meeting in met}) == len(met)
    (stifle,) = [meeting for meeting in met if meeting.region == "stifle"]
    assert stifle.sides == ("left", "right")
    assert set(stifle.aspects) == {"lateral", "medial"}


@pytest.mark.parametrize("key", regions())
def test_a_place_is_taught_by_its_landmark_its_cautions_and_a_try(key: str) -> None:
    place = regions()[key]
    text = " ".join(lesson_lines(Meeting(region=key, sides=place.sides, aspects=place.aspects)))
    assert place.feel in text
    assert place.hold in text
    assert all(caution in text for caution in place.cautions)
    assert "laser off" in text


def test_what_is_right_is_a_choice_and_both_answers_are_explained_without_blame() -> None:
    for question in teach_back("Pip").questions:
        values = {choice.value for choice in question.choices}
        assert RIGHT[question.id] in values
        right = question.reply(RIGHT[question.id])
        assert right[0].startswith("Yes")
        for other in values - {RIGHT[question.id]}:
            told = question.reply(other)
            assert told[1:] == right[1:]
            assert "wrong" not in " ".join(told).lower()
    assert "straight up" not in str(RIGHT["last_rib"])


def test_how_much_was_known_counts_the_first_answers() -> None:
    assert lesson_done({}) is None
    assert lesson_done({"side": "mine"}) == LessonDone(right=0, of=1)
    assert lesson_done(RIGHT, by="Ada") == LessonDone(right=3, of=3, by="Ada")


def test_the_lesson_comes_first_and_its_questions_last(own_world: Path) -> None:
    wish = SessionWish(plan=PLANS[0], rehearsal=True, lesson=True, speed=1000)
    out = io.StringIO()

    def through(runner: Runner) -> Phase:
        # The input has ended: the coach presses the key itself.
        PlainCoach(runner, Script(), out=out).run()
        return runner.machine.phase

    played = Play(
        session_flow(Evening(), wish), ["on", through, ["mine", "forward", "at_once"]]
    ).run()
    assert isinstance(played.result, Ended)
    assert played.result.outcome == "done"
    assert [type(step) for step in played.steps] == [Show, Coach, Ask]
    assert "FINISHED" in out.getvalue()
    assert read_diary(dog_folder("Juniper")).entries == (LessonDone(right=2, of=3),)


@pytest.mark.parametrize(
    ("wish", "attended", "wanted"),
    [
        (SessionWish(rehearsal=True), True, True),
        (SessionWish(rehearsal=True), False, False),
        (SessionWish(rehearsal=True, speed=20), True, False),
        (SessionWish(rehearsal=True, speed=20, lesson=True), False, True),
        (SessionWish(rehearsal=True, lesson=False), True, False),
        (SessionWish(), True, False),
    ],
)
def test_by_itself_the_lesson_comes_once_and_where_somebody_is_there(
    wish: SessionWish, attended: bool, wanted: bool
) -> None:
    plan = load_plan(PLANS[0], today=TODAY).plan
    evening = Evening(attended=attended)
    lesson = lesson_for(evening, wish, plan)
    assert (lesson is not None) is wanted
    if lesson is not None:
        lesson.teaching.keep("side", "dog")
        assert lesson.teaching.finish() == ""
        assert (lesson_for(evening, wish, plan) is not None) is bool(wish.lesson)


@pytest.mark.parametrize(
    ("path", "size"),
    [(PLANS[0], (60, 20)), (PLANS[1], (80, 24)), (PLANS[1], (120, 40))],
    ids=["long-back-60x20", "big-hips-80x24", "big-hips-120x40"],
)
async def test_every_page_shows_all_its_words_and_a_picture(
    path: Path, size: tuple[int, int]
) -> None:
    spots = spots_of(load_plan(path, today=TODAY).plan)
    clock = FakeTime()
    said: list[str] = []
    page = LessonPage(dog="Pip", spots=spots, keys=(Key("on", "SPACE", "go on"),))
    app = flow_app(show(page), mono_ns=clock, say=said.append, look="dark")
    async with app.run_test(size=size) as pilot:
        for meeting in (None, *meetings(spots)):
            await calm(pilot)
            screen = app.screen
            assert isinstance(screen, LessonScreen)
            strips = app.screen._compositor.render_strips(app.size)
            rows = [strip.text.rstrip() for strip in strips]
            if meeting is not None:
                words = screen._words.rows
                assert " ".join(" ".join(words).split()) == " ".join(lesson_lines(meeting))
                assert all(words[n] in row for n, row in enumerate(rows[1 : len(words) + 1]))
                assert "██1██" in "\n".join(rows)
                key = "Press the big key when you have found it."
                assert said[-1] == " ".join((*lesson_lines(meeting), key))
            clock.pass_s(1)
            await pilot.press("space")
            # The same press, bouncing.
            await pilot.press("space")
    assert app.return_value == Pressed("on")
    assert said[-1] == ""
    assert len(said) == 2 + len(meetings(spots))
