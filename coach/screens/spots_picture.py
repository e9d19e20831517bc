"""The dog of a session with its spots: what the picture shows, from a view. Pure."""

from coach.body.drawing import Drawing, Mark, draw_dog, view_of
from coach.body.raster import Look
from coach.plan.spots import Spot
from coach.session.view import View


def sketch(view: View, *, width: int, height: int, look: Look) -> Drawing:
    """The dog from the side that is treated, every spot by its state; left out ones are blank."""
    spot = view.spot
    return draw_dog(
        width=width,
        height=height,
        look=look,
        view=view_of(spot.region),
        side=spot.side,
        region=spot.region,
        aspect=spot.aspect,
        done=[_mark(other) for other, state in view.states if state == "done"],
        current=_mark(spot),
        coming=[_mark(other) for other, state in view.states if state == "coming"],
    )


def _mark(spot: Spot) -> Mark:
    return Mark(
        region=spot.region, side=spot.side, aspect=spot.aspect, number=spot.number, of=spot.of
    )
