"""How the dog is doing: the rhythm, the questions, and ``coach score``.

Scales: a plain 0-10 rating of function; three to five activities named by the owner, each 0-4
(people.md, "Outcome measures that may be shipped", after Lascelles 2008). Before the session,
the last score hidden, no cheering (body.md section 3, Conzemius & Evans 2012).
"""

import datetime
import io
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from coach.bedside.score_questions import score_due, score_questions
from coach.cli import run
from coach.cli.exits import Exit
from coach.journal.diary import read_diary
from coach.journal.diary_entries import ActivitiesNamed, FunctionScore, InstrumentTotal, LessonDone
from coach.paths import dog_folder

ROOT = Path(__file__).parents[2]
LONG_BACK = ROOT / "plans" / "demo-long-back.toml"
DAY = datetime.date(2026, 11, 25)
SCORE = FunctionScore(score_0_10=5)


def plan(tmp_path: Path, scores: str) -> str:
    path = tmp_path / "plan.toml"
    path.write_text(
        LONG_BACK.read_text("utf-8").replace("[settle]", f"[scores]\n{scores}\n[settle]")
    )
    return str(path)


def entries() -> tuple[object, ...]:
    return read_diary(dog_folder("Juniper")).entries


@pytest.mark.parametrize(
    ("days_ago", "every_days", "due"),
    [
        (None, 7, True),
        (None, None, False),
        (0, 1, False),
        (1, 1, True),
        (6, 7, False),
        (7, 7, True),
        (400, 7, True),
        (3, None, False),
        # The clock went back: rather asked twice than never.
        (-1, 7, True),
    ],
)
def test_a_score_is_due_by_the_plans_rhythm(
    days_ago: int | None, every_days: int | None, due: bool
) -> None:
    said = [(DAY - datetime.timedelta(days=400), SCORE), (DAY, LessonDone(right=1, of=3))]
    if days_ago is None:
        said = said[1:]
    else:
        said.append((DAY - datetime.timedelta(days=days_ago), SCORE))
    assert score_due(said, every_days=every_days, today=DAY) is due


def test_without_an_instrument_in_the_plan_no_total_is_asked_for() -> None:
    asking = score_questions("Juniper", activities=["a", "b", "c"], instrument="")
    assert [len(q.choices) for q in asking.questions] == [11, 5, 5, 5]
    asking = score_questions("Juniper", activities=[], instrument="the clinic's form")
    assert asking.questions[-1].text.endswith("this form: the clinic's form?")


def test_the_first_round_names_the_activities_and_the_next_hides_what_was_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path = plan(tmp_path, 'every_days = 7\ninstrument = "the clinic\'s form"')
    lines = ["the stairs", "The Stairs", "the sofa", "a long walk", "", ""]
    lines += ["8", "5", "4", "0", "2", "x", "12,50"]
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(lines) + "\n"))
    assert run(["score", path]) == Exit.DONE
    told = capsys.readouterr().out
    assert "You have named this one before." in told
    assert 'I found "5". It can be: 0, 1, 2, 3, 4.' in told
    assert 'I found "x". It can be a number from 0 to 1000.' in told
    named = ActivitiesNamed(activities=("the stairs", "the sofa", "a long walk"))
    score = FunctionScore(
        score_0_10=8,
        activities={"the stairs": 4, "the sofa": 0, "a long walk": 2},
        total=InstrumentTotal(instrument="the clinic's form", value=Decimal("12.50")),
    )
    assert entries() == (named, score)

    monkeypatch.setattr(sys, "stdin", io.StringIO("\n\n3\n"))
    assert run(["score", path]) == Exit.DONE
    told = capsys.readouterr().out
    assert "8" not in told
    assert "12" not in told
    assert entries()[2:] == (FunctionScore(activities={"the sofa": 3}),)


def test_nothing_answered_writes_nothing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("the stairs\n"))
    assert run(["score", plan(tmp_path, "every_days = 7")]) == Exit.DONE
    assert "Too few to watch" in capsys.readouterr().out
    assert entries() == ()


def test_scores_from_the_command_line_and_activities_of_the_plan(tmp_path: Path) -> None:
    path = plan(tmp_path, 'activities = ["stairs", "sofa", "walk"]')
    words = ["--function", "0", "--activity", "Sofa=4", "--activity", "walk = 1", "--by", "Ada"]
    assert run(["score", path, *words]) == Exit.DONE
    assert entries() == (FunctionScore(score_0_10=0, activities={"sofa": 4, "walk": 1}, by="Ada"),)


def test_bad_scores_are_all_told_and_nothing_is_kept(
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = ["--function", "11", "--activity", "stairs=5", "--total", "9", "--name", "a", "A", "b"]
    assert run(["score", str(LONG_BACK), *words, "--by", "y" * 50]) == Exit.BAD_INPUT
    told = capsys.readouterr().err
    for part in (
        "--by: found",
        "--function: found '11'; allowed: a whole number, 0 to 10",
        "--activity: found 'stairs=5'; allowed: NAME=0 to 4 of none named yet",
        "--total: found a total; allowed: only where the plan names an instrument",
        "--name: found ['a', 'A', 'b']; allowed: three to five that differ",
    ):
        assert part in told
    assert entries() == ()
