"""A rehearsal as a lesson: the places of the plan, a try of each, and three questions.

What is right is said in body.md: left and right are the dog's; the last rib is followed up and
forward, "straight up" is wrong (section 1); at a growl one stops at once (section 3).
"""

import datetime
import io
import sys
from pathlib import Path

import pytest

from coach.bedside.lesson_pages import RIGHT, Meeting, lesson_done, meetings, teach_back
from coach.body.regions import regions
from coach.cli import parser, run
from coach.cli.exits import Exit
from coach.cli.lesson import lesson_for
from coach.journal.diary import read_diary
from coach.journal.diary_entries import LessonDone
from coach.paths import dog_folder
from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.screens.lesson import LessonScreen, lesson_lines
from coach.screens.screen_sequence import RoundsApp
from tests.screens.thin import FakeTime, settled

ROOT = Path(__file__).parents[2]
PLANS = [ROOT / "plans" / "demo-long-back.toml", ROOT / "plans" / "demo-big-hips.toml"]
TODAY = datetime.date(2026, 11, 25)


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


def test_line_by_line_the_lesson_comes_first_and_its_questions_last(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = ["", "", "q", "1", "", "1", "", "2", ""]
    typed = io.StringIO("".join(f"{line}\n" for line in lines))
    words = ["--lesson", "--plain", "--silent", "--speed", "1000"]
    with Path("/dev/null").open(encoding="utf-8") as nobody:
        # To the session itself it looks like an input that has ended.
        monkeypatch.setattr(typed, "fileno", nobody.fileno, raising=False)
        monkeypatch.setattr(sys, "stdin", typed)
        assert run(["rehearse", str(PLANS[0]), *words]) == Exit.DONE
    told = capsys.readouterr().out
    order = ["This is a lesson.", "Where: Find the bump", "FINISHED", "whose left", "you do?"]
    places = [told.lower().index(part.lower()) for part in order]
    assert places == sorted(places)
    assert "Many people think so at first." in told
    assert read_diary(dog_folder("Juniper")).entries == (LessonDone(right=2, of=3),)


@pytest.mark.parametrize(
    ("words", "plain", "wanted"),
    [
        ((), False, True),
        ((), True, False),
        (("--speed", "20"), False, False),
        (("--speed", "20", "--lesson"), True, True),
        (("--no-lesson",), False, False),
    ],
)
def test_by_itself_the_lesson_comes_once_and_where_there_is_a_screen(
    words: tuple[str, ...], plain: bool, wanted: bool
) -> None:
    plan = load_plan(PLANS[0], today=TODAY).plan
    args = parser().parse_args(["rehearse", *words])
    lesson = lesson_for(args, plan, spots_of(plan), plain=plain)
    assert (lesson is not None) is wanted
    if lesson is not None:
        lesson.teaching.keep("side", "dog")
        assert lesson.teaching.finish() == ""
        again = lesson_for(args, plan, spots_of(plan), plain=plain)
        assert (again is not None) is ("--lesson" in words)


@pytest.mark.parametrize(
    ("path", "size"),
    [(PLANS[0], (60, 20)), (PLANS[1], (80, 24)), (PLANS[1], (120, 40))],
    ids=["long-back-60x20", "big-hips-80x24", "big-hips-120x40"],
)
async def test_every_page_shows_all_its_words_and_a_picture(
    path: Path, size: tuple[int, int]
) -> None:
    spots = spots_of(load_plan(path, today=TODAY).plan)
    time = FakeTime()
    said: list[str] = []
    screen = LessonScreen("Pip", spots, mono_ns=time, say=said.append)
    app = RoundsApp([lambda: screen])
    async with app.run_test(size=size) as pilot:
        for meeting in (None, *meetings(spots)):
            await settled(pilot)  # type: ignore[arg-type]
            strips = app.screen._compositor.render_strips(app.size)
            rows = [strip.text.rstrip() for strip in strips]
            if meeting is not None:
                words = screen._words.rows
                assert " ".join(" ".join(words).split()) == " ".join(lesson_lines(meeting))
                assert all(words[n] in row for n, row in enumerate(rows[1 : len(words) + 1]))
                assert "██1██" in "\n".join(rows)
                key = "Press the big key when you have found it."
                assert said[-1] == " ".join((*lesson_lines(meeting), key))
            time.pass_s(1)
            await pilot.press("space")
            # The same press, bouncing.
            await pilot.press("space")
    assert app.return_value is True
    assert said[-1] == ""
    assert len(said) == 2 + len(meetings(spots))
