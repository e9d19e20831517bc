"""Rounds of questions on their own, before or after a session: one screen after the other."""

from collections.abc import Callable, Iterable
from typing import Any

from textual.app import App
from textual.screen import Screen

from coach.screens.looks import LOOKS, THEMES


class RoundsApp(App[bool], inherit_bindings=False):
    """Shows ``screens`` one after the other; each is made when the one before is done.

    A screen that gives None ends it: False is returned then, else True.

    Args:
        screens: what makes each screen, or None to leave it out.
        look: one of ``LOOKS``.
    """

    ENABLE_COMMAND_PALETTE = False
    CSS_PATH = ["ask.tcss"]  # noqa: RUF012  (the framework's own form)

    def __init__(
        self, screens: Iterable[Callable[[], Screen[Any] | None]], *, look: str = "dark"
    ) -> None:
        super().__init__()
        if look not in LOOKS:
            raise ValueError(f"look {look!r}: allowed are {', '.join(LOOKS)}")
        self._screens = iter(screens)
        self.animation_level = "none"
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = look

    def on_mount(self) -> None:
        """Open the first."""
        self._next(True)

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
