"""One place where a head rests: the same key from the plan to the report. Pure."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from coach.body.regions import Side

_ACROSS: Mapping[str, Side] = {"left": "right", "right": "left"}


class Face(NamedTuple):
    """A region, the side, and for a joint the face of it: where a row of sites lies."""

    region: str
    side: Side
    aspect: str | None = None


class Flank(NamedTuple):
    """A region and the side of it: what is added up together."""

    region: str
    side: Side


class Site(NamedTuple):
    """One place on the dog.

    Attributes:
        region: region key.
        side: the dog's side.
        aspect: face of a joint, or None.
        number: from 1, head to tail, among the sites of its region, side and aspect.
    """

    region: str
    side: Side
    aspect: str | None = None
    number: int = 1

    @property
    def face(self) -> Face:
        """Where it is but for its number."""
        return Face(self.region, self.side, self.aspect)

    @property
    def flank(self) -> Flank:
        """Its region and side."""
        return Flank(self.region, self.side)

    @property
    def across(self) -> "Site | None":
        """The same place on the other side; None in the middle."""
        other = _ACROSS.get(self.side)
        return None if other is None else self._replace(side=other)

    @classmethod
    def read(cls, row: Mapping[str, Any]) -> "Site":
        """The site in a row of a journal or a file. KeyError where a part of it lacks."""
        return cls(row["region"], row["side"], row["aspect"], row["number"])


class AtSite:
    """Base of what lies at one ``site``: its parts by their own names."""

    __slots__ = ()
    site: Site

    @property
    def region(self) -> str:
        """Region key."""
        return self.site.region

    @property
    def side(self) -> Side:
        """The dog's side."""
        return self.site.side

    @property
    def aspect(self) -> str | None:
        """Face of a joint, or None."""
        return self.site.aspect

    @property
    def number(self) -> int:
        """From 1, among those of its region, side and aspect."""
        return self.site.number
