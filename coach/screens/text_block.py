"""A widget that shows rows of text as they are, and is drawn again only when they change."""

from textual import events
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from coach.screens.block_letters import Rows
from coach.screens.messages import Asked


class Sign(Widget, inherit_bindings=False):
    """Rows of text. With ``asks`` a tap anywhere on it stands for that action."""

    ALLOW_SELECT = False
    rows: reactive[Rows] = reactive(())

    def __init__(self, id: str, *, asks: str = "") -> None:  # noqa: A002  (as in Widget)
        super().__init__(id=id)
        self.asks = asks

    def show(self, rows: Rows) -> None:
        """Show ``rows``; without rows take no room."""
        if rows == self.rows and self.display == bool(rows):
            return
        self.rows = rows
        self.display = bool(rows)
        self.styles.height = len(rows)

    def render(self) -> Content:
        """The rows."""
        return Content("\n".join(self.rows))

    def on_click(self, event: events.Click) -> None:
        """A tap."""
        if self.asks:
            event.stop()
            self.post_message(Asked(self.asks))
