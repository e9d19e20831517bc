"""All keys, while the session goes on: the bar keeps the side and the seconds in sight."""

import textwrap

from coach.language import _
from coach.screens import actions
from coach.screens.key_bar_layout import Tap
from coach.screens.session_layout import Moment
from coach.screens.session_page import PageScreen


class HelpScreen(PageScreen):
    """Help. Any key that does something also closes it."""

    BINDINGS = [("escape", "leave", "close help")]  # noqa: RUF012  (the framework's own form)

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """The most important ones: all of them are in the lines."""
        return tuple(tap for tap in super().taps(moment) if tap.vital)

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """One line a key."""
        columns = 1 + max(len(action.key) for action in actions.ACTIONS)
        keys = [
            row
            for action in actions.ACTIONS
            for row in textwrap.wrap(
                _(action.help),
                max(columns + 10, self.size.width),
                initial_indent=f"{action.key:<{columns}}",
                subsequent_indent=" " * columns,
            )
        ]
        return (
            _("Left and right are always the dog's."),
            *keys,
            *self._spoken(moment),
            _("Any key closes this help and does what it says."),
        )

    def _spoken(self, moment: Moment) -> list[str]:
        """What may be said, while somebody listens."""
        phrases = moment.opening.phrases
        if not phrases:
            return []
        return [
            _("You can also say, while the coach is silent:"),
            *(
                row
                for same in phrases
                for row in textwrap.wrap(" / ".join(same), max(20, self.size.width - 2))
            ),
        ]
