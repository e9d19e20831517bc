"""Before the start: is this the right dog and the right plan, and are all eyes safe?"""

from coach.screens import words
from coach.screens.drawing import Moment
from coach.screens.pages import PageScreen


class ReadyScreen(PageScreen, inherit_bindings=False):
    """Get ready."""

    def sign_text(self, moment: Moment) -> str:
        """The dog."""
        return moment.view.dog

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """The plan, the cautions, and what to do."""
        opening, view = moment.opening, moment.view
        rehearsal = (f"{words.REHEARSAL}. Nothing counts.",) if view.rehearsal else ()
        note = (f"Note: {opening.note}",) if opening.note else ()
        return (
            *moment.told,
            *rehearsal,
            "Is this your dog and your plan? Then press SPACE to start.",
            f"Plan {opening.plan_id}, revision {opening.revision}",
            f"Prescribed by {opening.prescriber}",
            words.amount_text(view),
            f"{opening.laser}, class {opening.laser_class}",
            *words.CAUTIONS,
            *note,
        )
