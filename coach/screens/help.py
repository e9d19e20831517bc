"""All keys, while the session goes on: the bar keeps the side and the seconds in sight."""

import textwrap

from coach.screens import actions
from coach.screens.drawing import Moment
from coach.screens.pages import PageScreen

KEY_COLUMNS = 7


class HelpScreen(PageScreen, inherit_bindings=False):
    """Help. Any key that does something also closes it."""

    BINDINGS = [("escape", "app.leave", "close help")]  # noqa: RUF012  (the framework's own form)

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """One line a key."""
        keys = [
            row
            for action in actions.ACTIONS
            for row in textwrap.wrap(
                action.help,
                max(KEY_COLUMNS + 10, self.size.width),
                initial_indent=f"{action.shown:<{KEY_COLUMNS}}",
                subsequent_indent=" " * KEY_COLUMNS,
            )
        ]
        return (
            "Left and right are always the dog's.",
            *keys,
            "Any key closes this help and does what it says.",
        )
