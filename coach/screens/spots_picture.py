"""The dog of a session with its spots: what the picture shows, from a view. Pure."""

from dataclasses import replace

from coach.body.drawing import Drawing, Mark, draw_dog, view_of
from coach.body.places import PlaceKey, is_own, read_key
from coach.body.raster import Look
from coach.body.regions import regions
from coach.plan.spots import Spot
from coach.session.view import View

EDGE = "edge"


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
        coming=[
            *(_mark(other) for other, state in view.states if state == "coming"),
            *edges(spot),
        ],
    )


def edges(spot: Spot) -> list[Mark]:
    """The corners of the area that is swept, as far as they can be drawn; none for a spot."""
    if spot.half_side is None:
        return []
    known = regions()
    place = (
        read_key(spot.region, known)
        if is_own(spot.region)
        else PlaceKey(name=EDGE, anchor=spot.region)
    )
    return [
        Mark(
            region=str(
                replace(
                    place,
                    along=place.along + along * spot.half_side,
                    across=place.across + across * spot.half_side,
                )
            ),
            side=spot.side,
            aspect=spot.aspect,
            number=1,
            of=1,
        )
        for along in (-1, 1)
        for across in (-1, 1)
    ]


def _mark(spot: Spot) -> Mark:
    return Mark(
        region=spot.region, side=spot.side, aspect=spot.aspect, number=spot.number, of=spot.of
    )
