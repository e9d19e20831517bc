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

    CSS_PATH = "session.tcss"

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield Sign("bar")
        yield Sign("message")
        yield Sign("region")
        yield Sign("place")
        yield Sign("guidance")
        yield Static(classes="air")
        with Horizontal(id="panel"):
            # Side before state: "MOVE LEFT" would be an order, "LEFT" and "MOVE" are two facts.
            yield Sign("side", asks="one_key")
            yield Sign("main", asks="one_key")
        yield Static(classes="air")
        yield Sign("next_up")
        yield Sign("progress")
        yield Sign("dose")
        yield Keys(id="keys")

    def draw(self, moment: Moment) -> None:
        """Put ``moment`` into the widgets."""
        drawing = draw(moment, width=self.size.width, height=self.size.height)
        for name in ("bar", "message", "region", "place", "guidance", "main", "next_up"):
            self.query_one(f"#{name}", Sign).show(getattr(drawing, name))
        for name in ("progress", "dose"):
            self.query_one(f"#{name}", Sign).show(getattr(drawing, name))
        side = self.query_one("#side", Sign)
        side.show(drawing.side)
        side.styles.width = len(drawing.side[0]) if drawing.side else 0
        for air in self.query(".air"):
            air.display = drawing.air > 1
        self.query_one("#panel").styles.height = len(drawing.main)
        self.query_one("#message").set_class(bool(moment.told), "-told")
        self.query_one("#keys", Keys).show(
            drawing.keys, tall=drawing.keys_tall, rows=drawing.key_rows
        )
        self.set_class(moment.view.rehearsal, "-rehearsal")

    def flash(self) -> None:
        """One short reversed frame of the middle: seen with the sound off, not a blink."""
        panel = self.query_one("#panel")
        panel.add_class("-flash")
        self.set_timer(FLASH_S, lambda: panel.remove_class("-flash"))
