"""``[[places]]``: a place of the prescriber's own, such as a wound or a scar. Format 2. Pure.

A place is named by its ``name`` and lies at a region of :mod:`coach.body`: so many centimetres
along and across from its middle, or between two regions.
"""

from decimal import Decimal
from typing import Annotated

from pydantic import Field

from coach.body.regions import Side
from coach.plan.fields import Note, Table, between, words

_OFFSET_CM = between("-40", "40", "cm", above="this looks like mm", below="this looks like mm")


class OwnPlace(Table):
    """One place. Either ``region``, with offsets, or ``between`` two regions.

    Attributes:
        along_cm: from the middle of the region towards the tail, on a leg towards the foot.
        across_cm: from the middle of the region towards the dog's left; on a side, upwards.
    """

    name: Annotated[str, words(1, 30)] = Field(examples=["scar on the thigh"])
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
    note: Note = ""

    @property
    def anchor(self) -> str:
        """The region that it lies at, the first of two."""
        return self.region or (self.between or [""])[0]

    @property
    def key(self) -> str:
        """What stands for it as a region, see :func:`coach.body.regions.region`."""
        return f"{self.name}@{self.anchor}"
