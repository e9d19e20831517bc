"""A course in words: each number and each sentence, of calendars laid out by hand.

What is expected is counted by hand from the days in the case; weekdays are those of any calendar
(30 November 2026 is a Monday).
"""

import datetime

import pytest

from coach.plan.calendar import Calendar
from coach.plan.due_days import Due
from coach.record.adherence import Adherence
from coach.reports import calendar_text as told
from tests.plan.courses import DAY, MONDAY, calendar_of, due, session


def date(text: str) -> datetime.date:
    return datetime.date.fromisoformat(text)


# Months


def test_every_month_from_the_first_day_to_the_last_is_shown() -> None:
    december = due(1, date("2026-12-31"), "to_come")
    assert told.months_of(calendar_of(december, today=date("2026-12-01"))) == [(2026, 12)]
    # Today is on the calendar too, before the course and after it.
    assert told.months_of(calendar_of(december, today=date("2026-11-30"))) == [
        (2026, 11),
        (2026, 12),
    ]
    assert told.months_of(calendar_of(december, today=date("2027-02-01"))) == [
        (2026, 12),
        (2027, 1),
        (2027, 2),
    ]
    # What was given on another day than its own, and what nobody asked for.
    late = due(1, date("2026-12-31"), "given", held=session(1, date("2027-01-02")))
    assert told.months_of(calendar_of(late, today=date("2026-12-31")))[-1] == (2027, 1)
    asked_by_nobody = [session(1, date("2026-10-31")), session(2, MONDAY, trusted=False)]
    months = told.months_of(calendar_of(december, today=date("2026-12-31"), extra=asked_by_nobody))
    assert months == [(2026, 10), (2026, 11), (2026, 12)]
    assert told.months_of(calendar_of(today=date("2028-02-29"))) == [(2028, 2)]


# What asks for more stands first: common sense of the calendar, no source.
STRONGEST_FIRST = ("due", "late", "ask", "to_come", "given", "extra", "missed", "rest")


@pytest.mark.parametrize("place", range(len(STRONGEST_FIRST) - 1))
def test_a_day_with_two_states_shows_the_one_that_asks_for_more(place: int) -> None:
    pair = STRONGEST_FIRST[place : place + 2]
    dues: list[Due] = []
    for state in ("missed", "given", "to_come", "ask", "late", "due"):
        if state in pair:
            held = session(1, MONDAY) if state == "given" else None
            dues.append(due(1, MONDAY, state, held=held))
    calendar = calendar_of(
        *dues,
        extra=[session(2, MONDAY)] if "extra" in pair else [],
        rest=[MONDAY] if "rest" in pair else [],
    )
    assert told.day_states(calendar) == {MONDAY: pair[0]}


def test_a_session_stands_on_the_day_on_which_it_was_given() -> None:
    calendar = calendar_of(
        due(1, MONDAY, "given", held=session(1, MONDAY + DAY)),
        due(2, MONDAY + 2 * DAY, "given", held=session(2, MONDAY, trusted=False)),
        due(3, MONDAY + 4 * DAY, "to_come"),
        extra=[session(3, MONDAY, trusted=False), session(4, MONDAY + 3 * DAY)],
        rest=[MONDAY + 5 * DAY],
    )
    # Where no clock could tell the day, none is marked.
    assert told.day_states(calendar) == {
        MONDAY + DAY: "given",
        MONDAY + 3 * DAY: "extra",
        MONDAY + 4 * DAY: "to_come",
        MONDAY + 5 * DAY: "rest",
    }


DECEMBER = """\
       December 2026
 Mo  Tu  We  Th  Fr  Sa  Su
      1   2*  3   4   5   6r
  7   8   9o 10  11  12  13
 14  15  16  17  18  19  20
[21# 22  23  24  25  26  27
 28  29  30  31

"""


def month_of_december() -> Calendar:
    return calendar_of(
        due(1, date("2026-12-02"), "given", held=session(1, date("2026-12-02"))),
        due(2, date("2026-12-09"), "to_come"),
        due(3, date("2026-12-21"), "late"),
        today=date("2026-12-21"),
        rest=[date("2026-12-06")],
    )


