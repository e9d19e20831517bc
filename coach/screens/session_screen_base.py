"""What all screens have in common."""

from textual.geometry import Size
from textual.screen import Screen

from coach.screens.session_layout import Moment


class CoachScreen(Screen[None], inherit_bindings=False):
    """A screen that is drawn from a moment, now and whenever its size changes.

    Its widgets are made with it and kept by name: beats come before they are mounted and after
    they are gone.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""

    moment: Moment | None = None
    _drawn: tuple[Moment, Size] | None = None

    def show(self, moment: Moment) -> None:
        """Draw ``moment``, unless that is what is drawn already."""
        self.moment = moment
        if self.size.area and self._drawn != (moment, self.size):
            self._drawn = (moment, self.size)
            self.draw(moment)

    def draw(self, moment: Moment) -> None:
        """Put ``moment`` into the widgets."""
        raise NotImplementedError

    def on_resize(self) -> None:
        """The same moment in another size."""
        if self.moment is not None:
            self.show(self.moment)
