"""How a spot is found and how the head is held there, in the prescriber's words. Pure."""

from coach.body import told
from coach.language import _
from coach.plan.spots import Spot


def find_text(spot: Spot) -> str:
    """The landmark: the prescriber's own, else that of the region."""
    return spot.landmark or told(spot.region).feel


def own_lines(spot: Spot) -> tuple[str, ...]:
    """What the plan says of this spot beside the region: landmark, care, how the head is held."""
    return tuple(
        filter(
            None,
            (
                _("Where: {words}").format(words=spot.landmark) if spot.landmark else "",
                _("Care: {caution}").format(caution=spot.care) if spot.care else "",
                *held_lines(spot),
            ),
        )
    )


def held_lines(spot: Spot) -> tuple[str, ...]:
    """Contact or distance, and pressure, as far as the plan says."""
    lines = []
    if spot.treated_area_um2 is not None:
        area = f"{spot.treated_area_um2 / 1e8:g}"
        lines.append(_("Move the head over {area} cm2.").format(area=area))
        lines.append(_("Keep it moving: slowly, flat, each stroke over the one before."))
    if spot.contact:
        lines.append(_("Keep the head on the skin."))
    elif spot.distance_mm is not None:
        centimetres = f"{spot.distance_mm / 10:g}"
        lines.append(_("Keep the head {distance} cm off the skin.").format(distance=centimetres))
    elif spot.contact is False:
        lines.append(_("Keep the head off the skin."))
    if spot.pressure == "light":
        lines.append(_("Press only lightly."))
    elif spot.pressure == "none":
        lines.append(_("Do not press."))
    return tuple(lines)