def test_a_month_stands_as_on_the_wall() -> None:
    calendar = month_of_december()
    rows = told.month_rows(calendar, (2026, 12), told.day_states(calendar), ascii_only=True)
    assert [len(row) for row in rows] == [28] * 8
    assert [row.rstrip() for row in rows] == DECEMBER.splitlines()
    (page,) = told.month_pages(calendar, width=28, ascii_only=True)
    assert page == DECEMBER.splitlines()


@pytest.mark.parametrize(
    ("width", "abreast"), [(0, [1, 1, 1]), (58, [1, 1, 1]), (59, [2, 1]), (89, [2, 1]), (90, [3])]
)
def test_as_many_months_stand_abreast_as_there_is_room_for(width: int, abreast: list[int]) -> None:
    """A month has 28 columns and three stand between two: 28, 59, 90."""
    calendar = calendar_of(
        due(1, date("2026-10-05"), "missed"), due(2, date("2026-12-07"), "to_come")
    )
    pages = told.month_pages(calendar, width=width, ascii_only=False)
    names = ["October 2026", "November 2026", "December 2026"]
    for page, count in zip(pages, abreast, strict=True):
        here, names = names[:count], names[count:]
        assert [name for name in here if name in page[0]] == here
        assert page[0].count("2026") == count
        days = [row[31 * (count - 1) :] for row in page]
        assert days[1].split() == ["Mo", "Tu", "We", "Th", "Fr", "Sa", "Su"]
        assert page[0][31 * (count - 1) :].strip() == here[-1]
        assert len(page) == 8
        assert all(row == row.rstrip() and len(row) <= max(width, 28) for row in page)
    assert names == []


def test_the_legend_has_the_signs_that_are_shown_and_no_other() -> None:
    calendar = month_of_december()
    assert told.legend_text(calendar, ascii_only=True) == (
        "[ today, * given, # due today, o to come, r rest day"
    )
    assert told.legend_text(calendar, ascii_only=False) == (
        "[ today, ✓ given, ● due today, ○ to come, r rest day"
    )
    assert told.legend_text(calendar_of(due(1, MONDAY, "missed")), ascii_only=True) == (
        "[ today, - missed, left out"
    )
    assert told.legend_text(calendar_of(), ascii_only=True) == "[ today"


# What is next


def test_the_head_of_a_course_at_its_end_tells_what_was_missed() -> None:
    over = calendar_of(due(1, MONDAY, "given", held=session(1, MONDAY)), due(2, MONDAY, "missed"))
    assert told.headline(over) == (
        "The course has come to its end. Your prescriber says how to go on."
    )
    asked = calendar_of(due(1, MONDAY, "given", held=session(1, MONDAY)), due(2, MONDAY, "ask"))
    assert told.headline(asked) == (
        "The course has come to its end, with sessions missed. Ask your prescriber."
    )
    for calendar in (over, asked, calendar_of()):
        assert told.early_text(calendar) == ""


def test_the_head_names_the_session_its_day_and_the_day_of_the_plan() -> None:
    tuesday = MONDAY + DAY
    ahead = calendar_of(due(1, tuesday, "to_come"), due(2, tuesday + DAY, "to_come"), assumed=True)
    # A course that has not begun, and begins another day: today is a day of rest.
    assert told.headline(ahead) == "Next: session 1 of 2, on Tu 2026-12-01."
    assert told.early_text(ahead) == ""
    held = due(1, MONDAY, "given", held=session(1, MONDAY))
    late = calendar_of(
        held, due(2, MONDAY + 3 * DAY, "late", planned=tuesday), today=MONDAY + 4 * DAY
    )
    assert told.headline(late) == (
        "Session 2 of 2 was due on Tu 2026-12-01. It may be given today."
    )
    assert told.early_text(late) == ""
    today = calendar_of(held, due(2, tuesday, "due"), due(3, tuesday, "to_come"), today=tuesday)
    assert told.headline(today) == "Today: session 2 of 3."
    assert told.early_text(today) == ""
    early = calendar_of(held, due(2, tuesday, "to_come"))
    assert told.early_text(early) == "Not due yet: the next session is due on Tu 2026-12-01."
    assert told.unsure_text(tuesday) == (
        "The clock of this computer cannot be trusted; it says Tu 2026-12-01."
    )


