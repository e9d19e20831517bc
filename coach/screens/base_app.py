"""What all full-screen apps share: one of our looks, and a good end when the terminal is gone."""

import asyncio
import signal
from typing import TypeVar

from textual.app import App
from textual.driver import Driver

from coach.screens.terminal import CLOSING_SIGNALS, ask_to_end, lasting
from coach.screens.themes import LOOKS, THEMES

T = TypeVar("T")


class LastingApp(App[T], inherit_bindings=False):
    """Drawn in ``look``, one of ``LOOKS``; a closing signal calls :meth:`close_from_outside`."""

    ENABLE_COMMAND_PALETTE = False

    def __init__(self, *, look: str) -> None:
        super().__init__()
        if look not in LOOKS:
            raise ValueError(f"look {look!r}: allowed are {', '.join(LOOKS)}")
        self.animation_level = "none"
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = look

    def get_driver_class(self) -> type[Driver]:
        """One that outlives its terminal."""
        return lasting(super().get_driver_class())

    def on_mount(self) -> None:
        """Ask for the signals: whoever started this may have said to ignore them."""
        loop = asyncio.get_running_loop()
        for number in CLOSING_SIGNALS:
            loop.add_signal_handler(number, self._signalled, number)

    def on_unmount(self) -> None:
        """Give the signals back."""
        loop = asyncio.get_running_loop()
        for number in CLOSING_SIGNALS:
            loop.remove_signal_handler(number)

    def _signalled(self, number: signal.Signals) -> None:
        if number != signal.SIGINT:
            # Whoever sends it means the program; Ctrl-C means what is on the screen.
            ask_to_end()
        self.close_from_outside()

    def close_from_outside(self) -> None:
        """A signal: leave."""
        self.exit()
