"""The screen of a running session: the place, the side, and seconds that are seen from 2 m."""

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from coach.body.drawing import Drawing as DogDrawing
from coach.screens.dog_picture import Dog, look_of
from coach.screens.key_bar import Keys
from coach.screens.session_layout import Drawing, Moment, draw
from coach.screens.session_screen_base import CoachScreen
from coach.screens.spots_picture import sketch
from coach.screens.text_block import Sign

FLASH_S = 0.25

# Lines over the whole width, those beside the picture, and again over the whole width.
ABOVE = ("bar", "message", "headline")
BESIDE = ("region", "place", "guidance")
BELOW = ("next_up", "progress", "dose")


class SessionScreen(CoachScreen):
    """Move, hold and pause."""

    def __init__(self) -> None:
        super().__init__()
        self._lines = {name: Sign(name) for name in (*ABOVE, *BESIDE, *BELOW)}
        self._main = Sign("main", asks="one_key")
        self._side = Sign("side", asks="one_key")
        # Side before state: "MOVE LEFT" would be an order, "LEFT" and "MOVE" are two facts.
        self._panel = Horizontal(self._side, self._main, id="panel")
        self._air = (Static(classes="air"), Static(classes="air"))
        self._column = Vertical(
            *(self._lines[name] for name in BESIDE),
            self._air[0],
            self._panel,
            self._air[1],
            id="column",
        )
        self._dog = Dog(asks="one_key")
        self._keys = Keys(id="keys")
        self._pictured = True
        self._sketched: tuple[object, DogDrawing] | None = None

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        for name in ABOVE:
            yield self._lines[name]
        yield Horizontal(self._column, self._dog, id="middle")
        for name in BELOW:
            yield self._lines[name]
        yield self._keys

    def draw(self, moment: Moment) -> None:
        """Put ``moment`` into the widgets."""
        width, height = self.size
        drawing = draw(moment, width=width, height=height, picture=self._pictured)
        for name, sign in self._lines.items():
            sign.show(getattr(drawing, name))
        self._main.show(drawing.main)
        self._side.show(drawing.side)
        self._panel.set_class(drawing.columns.stacked, "-stacked")
        self._side.styles.width = len(drawing.side[0]) if drawing.side else 0
        self._panel.styles.height = len(drawing.panel)
        self._column.styles.width = drawing.columns.text
        for air in self._air:
            air.display = drawing.air > 1
        self._lines["message"].set_class(bool(moment.told), "-told")
        self._keys.show(drawing.keys, tall=drawing.keys_tall, rows=drawing.key_rows)
        self._dog.show(self._sketch(moment, drawing))

    def toggle_picture(self) -> None:
        """The dog instead of large letters, or the other way round."""
        self._pictured = not self._pictured
        if self.moment is not None:
            self.draw(self.moment)

    def _sketch(self, moment: Moment, drawing: Drawing) -> DogDrawing | None:
        """The picture; drawn anew when a spot or the size changes, never by the second."""
        if drawing.picture is None:
            return None
        width, height = drawing.picture
        look = look_of(self.app.theme)
        wanted = (moment.view.states, width, height, look)
        if self._sketched is None or self._sketched[0] != wanted:
            drawn = sketch(moment.view, width=width, height=height, look=look)
            self._sketched = (wanted, drawn)
        return self._sketched[1]

    def flash(self) -> None:
        """One short reversed frame of the middle: seen with the sound off, not a blink."""
        self._panel.add_class("-flash")
        self.set_timer(FLASH_S, lambda: self._panel.remove_class("-flash"))