def test_each_day_has_its_weekday() -> None:
    names = [told.day_text(MONDAY + n * DAY) for n in range(8)]
    assert names == [
        "Mo 2026-11-30",
        "Tu 2026-12-01",
        "We 2026-12-02",
        "Th 2026-12-03",
        "Fr 2026-12-04",
        "Sa 2026-12-05",
        "Su 2026-12-06",
        "Mo 2026-12-07",
    ]


# One line a session


def test_each_session_has_a_line_with_day_hour_phase_and_state() -> None:
    evening = datetime.datetime(2026, 12, 3, 7, 5, tzinfo=datetime.UTC)
    wednesday, thursday = MONDAY + 2 * DAY, MONDAY + 3 * DAY
    calendar = calendar_of(
        due(1, MONDAY, "given", held=session(1, MONDAY)),
        due(2, MONDAY + DAY, "given", held=session(2, wednesday)),
        due(3, wednesday, "given", held=session(3, MONDAY, trusted=False)),
        due(4, thursday, "due", at=evening),
        due(5, thursday, "due", planned=wednesday),
        due(6, thursday, "late", planned=wednesday),
        due(7, thursday, "to_come"),
        due(8, thursday, "to_come", planned=wednesday),
        due(9, thursday, "missed", planned=wednesday),
        extra=[session(4, MONDAY, trusted=False), session(5, thursday)],
    )
    assert list(told.due_lines(calendar)) == [
        "1  Mo 2026-11-30  build up: given",
        "2  Tu 2026-12-01  build up: given on We 2026-12-02",
        "3  We 2026-12-02  build up: given, on a day that the clock could not tell",
        "4  Th 2026-12-03 07:05  build up: due today",
        "5  Th 2026-12-03  build up: due today, planned for We 2026-12-02",
        "6  Th 2026-12-03  build up: its day is over, it may still be given today",
        "7  Th 2026-12-03  build up: to come",
        "8  Th 2026-12-03  build up: to come, planned for We 2026-12-02",
        "9  Th 2026-12-03  build up: missed, left out",
        "+  on a day that is not known  given, not asked for",
        "+  Th 2026-12-03  given, not asked for",
    ]
    ten = calendar_of(
        *(due(number, MONDAY, "ask") for number in range(1, 11)), extra=[session(1, MONDAY)]
    )
    lines = list(told.due_lines(ten))
    assert lines[0] == " 1  Mo 2026-11-30  build up: missed: ask your prescriber"
    assert lines[9] == "10  Mo 2026-11-30  build up: missed: ask your prescriber"
    assert lines[10] == " +  Mo 2026-11-30  given, not asked for"


# What else there is to know


def remarks(calendar: Calendar) -> list[str]:
    return list(told.remark_lines(calendar))


def test_an_ordinary_course_has_nothing_to_remark() -> None:
    held = due(1, MONDAY, "given", held=session(1, MONDAY))
    last = due(2, MONDAY + DAY, "to_come")
    # To the last day of the plan, and by the revision that is in use.
    assert remarks(calendar_of(held, last, valid_until=MONDAY + DAY)) == []
    assert remarks(calendar_of(assumed=True)) == []


def test_a_course_that_was_not_begun_is_only_assumed() -> None:
    assert remarks(calendar_of(due(1, MONDAY, "due"), assumed=True)) == [
        "Nothing was given yet: the days are those of a course that starts today."
    ]


def test_missed_sessions_are_counted() -> None:
    one = due(1, MONDAY, "ask")
    assert remarks(calendar_of(one)) == [
        "1 session was missed. Ask your prescriber whether to make it up."
    ]
    assert remarks(calendar_of(one, one, due(3, MONDAY, "missed"))) == [
        "2 sessions were missed. Ask your prescriber whether to make them up."
    ]


