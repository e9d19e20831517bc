"""How often and for how long: the tables [[course]] and [calendar], read, refused and told."""

from pathlib import Path
from typing import NamedTuple

import pytest

from coach.plan.draft import next_revision, to_plan
from coach.plan.files import load_plan
from coach.plan.findings import findings
from coach.plan.spots import spots_of
from coach.plan.summary_text import summary_lines
from coach.plan.write import write_plan
from tests.plan.worlds import PLAN, TODAY, changed, line_in, problems_of, read

COURSE = '[[course]]\nname = "induction"\ntimes_a_week = 3\nweeks = 2\n'
assert COURSE in PLAN


def course(*tables: str) -> str:
    """The small plan with these tables instead of its course."""
    return PLAN.replace(COURSE, "\n".join(tables) + "\n")


def phase(*lines: str) -> str:
    return "\n".join(('[[course]]\nname = "phase"', *lines))


class Bad(NamedTuple):
    """``at``: the first words of the line that is named."""

    tables: tuple[str, ...]
    at: str
    field: str
    found: str
    allowed: str


APART = "(least_days_between under [calendar])"
BAD = {
    "a course of zero weeks": Bad(
        (phase("times_a_week = 3", "weeks = 0"),),
        "weeks = 0",
        "course[1].weeks",
        "0",
        "a whole number, 1 to 104",
    ),
    "no word on how often": Bad(
        (phase("weeks = 2"),),
        "[[course]]",
        "course[1].times_a_week",
        "nothing",
        "this field must be there, such as times_a_week = 3; or every_days; or dates",
    ),
    "two words on how often": Bad(
        (phase("times_a_week = 3", "every_days = 2", "weeks = 2"),),
        "every_days",
        "course[1].every_days",
        "beside times_a_week",
        "only one of times_a_week, every_days, dates",
    ),
    "no weeks": Bad(
        (phase("every_days = 2"),),
        "[[course]]",
        "course[1].weeks",
        "nothing",
        "this field must be there, such as weeks = 2",
    ),
    "weeks beside dates": Bad(
        (phase("dates = [2026-12-01]", "weeks = 1"),),
        "weeks",
        "course[1].weeks",
        "1",
        "not beside dates",
    ),
    "dates out of order": Bad(
        (phase("dates = [2026-12-02, 2026-12-01]"),),
        "dates",
        "course[1].dates",
        "[2026-12-02, 2026-12-01]",
        "each later than the one before",
    ),
    "a date in quotes": Bad(
        (phase('dates = ["2026-12-02"]'),),
        "dates",
        "course[1].dates[1]",
        '"2026-12-02"',
        "a date without quotes",
    ),
    "phases that overlap": Bad(
        (
            phase("times_a_week = 3", "weeks = 2", "starts_on = 2026-11-30"),
            phase("times_a_week = 2", "weeks = 2", "starts_on = 2026-12-13"),
        ),
        "starts_on = 2026-12-13",
        "course[2].starts_on",
        '2026-12-13, in the middle of "phase"',
        "2026-12-14 or later: phases do not overlap",
    ),
    "dates that overlap": Bad(
        (
            phase("times_a_week = 3", "weeks = 2", "starts_on = 2026-11-30"),
            phase("dates = [2026-12-10]"),
        ),
        "dates",
        "course[2].dates",
        '2026-12-10, in the middle of "phase"',
        "2026-12-14 or later: phases do not overlap",
    ),
    "a date after a phase without one": Bad(
        (
            phase("times_a_week = 3", "weeks = 2"),
            phase("times_a_week = 2", "weeks = 2", "starts_on = 2026-12-20"),
        ),
        "starts_on",
        "course[2].starts_on",
        "2026-12-20",
        "a date only where the phases before it have one too: starts_on in [[course]]",
    ),
    "no such day": Bad(
        (phase("times_a_week = 3", "weeks = 2", 'rest_days = ["sundy"]'),),
        "rest_days",
        "course[1].rest_days[1]",
        '"sundy"',
        '"monday", "tuesday", "wednesday", "thursday", "friday", "saturday" or "sunday"',
    ),
    "a rest day twice": Bad(
        (phase("times_a_week = 3", "weeks = 2", 'rest_days = ["sunday", "sunday"]'),),
        "rest_days",
        "course[1].rest_days",
        '["sunday", "sunday"]',
        "each only once",
    ),
    "more often than the rest days leave": Bad(
        (
            phase("times_a_week = 3", "weeks = 2", 'rest_days = ["saturday", "sunday"]'),
            "[calendar]\nleast_days_between = 3",
        ),
        "times_a_week",
        "course[1].times_a_week",
        "3",
        "at most 2, with the rest days and least_days_between of this plan",
    ),
    "every other day with two days between": Bad(
        (phase("every_days = 2", "weeks = 2"), "[calendar]\nleast_days_between = 3"),
        "every_days",
        "course[1].every_days",
        "2",
        f"at least 3 days from one to the next {APART}",
    ),
    "dates too near": Bad(
        (phase("dates = [2026-12-01, 2026-12-02]"), "[calendar]\nleast_days_between = 2"),
        "dates",
        "course[1].dates",
        "[2026-12-01, 2026-12-02]",
        f"at least 2 days from one to the next {APART}",
    ),
    "another rule for a missed session": Bad(
        (COURSE, '[calendar]\nmissed = "double"'),
        "missed",
        "calendar.missed",
        '"double"',
        '"shift", "drop" or "ask"',
    ),
    "a time that no clock shows": Bad(
        (COURSE, '[calendar]\nat = ["24:00"]'),
        "at",
        "calendar.at[1]",
        '"24:00"',
        'a time of day in quotes, such as "19:00"',
    ),
    "hours around no time": Bad(
        (COURSE, "[calendar]\nwindow_hours = 3"),
        "[calendar]",
        "calendar.at",
        "nothing",
        'the time of day that window_hours is counted from, such as at = ["19:00"]',
    ),
    "two windows": Bad(
        (COURSE, '[calendar]\nat = ["19:00"]\nwindow_hours = 3\nwindow_days = 1'),
        "window_days",
        "calendar.window_days",
        "1",
        "only one of both windows",
    ),
    "the evening before the morning": Bad(
        (COURSE, '[calendar]\nat = ["19:00", "08:00"]'),
        "at",
        "calendar.at",
        '["19:00", "08:00"]',
        "the earlier time first",
    ),
}


