"""What all screens have in common."""

from textual.screen import Screen

from coach.screens.drawing import Moment


class CoachScreen(Screen[None], inherit_bindings=False):
    """A screen that is drawn from a moment, now and whenever its size changes."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""

    moment: Moment | None = None

    def show(self, moment: Moment) -> None:
        """Draw ``moment``; cheap when nothing changed."""
        self.moment = moment
        if self.is_mounted and self.size.area:
            self.draw(moment)

    def draw(self, moment: Moment) -> None:
        """Put ``moment`` into the widgets."""
        raise NotImplementedError

    def on_resize(self) -> None:
        """The same moment in another size."""
        if self.moment is not None:
            self.show(self.moment)
