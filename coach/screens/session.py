"""The screen of a running session: the place, the side, and seconds that are seen from 2 m."""

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import Static

from coach.screens.base import CoachScreen
from coach.screens.drawing import Moment, draw
from coach.screens.keys import Keys
from coach.screens.sign import Sign

FLASH_S = 0.25


class SessionScreen(CoachScreen, inherit_bindings=False):
    """Move, hold and pause."""

    def __init__(self) -> None:
        super().__init__()
        names = ("bar", "message", "region", "place", "guidance", "next_up", "progress", "dose")
        self._lines = {name: Sign(name) for name in names}
        self._main = Sign("main", asks="one_key")
        self._side = Sign("side", asks="one_key")
        # Side before state: "MOVE LEFT" would be an order, "LEFT" and "MOVE" are two facts.
        self._panel = Horizontal(self._side, self._main, id="panel")
        self._air = (Static(classes="air"), Static(classes="air"))
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        for name in ("bar", "message", "region", "place", "guidance"):
            yield self._lines[name]
        yield self._air[0]
        yield self._panel
        yield self._air[1]
        for name in ("next_up", "progress", "dose"):
            yield self._lines[name]
        yield self._keys

    def draw(self, moment: Moment) -> None:
        """Put ``moment`` into the widgets."""
        drawing = draw(moment, width=self.size.width, height=self.size.height)
        for name, sign in self._lines.items():
            sign.show(getattr(drawing, name))
        self._main.show(drawing.main)
        self._side.show(drawing.side)
        self._side.styles.width = len(drawing.side[0]) if drawing.side else 0
        self._panel.styles.height = len(drawing.main)
        for air in self._air:
            air.display = drawing.air > 1
        self._lines["message"].set_class(bool(moment.told), "-told")
        self._keys.show(drawing.keys, tall=drawing.keys_tall, rows=drawing.key_rows)

    def flash(self) -> None:
        """One short reversed frame of the middle: seen with the sound off, not a blink."""
        self._panel.add_class("-flash")
        self.set_timer(FLASH_S, lambda: self._panel.remove_class("-flash"))
