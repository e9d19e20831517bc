"""What all screens have in common."""

from typing import Protocol

from textual.geometry import Size
from textual.screen import Screen

from coach.screens.actions import bindings
from coach.screens.messages import Asked
from coach.screens.session_layout import Moment


class Presses(Protocol):
    """Who does what a key or a tap asks."""

    def pressed(self, id: str) -> None:  # noqa: A002  (the registry calls it id)
        """A key or a tap of ``id``."""


class CoachScreen(Screen[None], inherit_bindings=False):
    """A screen that is drawn from a moment, now and whenever its size changes.

    Its widgets are made with it and kept by name: beats come before they are mounted and after
    they are gone.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    BINDINGS = [*bindings()]  # noqa: RUF012  (the framework's own form)

    # Set by whoever opens it, before it is shown.
    driver: Presses | None = None
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

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self._pressed(message.id)

    def action_act(self, id: str) -> None:  # noqa: A002  (the registry calls it id)
        """A key of the action ``id``."""
        self._pressed(id)

    def action_round(self, key: str) -> None:
        """An answer of the readiness round by its own key."""
        self._pressed(f"round_{key}")

    def action_skip(self, reason: str) -> None:
        """A reason to leave the spot out."""
        self._pressed(f"skip_{reason}")

    def action_sign(self, sign: str) -> None:
        """A sign that the dog shows."""
        self._pressed(f"sign_{sign}")

    def action_wrong(self, what: str) -> None:
        """What went wrong."""
        self._pressed(f"wrong_{what}")

    def action_leave(self) -> None:
        """Back to the screen of the phase."""
        self._pressed("leave")

    def _pressed(self, id: str) -> None:  # noqa: A002
        if self.driver is not None:
            self.driver.pressed(id)
