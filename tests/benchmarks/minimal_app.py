"""The least app of the kind: one pydantic model read, one label, a countdown at 10 Hz that
repaints when its text changes. The baseline of start, CPU and memory."""

import time

from pydantic import BaseModel
from textual.app import App, ComposeResult
from textual.widgets import Static


class Wish(BaseModel):
    """Something to read in."""

    seconds: int


class MinimalApp(App[None]):
    """Counts down."""

    ENABLE_COMMAND_PALETTE = False

    def compose(self) -> ComposeResult:
        """One label."""
        self.wish = Wish.model_validate_json('{"seconds": 3600}')
        self.began_s = time.monotonic()
        self.shown = ""
        self.label = Static("SPACE start")
        yield self.label

    def on_mount(self) -> None:
        """Tick."""
        self.set_interval(0.1, self.beat)

    def beat(self) -> None:
        """Repaint on change."""
        left_s = self.wish.seconds - int(time.monotonic() - self.began_s)
        text = f"SPACE start {left_s}"
        if text != self.shown:
            self.shown = text
            self.label.update(text)


if __name__ == "__main__":
    MinimalApp().run()
