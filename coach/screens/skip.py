"""Why is this spot left out? One key answers; the session is paused meanwhile."""

from coach.language import _
from coach.screens import session_text
from coach.screens.actions import BY_ID, REASONS
from coach.screens.key_bar_layout import Tap
from coach.screens.session_layout import Moment
from coach.screens.session_page import PageScreen


class SkipScreen(PageScreen):
    """The choice of a reason."""

    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        *((reason.key, f"skip('{reason.reason}')", reason.text) for reason in REASONS),
        ("escape", "leave", "do not skip"),
    ]

    def sign_text(self, moment: Moment) -> str:
        """What it is about."""
        return _("SKIP")

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """The question, while the laser is off the skin."""
        where = _("Skip {where}?").format(where=session_text.where(moment.view.spot))
        lift = _("Paused. Lift the laser off.")
        return (*moment.told, lift, where, _("Why? Press one key:"))

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """The reasons, the way back, and stop."""
        reasons = (
            Tap(id=f"skip_{reason.reason}", key=reason.key, label=_(reason.text), vital=True)
            for reason in REASONS
        )
        stop = BY_ID["stop"]
        return (
            *reasons,
            Tap(id="leave", key=_("SPACE"), label=_("do not skip"), vital=True),
            Tap(id=stop.id, key=stop.key, label=_(stop.label), vital=True),
        )
