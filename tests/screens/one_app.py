"""The one app, over a single session, a page, or any other flow."""

import datetime
from collections.abc import Callable
from typing import Any, TypeVar

from textual.pilot import Pilot

from coach.bedside.flow import Coach, Flow
from coach.screens.driver import EveningApp, local_now
from coach.session.machine import Phase

T = TypeVar("T")


def only(session: Any, afterwards: Any = None) -> Flow[Phase]:
    """One session, and what is asked after it."""
    phase: Phase = yield Coach(runner=session, after=afterwards)
    return phase


def session_app(
    session: Any,
    *,
    afterwards: Any = None,
    look: str = "dark",
    wall: Callable[[], datetime.datetime] = local_now,
    mono_ns: Callable[[], int],
    watchdog: Any = None,
    say: Callable[[str], None] | None = None,
) -> EveningApp[Phase]:
    """The app with nothing but a session."""
    return EveningApp(
        only(session, afterwards), look=look, wall=wall, mono_ns=mono_ns, watchdog=watchdog, say=say
    )


def flow_app(
    flow: Flow[T],
    *,
    mono_ns: Callable[[], int],
    look: str = "console",
    say: Callable[[str], None] | None = None,
) -> EveningApp[T]:
    """The app over a flow."""
    return EveningApp(flow, look=look, mono_ns=mono_ns, say=say)


def text_of(app: EveningApp[Any]) -> str:
    """The screen as text, without blanks at the ends of lines."""
    strips = app.screen._compositor.render_strips(app.size)
    return "\n".join(strip.text.rstrip() for strip in strips)


async def calm(pilot: Pilot[Any]) -> None:
    """Until everything that was asked is on the screen."""
    for _ in range(3):
        await pilot.pause()
