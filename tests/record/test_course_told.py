"""The months of a course as text: every day where a wall calendar has it, every state told."""

import calendar as wall
import datetime
import re

import pytest

from coach.plan.calendar import due_dates
from coach.reports import calendar_text as told
from tests.plan.courses import BERLIN, DAY, MONDAY, NEW_YORK, plan_of, session

THREE = {"times_a_week": 3, "weeks": 2, "rest_days": ["sunday"]}


@pytest.mark.parametrize("month", [(2026, 2), (2026, 11), (2027, 8), (2028, 2)])
def test_a_month_has_its_days_under_their_weekdays(month: tuple[int, int]) -> None:
    """The standard library's own month is the referee."""
    calendar = due_dates(plan_of(THREE), None, [], datetime.date(*month, 3), BERLIN)
    rows = told.month_rows(calendar, month, {}, ascii_only=True)
    plain = wall.TextCalendar().formatmonth(*month, w=3).splitlines()
    found = [re.sub(r"[^ 0-9]", " ", row) for row in rows[2:]]
    assert [row.split() for row in found if row.strip()] == [row.split() for row in plain[2:]]
    for row, expected in zip(found, plain[2:], strict=False):
        firsts = [(m.start() + 1) // 4 for m in re.finditer(r"\d+", row)]
        assert firsts == [m.end() // 4 for m in re.finditer(r"\d+", expected)]
    assert all(len(row) == told.MONTH_COLUMNS for row in rows)


@pytest.mark.parametrize("ascii_only", [False, True])
def test_every_state_has_its_own_sign_on_its_day(ascii_only: bool) -> None:
    plan = plan_of(THREE, calendar={"missed": "ask", "window_days": 0})
    held = [session(1, MONDAY), session(2, MONDAY + DAY)]
    calendar = due_dates(plan, None, held, MONDAY + 4 * DAY, BERLIN)
    (rows,) = told.month_pages(calendar, width=60, ascii_only=ascii_only)
    text = "\n".join(rows)
    given, extra, ask, due, coming = "*+?#o" if ascii_only else "✓+?●○"
    # Given on Monday the 30th, unasked on the 1st, missed on the 2nd, due on the 4th.
    for shown in (f"30{given}", f" 1{extra}", f" 2{ask}", f"[ 4{due}", f" 7{coming}", " 6r"):
        assert shown in text
    assert text.isascii() is ascii_only
    legend = told.legend_text(calendar, ascii_only=ascii_only)
    assert f"{ask} missed, ask" in legend
    remarks = " ".join(told.remark_lines(calendar))
    assert "1 session was missed. Ask your prescriber whether to make it up." in remarks


def test_what_is_odd_about_a_course_is_said() -> None:
    plan = plan_of({**THREE, "starts_on": MONDAY}, calendar={"missed": "shift"})
    plan = plan.model_copy(
        update={"about": plan.about.model_copy(update={"valid_until": MONDAY + 9 * DAY})}
    )
    held = [
        session(1, MONDAY - DAY),
        session(2, MONDAY, plan_revision=2),
        session(3, MONDAY + DAY, plan_id="another"),
        session(4, MONDAY + 2 * DAY, zone=NEW_YORK),
    ]
    calendar = due_dates(plan, None, held, MONDAY + 3 * DAY, BERLIN)
    text = " ".join(told.remark_lines(calendar))
    for words in (
        "1 session from before the course began is not counted.",
        "1 session of another plan is not counted, but its distance is kept.",
        "1 session was logged in another time zone: its day is the day there.",
        "Some sessions were given under revision 2 of the plan; now it is 3.",
        "1 session comes after the last day of the plan, 2026-12-09. Ask your prescriber.",
    ):
        assert words in text


def test_the_head_says_what_is_next() -> None:
    plan = plan_of(THREE, calendar={"missed": "drop"})
    first = [session(1, MONDAY)]

    def head(days: int, held: int = 1) -> str:
        return told.headline(due_dates(plan, None, first[:held], MONDAY + days * DAY, BERLIN))

    assert head(0, held=0) == "The first session starts the course. It has 6 sessions."
    assert head(1) == "Next: session 2 of 6, on We 2026-12-02."
    assert head(2) == "Today: session 2 of 6."
    early = due_dates(plan, None, first, MONDAY + DAY, BERLIN)
    assert told.early_text(early) == "Not due yet: the next session is due on We 2026-12-02."
    assert told.early_text(due_dates(plan, None, first, MONDAY + 2 * DAY, BERLIN)) == ""
    assert told.early_text(due_dates(plan, None, [], MONDAY, BERLIN)) == ""
    assert head(3) == ("Session 2 of 6 was due on We 2026-12-02. It may be given today.")
    assert head(60) == "The course has come to its end. Your prescriber says how to go on."
    without = due_dates(plan_of(), None, [], MONDAY, BERLIN)
    assert told.headline(without) == "The plan does not say how often. Ask your prescriber."
    assert list(told.due_lines(without)) == []
