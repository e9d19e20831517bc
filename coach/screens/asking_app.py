"""Rounds of questions on their own, before or after a session: one screen after the other."""

import asyncio
from collections.abc import Callable, Iterable
from typing import Any

from textual.app import App
from textual.driver import Driver
from textual.screen import Screen

from coach.appliance.notify import from_environment
from coach.screens.looks import LOOKS, THEMES
from coach.screens.terminal import CLOSING_SIGNALS, lasting

# Makes a screen, or None to leave it out.
Make = Callable[[], Screen[Any] | None]

ALIVE_S = 0.5
TEND_S = 0.1


class RoundsApp(App[bool], inherit_bindings=False):
    """Shows ``screens`` one after the other; each is made when the one before is done.

    A screen that gives None ends it, and so does a signal: False is returned then, else True.

    Args:
        screens: what makes each screen, or None to leave it out.
        look: one of ``LOOKS``.
        tend: called again and again, for whatever must go on meanwhile, such as a voice.
    """

    ENABLE_COMMAND_PALETTE = False
    CSS_PATH = ["ask.tcss"]  # noqa: RUF012  (the framework's own form)

    def __init__(
        self,
        screens: Iterable[Make],
        *,
        look: str = "dark",
        tend: Callable[[], None] | None = None,
    ) -> None:
        super().__init__()
        if look not in LOOKS:
            raise ValueError(f"look {look!r}: allowed are {', '.join(LOOKS)}")
        self._screens = iter(screens)
        self._watchdog = from_environment()
        self._tend = tend
        self.animation_level = "none"
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = look

    def get_driver_class(self) -> type[Driver]:
        """The framework's choice; on a terminal one that lives on when the terminal is gone."""
        return lasting(super().get_driver_class())

    def on_mount(self) -> None:
        """Open the first, and close in good order when asked from outside."""
        loop = asyncio.get_running_loop()
        for number in CLOSING_SIGNALS:
            loop.add_signal_handler(number, self.exit, False)
        self._watchdog.begin()
        self.set_interval(ALIVE_S, self._watchdog.beat)
        if self._tend is not None:
            self.set_interval(TEND_S, self._tend)
        self._next(True)

    def on_unmount(self) -> None:
        """Give the signals back."""
        loop = asyncio.get_running_loop()
        for number in CLOSING_SIGNALS:
            loop.remove_signal_handler(number)
        self._watchdog.end()

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
