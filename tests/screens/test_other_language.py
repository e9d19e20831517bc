"""A whole German session through the app, compared as text; read by eye when it was written."""

from pathlib import Path

import pytest

from coach import translations
from coach.body import region
from coach.screens import actions, session_layout
from coach.screens.region_page import Unknown, find, list_lines, page_lines
from coach.session.machine import Phase
from tests.expected_texts import compare
from tests.screens.test_whole_sessions import whole_session
from tests.screens.thin import BIG_HIPS, app_for, bring_to, settled, shown, thin_session

EXPECTED = Path(__file__).parent / "expected" / "de-big-hips-80x24.txt"


async def test_a_whole_german_session_looks_as_expected() -> None:
    translations.speak("de")
    seen = await whole_session(BIG_HIPS, (80, 24), rehearsal=True)
    compare(EXPECTED, seen)


async def test_help_and_keys_are_german_and_do_the_same() -> None:
    translations.speak("de")
    session = thin_session()
    app = app_for(session)
    async with app.run_test(size=(120, 40)) as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press("question_mark")
        await settled(pilot)
        text = " ".join(shown(app).split())
        assert "Links und rechts gelten immer vom Hund aus." in text
        for action in actions.ACTIONS:
            assert action.help not in text
        await pilot.press("d")
        await settled(pilot)
        assert session.view().phase is Phase.PAUSED
        assert "Der Hund hat sich bewegt." in shown(app)


@pytest.mark.parametrize("size", [(40, 12), (60, 20), (80, 24), (120, 40)], ids=str)
def test_side_and_countdown_of_every_spot_fit_in_german(size: tuple[int, int]) -> None:
    translations.speak("de")
    session = thin_session(BIG_HIPS)
    width, height = size
    moment = session_layout.Moment(
        view=session.view(), opening=session.opening(), ends=session.time.wall()
    )
    session.press()
    for _ in session.spots:
        moment = session_layout.Moment(
            view=session.view(), opening=session.opening(), ends=session.time.wall()
        )
        drawn = session_layout.draw(moment, width=width, height=height)
        word = {"left": "LINKS", "middle": "MITTE", "right": "RECHTS"}[moment.view.spot.side]
        # Large beside the countdown, or in the bar; never cut.
        assert drawn.side or word in " ".join(drawn.bar)
        assert all(len(row) <= width for row in (*drawn.bar, *drawn.main, *drawn.progress))
        assert [tap.tap.id for tap in drawn.keys if tap.tap.vital]
        session.press()
        for _second in range(200):
            session.time.pass_s(1)
            session.tick()
            if session.view().phase is Phase.MOVING:
                break


def test_a_region_is_found_by_its_german_and_its_english_name() -> None:
    translations.speak("de")
    for words in ("Lendenbereich", "lower back", "lumbar"):
        found = find(words)
        assert not isinstance(found, Unknown)
        assert found.key == "lumbar"
    lines = page_lines(region("lumbar"))
    assert lines[1] == "Seiten: links, Mitte, rechts (immer vom Hund aus)"
    assert any("Lendenbereich" in line for line in list_lines(width=60))
