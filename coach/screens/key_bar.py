"""The keys that mean something now, with their words; each can be tapped."""

from collections.abc import Callable

from textual import events
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from coach.screens.key_bar_layout import TALL, Placed, rows_of
from coach.screens.messages import Asked


class Keys(Widget, inherit_bindings=False):
    """Placed taps, one row high each, or three where there is room for a finger."""

    ALLOW_SELECT = False
    placed: reactive[tuple[Placed, ...]] = reactive(())
    tall: reactive[bool] = reactive(False)

    def show(self, placed: tuple[Placed, ...], *, tall: bool, rows: int) -> None:
        """Show ``placed`` in ``rows`` rows."""
        self.placed = placed
        self.tall = tall
        self.display = rows > 0
        self.styles.height = rows

    def render(self) -> Content:
        """Every row of taps."""
        return Content("\n").join(
            line for row in range(rows_of(self.placed)) for line in self._lines(row)
        )

    def _lines(self, row: int) -> list[Content]:
        here = [place for place in self.placed if place.row == row]
        if not self.tall:
            return [_line(here, _short)]
        rim = _line(here, _rim)
        return [rim, _line(here, _wide), rim]

    def on_click(self, event: events.Click) -> None:
        """A tap on one of them."""
        event.stop()
        row = event.y // TALL if self.tall else event.y
        for place in self.placed:
            if place.row == row and place.x <= event.x < place.x + place.columns:
                self.post_message(Asked(place.tap.id))
                return


def _line(places: list[Placed], draw: Callable[[Placed], Content]) -> Content:
    line = Content("")
    for place in places:
        line = line.pad_right(place.x - line.cell_length) + draw(place)
    return line


def _short(place: Placed) -> Content:
    return Content.assemble((place.tap.key, "reverse bold"), f" {place.tap.label}")


def _wide(place: Placed) -> Content:
    words = Content.assemble("  ", (place.tap.key, "reverse bold"), f" {place.tap.label}  ")
    return words.stylize("$tap-ink on $tap")


def _rim(place: Placed) -> Content:
    return Content.styled(" " * place.columns, "on $tap")