def test_sessions_after_the_end_of_the_plan_are_counted() -> None:
    ends = date("2026-12-09")
    over = [
        due(1, ends + DAY, "due"),
        due(2, ends + DAY, "late"),
        due(3, ends + DAY, "to_come"),
        due(4, ends + DAY, "missed"),
        due(5, ends + DAY, "given", held=session(1, MONDAY)),
        due(6, ends, "to_come"),
    ]
    assert remarks(calendar_of(*over, valid_until=ends)) == [
        "3 sessions come after the last day of the plan, 2026-12-09. Ask your prescriber."
    ]
    assert remarks(calendar_of(over[2], valid_until=ends)) == [
        "1 session comes after the last day of the plan, 2026-12-09. Ask your prescriber."
    ]


def test_how_soon_the_plan_lets_the_next_begin_is_told_until_it_is_past() -> None:
    coming = due(1, MONDAY + DAY, "to_come")
    soonest = datetime.datetime(2026, 12, 1, 9, 5, tzinfo=datetime.UTC)
    said = ["The plan lets the next session begin on Tu 2026-12-01 at 09:05."]
    for today in (MONDAY, MONDAY + DAY):
        assert remarks(calendar_of(coming, today=today, not_before=soonest)) == said
    assert remarks(calendar_of(coming, today=MONDAY + 2 * DAY, not_before=soonest)) == []
    # Nothing comes any more.
    assert remarks(calendar_of(due(1, MONDAY, "missed"), not_before=soonest)) == []


def test_sessions_that_do_not_count_are_counted_apart() -> None:
    held = due(1, MONDAY, "given", held=session(9, MONDAY))
    one, two = session(1, MONDAY - DAY), session(2, MONDAY - DAY)
    assert remarks(calendar_of(held, before=[one], others=1, elsewhere=[one])) == [
        "1 session from before the course began is not counted.",
        "1 session of another plan is not counted, but its distance is kept.",
        "1 session was logged in another time zone: its day is the day there.",
    ]
    assert remarks(calendar_of(held, before=[one, two], others=3, elsewhere=[one, two])) == [
        "2 sessions from before the course began are not counted.",
        "3 sessions of other plans are not counted, but their distance is kept.",
        "2 sessions were logged in another time zone: their day is the day there.",
    ]


def test_other_revisions_of_the_plan_are_named_in_their_order() -> None:
    held = [
        due(number, MONDAY, "given", held=session(number, MONDAY, plan_revision=revision))
        for number, revision in enumerate((2, 3, 1, 2), start=1)
    ]
    assert remarks(calendar_of(*held, due(5, MONDAY, "due"))) == [
        "Some sessions were given under revision 1, 2 of the plan; now it is 3."
    ]


# Figures


def figures(
    given: int = 3,
    *,
    in_window: int | None = None,
    gap: int | None = None,
    unknown: int = 0,
) -> list[str]:
    return list(
        told.adherence_lines(
            Adherence(
                due=4,
                begun=given,
                complete=given,
                in_part=(),
                too_little=0,
                extra=0,
                behind=4 - given,
                beyond=0,
                given=given,
                whole_course=12,
                on_the_day=2,
                in_window=in_window,
                day_unknown=unknown,
                longest_gap_days=gap,
            )
        )
    )


def test_figures_are_told_as_far_as_there_are_any() -> None:
    assert figures(0, in_window=1, gap=1, unknown=1) == [
        "Due so far: 4 of 12. Begun: none.",
        "4 fewer than were due.",
    ]
    head = ["Due so far: 4 of 12. Begun: 3, all complete.", "1 fewer than was due."]
    assert figures() == [*head, "On the day: 2."]
    assert figures(in_window=0, gap=0) == [
        *head,
        "On the day: 2. In time, by the plan: 0.",
        "Longest gap: 0 days.",
    ]
    assert figures(gap=1) == [*head, "On the day: 2.", "Longest gap: 1 day."]
    assert figures(gap=5, unknown=1) == [
        *head,
        "On the day: 2.",
        "Longest gap: 5 days.",
        "Day not known: 1.",
    ]