@pytest.mark.parametrize("case", BAD.values(), ids=BAD)
def test_a_course_that_cannot_be_is_refused_with_its_place(case: Bad) -> None:
    text = course(*case.tables)
    (problem,) = problems_of(text)
    assert (problem.field, problem.found, problem.allowed) == (
        case.field,
        case.found,
        case.allowed,
    )
    assert problem.line == line_in(text, f"\n{case.at}") + 1


FULL = course(
    phase("times_a_week = 3", "weeks = 2", "starts_on = 2026-11-30", 'rest_days = ["sunday"]'),
    phase("every_days = 14", "weeks = 4"),
    phase("dates = [2027-01-11, 2027-02-08]"),
    '[calendar]\nmissed = "shift"\nat = ["19:00"]\nwindow_hours = 3\nleast_days_between = 2',
)


def test_a_whole_course_is_kept_through_writing_and_told() -> None:
    plan = read(FULL)
    assert read(write_plan(plan)) == plan
    again = to_plan(next_revision(plan, today=TODAY), today=TODAY)
    assert (again.course, again.calendar) == (plan.course, plan.calendar)
    # 3 x 2; days 0 and 14 of 28; two dates.
    assert [each.sessions for each in plan.course] == [6, 2, 2]
    told = [text for _, text in course_words(FULL)]
    assert any("from 2026-11-30 to 2027-02-08" in text for text in told)


def course_words(text: str) -> list[tuple[str, str]]:
    plan = read(text)
    return [
        (f.field, f.text)
        for f in findings(plan, spots_of(plan), today=TODAY)
        if "course" in f.field
    ]


def test_a_course_denser_than_the_hours_allow_is_remarked() -> None:
    text = changed(("[settle]", "[limits]\nleast_hours_between = 72\n[settle]"))
    ((field, remark),) = course_words(text)
    assert field == "course[1]"
    assert "more often than can be" in remark
    assert not course_words(PLAN)


def test_the_summary_says_how_often(tmp_path: Path) -> None:
    path = tmp_path / "spine.toml"
    path.write_text(FULL, encoding="utf-8")
    plan_file = load_plan(path, today=TODAY)
    said = " ".join(" ".join(summary_lines(plan_file, spots_of(plan_file.plan), [])).split())
    assert "3 times a week for 2 weeks from 2026-11-30, never on Sunday, 6 sessions" in said
    assert "phase: every 14 days for 4 weeks, 2 sessions" in said
    assert "phase: on 2027-01-11, 2027-02-08, 2 sessions" in said
    assert "in all 10 sessions" in said
    assert "a missed session: the rest moves on" in said
