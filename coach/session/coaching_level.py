"""How much is said about technique, and which sign is taught: less with practice. Pure.

Three levels. ``full``: how to hold the head, at the first spots of each region. ``short``: once
at the start. ``few``: region, side and number alone. What is said comes in a move that has time
for it, never in a hold. The number of sessions for each is common practice, no source.
"""

from collections.abc import Sequence

from coach.language import N_, _
from coach.plan.care import Reminders
from coach.plan.spots import Spot
from coach.session.place_guidance import held_lines
from coach.session.signals import taught
from coach.units import NS_PER_S

SHORT_FROM = 3
FEW_FROM = 10
# Place, side and one sentence more have been said after so long.
ROOM_NS = 8 * NS_PER_S

TECHNIQUE: tuple[str, ...] = (
    N_("Part the hair. Head flat on the skin."),
    N_("At a right angle, with light pressure."),
    N_("Hold still. Do not slide."),
)


def level_for(sessions_done: int, chosen: Reminders | None = None) -> Reminders:
    """The level for an owner with so many sessions, unless the prescriber has ``chosen`` one."""
    if chosen is not None:
        return chosen
    if sessions_done < SHORT_FROM:
        return "full"
    return "short" if sessions_done < FEW_FROM else "few"


def tips_for(
    spots: Sequence[Spot], *, level: Reminders, sessions_done: int
) -> tuple[tuple[int, str], ...]:
    """What is said on the way to which spot (its index): technique by ``level``, and one sign.

    At most one sentence a move; the sign comes where no technique is told, after the settling.
    """
    technique: dict[int, str] = {}
    told: dict[str, int] = {}
    # Where the plan itself says how the head is held, nothing else is said about it.
    for spot in (spot for spot in spots if has_room(spot) and not held_lines(spot)):
        number = told.get(spot.region, 0)
        if level == "full" and number < len(TECHNIQUE):
            technique[spot.index] = _(TECHNIQUE[number])
        elif level == "short" and not technique:
            technique[spot.index] = _(TECHNIQUE[0])
        told[spot.region] = number + 1
    free = [
        spot.index
        for spot in spots
        if has_room(spot) and not spot.calm and spot.index not in technique
    ]
    sign = {free[0]: _(taught(sessions_done).lesson)} if free else {}
    return tuple(sorted({**technique, **sign}.items()))


def has_room(spot: Spot) -> bool:
    """Whether the way to ``spot`` leaves time for a sentence."""
    return spot.move_ns - spot.turn_ns >= ROOM_NS
