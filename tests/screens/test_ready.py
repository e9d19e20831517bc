"""Before the start: when it will be over, and what else is worth a look, at the sizes in use."""

from dataclasses import replace
from unittest.mock import patch

import pytest

from coach.bedside.port import Opening
from coach.record.session_length import Foretold
from coach.units import NS_PER_S
from tests.screens.thin import ThinSession, app_for, settled, shown, thin_session

MINUTE = 60 * NS_PER_S
EARLY = "Not due yet: the next session is due on We 2026-12-02."


@pytest.mark.parametrize("size", [(60, 20), (120, 40)])
async def test_the_end_is_foretold_from_the_clock_as_it_is_now(size: tuple[int, int]) -> None:
    session = thin_session()
    told = Foretold(low_ns=18 * MINUTE, expected_ns=20 * MINUTE, high_ns=25 * MINUTE, sessions=6)
    before = ThinSession.opening

    def opening(self: ThinSession) -> Opening:
        return replace(before(self), foretold=told, remarks=(EARLY,))

    with patch.object(ThinSession, "opening", opening):
        app = app_for(session, look="dark")
        async with app.run_test(size=size) as pilot:
            await settled(pilot)
            # The clock of the tests begins at 18:30.
            text = " ".join(shown(app).split())
            assert "done at about 18:50 (18:48 to 18:55, by your last 6 sessions)" in text
            assert EARLY in text
            session.time.pass_s(600)
            app.beat()
            await settled(pilot)
            assert "done at about 19:00 (18:58 to 19:05" in " ".join(shown(app).split())
