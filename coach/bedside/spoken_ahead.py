"""What a session will say: known ahead, so that it can be rendered before it is needed."""

from coach.plan.model import Plan
from coach.plan.spots import SessionSpots, spots_of
from coach.session import signals, went_wrong
from coach.session.cues import every_text
from coach.session.machine import Options


def texts_for(plan: Plan, session: SessionSpots, options: Options) -> list[str]:
    """Every cue of the session, of the whole plan, and about the dog's signs."""
    # The whole plan too: a session that was cut off may have had more spots than today's.
    texts = [
        text
        for spots in (session.spots, spots_of(plan))
        for text in every_text(
            spots, laser_button=options.laser_button, owner_sits=options.owner_sits
        )
    ]
    texts += [tip for _index, tip in options.tips]
    about = plan.about
    texts += went_wrong.every_sentence(name=about.prescriber, phone=about.phone)
    return list(dict.fromkeys([*texts, *signals.every_sentence()]))
