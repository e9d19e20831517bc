"""Rounds of questions on their own, before or after a session: one screen after the other."""

from collections.abc import Callable, Iterable
from typing import Any

from textual.screen import Screen

from coach.appliance.notify import from_environment
from coach.screens.base_app import LastingApp

# Makes a screen, or None to leave it out.
Make = Callable[[], Screen[Any] | None]

ALIVE_S = 0.5
TEND_S = 0.1


class RoundsApp(LastingApp[bool], inherit_bindings=False):
    """Shows ``screens`` one after the other; each is made when the one before is done.

    A screen that gives None ends it, and so does a signal: False is returned then, else True.

    Args:
        screens: what makes each screen, or None to leave it out.
        look: one of ``LOOKS``.
        tend: called again and again, for whatever must go on meanwhile, such as a voice.
    """

    CSS_PATH = ["ask.tcss"]  # noqa: RUF012  (the framework's own form)

    def __init__(
        self,
        screens: Iterable[Make],
        *,
        look: str = "dark",
        tend: Callable[[], None] | None = None,
    ) -> None:
        super().__init__(look=look)
        self._screens = iter(screens)
        self._watchdog = from_environment()
        self._tend = tend

    def on_mount(self) -> None:
        """Open the first."""
        self._watchdog.begin()
        self.set_interval(ALIVE_S, self._watchdog.beat)
        if self._tend is not None:
            self.set_interval(TEND_S, self._tend)
        self._next(True)

    def on_unmount(self) -> None:
        """What follows may wait for the owner."""
        self._watchdog.end()

    def close_from_outside(self) -> None:
        """A signal: the rest of the questions is left out."""
        self.exit(False)

    def _next(self, given: object) -> None:
        if given is None:
            self.exit(False)
            return
        for make in self._screens:
            screen = make()
            if screen is not None:
                self.push_screen(screen, self._next)
                return
        self.exit(True)
