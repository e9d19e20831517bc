"""After the session: what was given, what was missed, where it is written."""

from coach.screens import words
from coach.screens.drawing import Moment
from coach.screens.pages import PageScreen
from coach.screens.port import Ending


class EndScreen(PageScreen, inherit_bindings=False):
    """All done, or stopped."""

    def __init__(self, ending: Ending) -> None:
        super().__init__()
        self._ending = ending

    def sign_text(self, moment: Moment) -> str:
        """The word."""
        return words.STATE[moment.view.phase]

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """The tally and the log."""
        return (
            *moment.told,
            "Switch the laser off.",
            *self._ending.lines,
            f"Log: {self._ending.journal}",
        )
