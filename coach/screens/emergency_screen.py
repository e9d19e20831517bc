"""Something went wrong: it is stopped already. What happened, and what to do now.

What to do first is in large letters.
"""

from coach.language import _
from coach.screens.actions import BY_ID
from coach.screens.key_bar_layout import Tap
from coach.screens.session_layout import Moment
from coach.screens.session_page import PageScreen
from coach.session.went_wrong import BY_ID as MISHAP
from coach.session.went_wrong import MISHAPS, what_to_do


class EmergencyScreen(PageScreen):
    """The choice of what happened, then what to do. ``what`` is "" until it is chosen."""

    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        *((mishap.key, f"wrong('{mishap.id}')", mishap.text) for mishap in MISHAPS),
        ("escape", "leave", "go on"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.what = ""

    def choose(self, what: str) -> None:
        """Show what to do."""
        self.what = what
        if self.moment is not None:
            self.draw(self.moment)

    def sign_text(self, moment: Moment) -> str:
        """What to do first."""
        return _(MISHAP[self.what].sign) if self.what else _("STOPPED")

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """What to do at once, and what is asked; then every step and the number to phone."""
        if not self.what:
            now = _("Lift the laser off. Switch it off.")
            return (*moment.told, now, _("What happened? Press one key:"))
        opening = moment.opening
        steps = what_to_do(self.what, name=opening.prescriber, phone=opening.phone)
        return (*moment.told, *steps)

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """What can have happened, and the way on."""
        choices = tuple(
            Tap(id=f"wrong_{mishap.id}", key=mishap.key, label=_(mishap.text), vital=True)
            for mishap in MISHAPS
        )
        if not self.what:
            return choices
        go_on = Tap(id="leave", key=BY_ID["one_key"].key, label=_("go on"), vital=True)
        return (go_on, *choices)
