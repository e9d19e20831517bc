"""The dog as a widget: shows a drawing, and draws again only when it is another one."""

from textual import events
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from coach.body.drawing import Drawing
from coach.body.raster import Look
from coach.screens.messages import Asked

# The shape tells the state; colour only helps. The number stands in its block, reversed.
STYLES = {
    "far": "$quiet",
    "outline": "$quiet",
    "feature": "$quiet",
    "region": "$region",
    "done": "bold $ink",
    "coming": "bold $ink",
    "current": "$countdown",
    "number": "bold reverse $countdown",
    "label": "$ink",
}
# The console's own signs are thin: there the block is reversed, and the number left as it is.
CONSOLE_STYLES = STYLES | {"current": "reverse $countdown", "number": "bold $countdown"}


def look_of(theme: str) -> Look:
    """Which characters a look of the screens has."""
    return "console" if theme == "console" else "colour"


class Dog(Widget, inherit_bindings=False):
    """A drawing of the dog; without one it takes no room. A tap on it stands for ``asks``."""

    ALLOW_SELECT = False
    drawing: reactive[Drawing | None] = reactive(None)

    def __init__(self, *, asks: str) -> None:
        super().__init__(id="dog")
        self.asks = asks
        self.display = False

    def show(self, drawing: Drawing | None) -> None:
        """Show ``drawing``."""
        if drawing is self.drawing:
            return
        self.drawing = drawing
        self.display = drawing is not None
        if drawing is not None:
            self.styles.width = drawing.width
            self.styles.height = drawing.height

    def render(self) -> Content:
        """Its rows."""
        if self.drawing is None:
            return Content("")
        styles = CONSOLE_STYLES if look_of(self.app.theme) == "console" else STYLES
        return Content("\n").join(
            Content.assemble(*((run.text, styles.get(run.role, "")) for run in row))
            for row in self.drawing.rows
        )

    def on_click(self, event: events.Click) -> None:
        """A tap."""
        event.stop()
        self.post_message(Asked(self.asks))
