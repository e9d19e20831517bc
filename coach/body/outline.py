"""The outline of a dog, and the path along which the spots of each region lie. Pure data.

From ``dog-outline.json``: projected from an open mesh of one dog (source, licence and changes
are in the file and in NOTICE). A pattern to draw and to point at, never a measure for dose.
One unit is nose to tail tip. Side view: the dog's left side, head to the left, y up from the
ground. Top view: head to the left, y > 0 the dog's right.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from itertools import pairwise
from types import MappingProxyType
from typing import Any, Literal

from coach.body.places import is_own, read_key
from coach.body.regions import Side, region, regions

View = Literal["side", "top"]
Point = tuple[float, float]
Path = tuple[Point, ...]

# Left, bottom, right, top.
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A closed polygon of the silhouette; lower layers lie behind higher ones."""

    points: Path
    layer: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """An open line, worth drawing when one unit takes at least ``min_dots`` dots."""

    points: Path
    min_dots: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionPath:
    """Where the spots of a region, side and aspect lie; not ``visible`` = behind the body."""

    path: Path
    visible: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewOutline:
    """One view: polygons, lines, the eye as a dot, boxes to zoom to (``all``: the whole dog)."""

    silhouette: tuple[Shape, ...]
    features: tuple[Feature, ...]
    eye: Point | None
    zooms: Mapping[str, Box]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """Both views and, by (region, view, side, aspect), every path. Aspect None: axial."""

    views: Mapping[View, ViewOutline]
    paths: Mapping[tuple[str, View, Side, str | None], RegionPath]
    zoom_names: Mapping[str, str]

    def path(self, key: str, view: View, side: Side, aspect: str | None) -> RegionPath:
        """The path of a region, or the point of a place of the prescriber's own.

        KeyError when there is none in this view.
        """
        if not is_own(key):
            return self.paths[key, view, side, aspect]
        place = read_key(key, regions())
        anchors = [place.anchor, *filter(None, [place.towards])]
        found = [self._anchor(anchor, view, side, aspect) for anchor in anchors]
        middles = [along(one.path, 0.5) for one in found]
        x, y = (sum(values) / len(middles) for values in zip(*middles, strict=True))
        step = self.length / 1000
        if view == "top":
            # Upwards is towards the midline.
            shift = (place.along, -place.across if y > 0 else place.across)
        elif region(place.anchor).kind == "limb":
            shift = (-place.across, -place.along)
        else:
            shift = (place.along, place.across)
        at = (x + shift[0] * step, y + shift[1] * step)
        return RegionPath(path=(at, at), visible=found[0].visible)

    def _anchor(self, key: str, view: View, side: Side, aspect: str | None) -> RegionPath:
        if (key, view, side, aspect) not in self.paths and aspect is None:
            aspect = next(iter(region(key).aspects), None)
        return self.paths[key, view, side, aspect]

    @property
    def length(self) -> float:
        """From the bump at the back of the skull to the tail base, in units."""
        ends = (self.paths[key, "side", "left", None] for key in ("atlas", "tail_base"))
        first, last = (along(end.path, 0.5) for end in ends)
        return math.dist(first, last)

    def holds(self, key: str, view: View, side: Side, aspect: str | None) -> bool:
        """Whether the middle of a path lies on the dog."""
        point = along(self.path(key, view, side, aspect).path, 0.5)
        return any(_inside(point, shape.points) for shape in self.views[view].silhouette)

    def zoom(self, view: View, key: str | None) -> Box:
        """The box that holds the region ``key`` in ``view``; the whole dog for None or no box."""
        zooms = self.views[view].zooms
        if key and is_own(key):
            key = read_key(key, regions()).anchor
        return zooms.get(self.zoom_names.get(key or "", "all"), zooms["all"])


@cache
def outline() -> Outline:
    """The outline, read once."""
    raw = json.loads((files("coach.body") / "dog-outline.json").read_text(encoding="utf-8"))
    views: dict[View, ViewOutline] = {view: _view(raw["views"][view]) for view in _VIEWS}
    paths = {
        (key, view, side, aspect or None): RegionPath(
            path=_path(place["path"]), visible=place["visible"]
        )
        for key, region in raw["regions"].items()
        for view in _VIEWS
        for side, places in region[view].items()
        for aspect, place in places.items()
    }
    return Outline(
        views=MappingProxyType(views),
        paths=MappingProxyType(paths),
        zoom_names=MappingProxyType({key: place["zoom"] for key, place in raw["regions"].items()}),
    )


_VIEWS: tuple[View, ...] = ("side", "top")


def _view(raw: Mapping[str, Any]) -> ViewOutline:
    return ViewOutline(
        silhouette=tuple(
            Shape(points=_path(shape["points"]), layer=shape["layer"])
            for shape in sorted(raw["silhouette"], key=lambda shape: int(shape["layer"]))
        ),
        features=tuple(
            Feature(points=_path(line["points"]), min_dots=line["min_dots"])
            for line in raw["features"]
        ),
        eye=_path([raw["eye"]])[0] if raw["eye"] else None,
        zooms=MappingProxyType({name: _box(box) for name, box in raw["zooms"].items()}),
    )


def _inside(point: Point, corners: Path) -> bool:
    """Whether a point lies within a polygon, by the corners to its right (even-odd rule)."""
    x, y = point
    odd = False
    for (ax, ay), (bx, by) in zip(corners, (*corners[1:], corners[0]), strict=True):
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            odd = not odd
    return odd


def _path(raw: list[list[float]]) -> Path:
    return tuple((float(x), float(y)) for x, y in raw)


def _box(raw: list[float]) -> Box:
    left, bottom, right, top = (float(value) for value in raw)
    return left, bottom, right, top


def along(path: Path, share: Fraction | float) -> Point:
    """The point at ``share`` (0 to 1) of the length of ``path``, measured along it."""
    if not 0 <= share <= 1:
        raise ValueError(f"share: {share} found; allowed: 0 to 1")
    steps = [math.dist(a, b) for a, b in pairwise(path)]
    left = float(share) * sum(steps)
    for (a, b), step in zip(pairwise(path), steps, strict=True):
        if left <= step and step > 0:
            part = left / step
            return a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part
        left -= step
    return path[-1]
