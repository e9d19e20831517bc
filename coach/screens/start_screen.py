"""Before the start: is this the right dog and the right plan, and are all eyes safe?"""

from coach.language import _
from coach.record.session_length import done_text
from coach.screens import session_text
from coach.screens.key_bar_layout import Tap
from coach.screens.readiness_screen import ANSWER_KEYS, SHOWN
from coach.screens.session_layout import Moment
from coach.screens.session_page import PageScreen
from coach.session.readiness import waiting
from coach.session.view import View


class ReadyScreen(PageScreen):
    """Get ready. The first question of the readiness round is asked here."""

    BINDINGS = [*ANSWER_KEYS]  # noqa: RUF012  (the framework's own form)

    def sign_text(self, moment: Moment) -> str:
        """The dog."""
        return moment.view.dog

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """The plan, the cautions, and what to do."""
        opening, view = moment.opening, moment.view
        rehearsal = (_("REHEARSAL: LASER OFF. Nothing counts."),) if view.rehearsal else ()
        note = (_("Note: {words}").format(words=opening.note),) if opening.note else ()
        return (
            *moment.told,
            *opening.remarks,
            *rehearsal,
            *_what_now(view),
            _("Plan {plan}, revision {revision}").format(
                plan=opening.plan_id, revision=opening.revision
            ),
            _("Prescribed by {name}").format(name=opening.prescriber),
            session_text.amount_text(view),
            *_done(moment),
            _("{laser}, class {number}").format(laser=opening.laser, number=opening.laser_class),
            *(_(caution) for caution in session_text.CAUTIONS if view.readiness is None),
            *note,
        )

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """What can be done; while the round is asked, the other answer as well."""
        taps = super().taps(moment)
        asked = moment.view.readiness
        prompt = None if asked is None else asked.prompt
        others = () if prompt is None else prompt.options[1:]
        answers = (
            Tap(id=f"round_{option.key}", key=_(SHOWN[option.key]), label=option.text, vital=True)
            for option in others
        )
        return (*taps[:1], *answers, *taps[1:])


def _what_now(view: View) -> tuple[str, ...]:
    if view.readiness is None:
        return (_("Is this your dog and your plan? Then press SPACE to start."),)
    if view.away:
        return (waiting(),)
    if view.asks:
        return (
            *([view.readiness.told] if view.readiness.told else []),
            _("Is this your dog and your plan? Then press SPACE."),
            _("A few questions follow. Only then you start."),
        )
    return (_("All is ready. Press SPACE to start."),)


def _done(moment: Moment) -> tuple[str, ...]:
    """When it will be over, if it starts now."""
    foretold, now = moment.opening.foretold, moment.now
    if foretold is None or now is None:
        return ()
    return (done_text(foretold, now=now, speed=moment.opening.speed),)
