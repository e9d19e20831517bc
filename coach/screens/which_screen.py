"""Which screen a moment asks for, and when it holds another question or another hold. Pure."""

from coach.session.machine import OVER, Phase
from coach.session.readiness import Prompt
from coach.session.view import View


def stage(view: View) -> str:
    """``ready``, ``round``, ``running`` or ``over``."""
    if view.phase in OVER:
        return "over"
    # Dog and plan are looked at on the first screen, with all that is known of them.
    if view.asks and view.readiness is not None and view.readiness.point.id != "dog_and_plan":
        return "round"
    return "ready" if view.phase is Phase.READY else "running"


def held(view: View) -> int | None:
    """Which spot is being held."""
    return view.spot.index if view.phase is Phase.HOLDING else None


def asked(view: View) -> Prompt | None:
    """What the readiness round asks."""
    return None if view.readiness is None else view.readiness.prompt
