"""The dog is not happy: which signs? One key each; the session is paused meanwhile."""

from collections.abc import Callable

from coach.language import _
from coach.screens.actions import BY_ID
from coach.screens.key_bar_layout import Tap
from coach.screens.session_layout import Moment
from coach.screens.session_page import PageScreen
from coach.session.signals import ADVICE, SIGNALS, advice
from coach.session.signals import BY_ID as SIGNS


class UnhappyScreen(PageScreen):
    """The choice of signs. ``keep`` gets all that are marked, whenever that changes."""

    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        *((signal.key, f"sign('{signal.id}')", signal.text) for signal in SIGNALS),
        ("escape", "leave", "done"),
    ]

    def __init__(self, keep: Callable[[tuple[str, ...]], None]) -> None:
        super().__init__()
        self.seen: tuple[str, ...] = ()
        self._keep = keep

    def mark(self, sign: str) -> None:
        """Mark a sign, or take the mark away."""
        marked = sign in self.seen
        self.seen = tuple(s for s in self.seen if s != sign) if marked else (*self.seen, sign)
        self._keep(self.seen)
        if self.moment is not None:
            self.draw(self.moment)

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """What the signs ask for, and which they are."""
        if not self.seen:
            return (*moment.told, _("Paused. Lift the laser off."), _("What do you see?"))
        names = ", ".join(_(SIGNS[sign].text) for sign in self.seen)
        return (
            *moment.told,
            _("You saw: {signs}.").format(signs=names),
            _(ADVICE[advice(self.seen)]),
        )

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """The way back, stop, and every sign."""
        stop = BY_ID["stop"]
        signs = (
            Tap(
                id=f"sign_{signal.id}",
                key=signal.key.upper(),
                label=_(signal.text) + (" *" if signal.id in self.seen else ""),
                vital=True,
            )
            for signal in SIGNALS
        )
        return (
            Tap(id="one_key", key=BY_ID["one_key"].key, label=_("done, stay paused"), vital=True),
            Tap(id=stop.id, key=stop.key, label=_(stop.label), vital=True),
            *signs,
        )
