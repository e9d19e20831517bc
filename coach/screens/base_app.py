"""What all full-screen apps share: one of our looks, and a good end when the terminal is gone."""

import asyncio
from collections.abc import Mapping
from typing import TypeVar

from textual import events
from textual.app import App
from textual.driver import Driver

from coach.screens.actions import ACTIONS
from coach.screens.key_tester import key_name
from coach.screens.own_keys import ANSWERS, translation
from coach.screens.terminal import CLOSING_SIGNALS, lasting
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
        self._own_keys: dict[str, str] = {}
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = look

    def get_driver_class(self) -> type[Driver]:
        """One that outlives its terminal."""
        return lasting(super().get_driver_class())

    def set_keymap(self, keymap: Mapping[str, str]) -> None:
        """All keys of each action by its id, with commas between them: they hold on every screen.

        Not as the framework does it, which changes only bindings that have the id: a pedal has to
        work on a screen that knows nothing of the action, too.
        """
        usual = {action.id: action.keys for action in ACTIONS}
        self._own_keys = translation(keymap, usual)

    async def on_event(self, event: events.Event) -> None:
        """A key of the owner's own goes on as the usual one."""
        if isinstance(event, events.Key) and not event.is_forwarded:
            event = self._usual(event)
        await super().on_event(event)

    def _usual(self, event: events.Key) -> events.Key:
        name = key_name(event)
        usual = self._own_keys.get(name, self._own_keys.get(event.key))
        if usual is None or (name in ANSWERS and name in self.screen._bindings.key_to_bindings):
            return event
        character = " " if usual == "space" else usual if len(usual) == 1 else None
        typed = self.focused
        if typed is not None and typed.check_consume_key(name, event.character):
            # A letter that is typed is a letter.
            return event
        if typed is not None and typed.check_consume_key(usual, character):
            # Nor does a pedal write a blank into a name.
            return event
        return events.Key(usual, character)

    def on_mount(self) -> None:
        """Ask for the signals: whoever started this may have said to ignore them."""
        loop = asyncio.get_running_loop()
        for number in CLOSING_SIGNALS:
            loop.add_signal_handler(number, self.close_from_outside)

    def on_unmount(self) -> None:
        """Give the signals back."""
        loop = asyncio.get_running_loop()
        for number in CLOSING_SIGNALS:
            loop.remove_signal_handler(number)

    def close_from_outside(self) -> None:
        """A signal: leave."""
        self.exit()
