"""How long the screen may sleep before it has to look at the session again. Pure."""

from coach.session.machine import Phase
from coach.session.view import View
from coach.units import NS_PER_S

# What passes quickly, or runs faster than seconds, is drawn so often and no more.
BEAT_S = 0.1
# Where no second passes, whatever else may change (the clock on the wall) is seen within this.
LONGEST_S = 1.0
# A timer that is early by less than this still finds the next second.
AFTER_NS = NS_PER_S // 1000


def next_second_s(view: View, speed: int) -> float:
    """Seconds by the clock on the wall until the countdown of ``view`` shows another one."""
    if view.waits or view.phase not in (Phase.MOVING, Phase.HOLDING):
        return LONGEST_S
    left_s = ((view.left_ns - 1) % NS_PER_S + 1 + AFTER_NS) / NS_PER_S / speed
    return left_s if speed == 1 else max(BEAT_S, left_s)
