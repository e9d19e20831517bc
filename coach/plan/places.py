"""``[[places]]``: a place of the prescriber's own, such as a wound or a scar. Format 2. Pure.

A place is named by its ``name`` and lies at a region of :mod:`coach.body`: so many centimetres
along and across from its middle, or between two regions.
"""

from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, Field

from coach.body.places import PlaceKey, thousandths
from coach.body.regions import Side
from coach.plan.fields import Table, between, refuse, words

_OFFSET_CM = between("-40", "40", "cm", above="this looks like mm", below="this looks like mm")


def _name(text: str) -> str:
    if "@" in text:
        raise refuse("text without @")
    return text


class OwnPlace(Table):
    """One place. Either ``region``, with offsets, or ``between`` two regions.

    Attributes:
        along_cm: from the middle of the region towards the tail, on a leg towards the foot.
        across_cm: from the middle line of the region upwards, on a leg towards the front.
    """

    name: Annotated[str, words(1, 30), AfterValidator(_name)] = Field(
        examples=["scar on the thigh"]
    )
    side: Side = Field(examples=["left"])
    region: str | None = Field(default=None, examples=["stifle"])
    between: Annotated[list[str], Field(min_length=2, max_length=2)] | None = Field(
        default=None, examples=[["hip", "stifle"]]
    )
    along_cm: Annotated[Decimal, _OFFSET_CM] = Decimal(0)
    across_cm: Annotated[Decimal, _OFFSET_CM] = Decimal(0)
    landmark: Annotated[str, words(0, 200)] = Field(
        default="", examples=["Feel for the bald line on the outside of the thigh."]
    )
    care: Annotated[str, words(0, 200)] = Field(default="", examples=["Keep off the stitches."])

    @property
    def anchors(self) -> list[str]:
        """The region, or both, that it lies at."""
        return [self.region] if self.region is not None else list(self.between or [])

    def key(self, dog_length_mm: int) -> str:
        """What stands for it as a region on a dog of that length, see :mod:`coach.body.places`."""
        first, second, *_ = [*self.anchors, None]
        return str(
            PlaceKey(
                name=self.name,
                anchor=first or "",
                towards=second,
                along=thousandths(round(self.along_cm * 10), dog_length_mm=dog_length_mm),
                across=thousandths(round(self.across_cm * 10), dog_length_mm=dog_length_mm),
            )
        )
