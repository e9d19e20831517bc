"""Whole demo sessions in virtual time through the app, compared as text at four sizes.

Every spot is gone through at every size. All screens are kept at 60x20, at larger sizes those of
the first spots and of the end, in ``expected/``: one file a plan and size, each screen under a
line that says when it was seen. They were read by eye when they were written.
"""

from pathlib import Path

import pytest

from coach.session.machine import Phase
from coach.units import NS_PER_S
from tests.expected_texts import compare
from tests.screens import invariants
from tests.screens.thin import (
    BIG_HIPS,
    LONG_BACK,
    ThinSession,
    app_for,
    settled,
    shown,
    thin_session,
)

EXPECTED = Path(__file__).parent / "expected"
KEPT = 5
SIZES = [(60, 20), (80, 24), (120, 40), (240, 70)]


def due(session: ThinSession) -> str:
    """Let the time pass until the phase or the spot changes, in steps of a second."""
    before = (session.view().phase, session.view().spot.index)
    while (session.view().phase, session.view().spot.index) == before:
        session.time.pass_s(1)
        session.tick()
    return session.view().phase.value


async def whole_session(plan: Path, size: tuple[int, int], *, rehearsal: bool) -> str:
    """Every screen of a session that is interrupted now and then, as text."""
    session = thin_session(plan, rehearsal=rehearsal)
    app = app_for(session)
    screens: list[str] = []
    waits = session.options.advance == "wait"

    # The screen has been there for a while.
    session.time.pass_s(-1)
    async with app.run_test(size=size) as pilot:
        session.time.pass_s(1)

        async def see(what: str) -> None:
            app.beat()
            if size != SIZES[0] and session.view().spot.index in range(
                KEPT, len(session.spots) - 1
            ):
                return
            await settled(pilot)
            invariants.check(app, session)
            after_s = (session.time() - began_ns) // NS_PER_S
            screens.append(f"=== {after_s // 60}:{after_s % 60:02d} {what}\n{shown(app)}\n")

        async def press(key: str) -> None:
            session.time.pass_s(0.5)
            await pilot.press(key)

        began_ns = session.time()
        await see("get ready")
        await press("space")
        for number in range(len(session.spots)):
            await see("on the way")
            if number == 3:
                await press("s")
                await see("skip: why?")
                await press("2")
                continue
            if waits:
                await press("space")
                if number == 0:
                    # So soon after the first press it could be a key held down: that is seen now.
                    session.time.pass_s(0.1)
                    app.beat()
            else:
                due(session)
            await see("hold begins")
            if number == 1:
                session.time.pass_s(7)
                await press("d")
                await see("the dog moved")
                await press("space")
                await see("no second press yet")
                session.time.pass_s(0.7)
                app.beat()
                await see("carried on")
            due(session)
            if session.view().phase is Phase.FINISHED:
                break
        await see("the end")
    assert session.view().phase is Phase.FINISHED
    held_ns = sum(
        line["data"]["given_ns"] for line in session.lines if line["kind"] == "hold_ended"
    )
    # All that the plan orders but the one spot that was skipped.
    assert held_ns == sum(spot.hold_ns for spot in session.spots) - session.spots[3].hold_ns
    return "\n".join(screens)


@pytest.mark.parametrize(
    "size",
    [*SIZES[:2], *(pytest.param(size, marks=pytest.mark.long) for size in SIZES[2:])],
    ids=lambda size: f"{size[0]}x{size[1]}",
)
@pytest.mark.parametrize(
    ("plan", "rehearsal"), [(LONG_BACK, False), (BIG_HIPS, True)], ids=["long-back", "big-hips"]
)
async def test_a_whole_session_looks_as_expected(
    plan: Path, rehearsal: bool, size: tuple[int, int]
) -> None:
    seen = await whole_session(plan, size, rehearsal=rehearsal)
    path = EXPECTED / f"{plan.stem}-{size[0]}x{size[1]}.txt"
    compare(path, seen)
