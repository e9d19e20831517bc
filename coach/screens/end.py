"""After the session: what was given, what was missed, where it is written."""

from coach.bedside.port import Afterwards, Ending
from coach.language import _
from coach.screens import session_text
from coach.screens.key_bar_layout import Tap
from coach.screens.session_layout import Moment
from coach.screens.session_page import PageScreen
from coach.screens.spoken_help import end_aloud


class EndScreen(PageScreen):
    """All done, or stopped. ``asks`` says whether questions wait for the one big key."""

    def __init__(self, ending: Ending, afterwards: Afterwards | None = None) -> None:
        super().__init__()
        self._ending = ending
        self._afterwards = afterwards
        self.asks = afterwards is not None and not afterwards.asking().over
        self._farewell: tuple[str, ...] = ()
        if not self.asks:
            self._close()

    def asked(self, *, over: bool) -> None:
        """The questions were answered, or left for later."""
        self.asks = False
        self._close()
        if over:
            self._farewell = (_("Your answers are written down."), *self._farewell)
        else:
            self._farewell = (_("To answer the rest later: coach after"), *self._farewell)
        if self.moment is not None:
            self.draw(self.moment)

    def renew(self, ending: Ending) -> None:
        """The log has got more to tell."""
        self._ending = ending
        if self.moment is not None:
            self.draw(self.moment)

    def _close(self) -> None:
        if self._afterwards is not None:
            self._farewell = self._afterwards.closing()

    def aloud(self) -> str:
        """What is said of it: what to know, and what can be pressed."""
        return end_aloud(self._farewell, asks=self.asks)

    def sign_text(self, moment: Moment) -> str:
        """The word."""
        return _(session_text.STATE[moment.view.phase])

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """The tally and the log; first what is to be done now."""
        asks = (_("Then press SPACE: a few short questions."),) if self.asks else ()
        readiness = moment.view.readiness
        return (
            *moment.told,
            *(() if readiness is None else readiness.why_not),
            _("Switch the laser off."),
            *asks,
            *self._farewell,
            *self._ending.lines,
            _("Log: {file}").format(file=self._ending.journal),
        )

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """What can be done."""
        taps = super().taps(moment)
        if not self.asks:
            return taps
        questions = Tap(id="one_key", key=_("SPACE"), label=_("questions"), vital=True)
        return tuple(questions if tap.id == "one_key" else tap for tap in taps)
