"""The course full screen: every row on some page, months open at today, one key to the words."""

import pytest
from textual.pilot import Pilot

from coach.bedside.flow import Pressed, show
from coach.bedside.pages import LEAVE, CoursePage, close_key
from coach.plan.calendar import Calendar, due_dates
from coach.record.adherence import adherence
from coach.screens.course import course_pages
from coach.screens.driver import EveningApp
from tests.plan.courses import BERLIN, DAY, MONDAY, plan_of, session
from tests.screens.one_app import flow_app
from tests.screens.thin import FakeTime

THREE = {"times_a_week": 3, "weeks": 2}


def course() -> Calendar:
    plan = plan_of(THREE, calendar={"missed": "ask", "window_days": 0})
    return due_dates(plan, None, [session(1, MONDAY)], MONDAY + 4 * DAY, BERLIN)


def shown(app: EveningApp[Pressed]) -> str:
    strips = app.screen._compositor.render_strips(app.size)
    return "\n".join(strip.text.rstrip() for strip in strips)


async def settled(pilot: Pilot[Pressed]) -> None:
    for _ in range(3):
        await pilot.pause()


@pytest.mark.parametrize("size", [(30, 8), (60, 20), (120, 40)])
def test_nothing_is_cut_at_any_size(size: tuple[int, int]) -> None:
    width, height = size
    found = course()
    pages, shown_first = course_pages(
        found, adherence(found), width=width, height=height, ascii_only=True
    )
    rows = [row for page in pages for row in page]
    assert all(len(page) <= height for page in pages)
    assert all(len(row) <= width for row in rows)
    text = " ".join(" ".join(rows).split())
    assert "6 Fr 2026-12-11 phase: to come" in text
    words = " ".join(" ".join(row for page in pages[shown_first:] for row in page).split())
    assert "Longest gap: the most days from one session to the next" in words


@pytest.mark.parametrize("size", [(60, 20), (120, 40)])
async def test_the_course_opens_at_today_and_explains_itself(size: tuple[int, int]) -> None:
    found = course()
    page = CoursePage(calendar=found, figures=adherence(found), keys=(close_key(),))
    app = flow_app(show(page), mono_ns=FakeTime())
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        first = shown(app)
        assert first.splitlines()[0].startswith("Juniper: THE COURSE")
        assert "Today: session 3 of 6." in first
        assert "December 2026" in first
        # Wednesday was missed, today is Friday the 4th.
        assert " 2?" in first
        assert "[ 4#" in first
        assert "Due so far: 2 of 6. Begun: 1, all complete." in first or size[1] == 20
        assert "SPACE" in first
        await pilot.press("d")
        await settled(pilot)
        assert "Begun: sessions in which the laser ran" in shown(app)
        await pilot.press("l")
        await settled(pilot)
        assert app.theme != "console"
        await pilot.press("left", "left")
        await settled(pilot)
        await pilot.press("q")
    assert app.return_value == Pressed(LEAVE)
