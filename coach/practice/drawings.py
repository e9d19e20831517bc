"""The small pictures of the page, as SVG: the dog with its spots, and lines over the days. Pure.

Spots are told apart by shape, as in the report: all of the time, a part, none.
"""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

from coach.body.drawing import facing_side, view_of
from coach.body.outline import Point, View, along, outline
from coach.body.regions import Side
from coach.body.spread import places
from coach.practice.details import Detail

WHOLE = 0.9995
RADIUS = 0.018
WIDE, TALL = 132, 26
# View, the side that is seen, its words.
_VIEWS: tuple[tuple[View, Side, str], ...] = (
    ("side", "left", "left"),
    ("side", "right", "right"),
    ("top", "left", "from above"),
)


def _box(view: View) -> tuple[float, float, float, float]:
    left, bottom, right, top = outline().views[view].zooms["all"]
    return left, 1 - top, right - left, top - bottom


def _points(path: Iterable[Point]) -> str:
    return " ".join(f"{x:.3f},{1 - y:.3f}" for x, y in path)


def _symbol(view: View) -> str:
    dog = outline().views[view]
    shapes = "".join(f'<polygon class="dog" points="{_points(s.points)}"/>' for s in dog.silhouette)
    lines = "".join(
        f'<polyline class="feature" points="{_points(f.points)}"/>' for f in dog.features
    )
    return f'<g id="dog-{view}">{shapes}{lines}</g>'


def _mark(at: Point, share: float) -> str:
    x, y = at[0], 1 - at[1]
    if share <= 0:
        a = RADIUS * 0.8
        return (
            f'<path class="cross" d="M{x - a:.3f} {y - a:.3f}L{x + a:.3f} {y + a:.3f}'
            f'M{x - a:.3f} {y + a:.3f}L{x + a:.3f} {y - a:.3f}"/>'
        )
    kind = "spot whole" if share >= WHOLE else "spot"
    circle = f'<circle class="{kind}" cx="{x:.3f}" cy="{y:.3f}" r="{RADIUS}"/>'
    if share >= WHOLE:
        return circle
    half = (
        f'<path class="half" d="M{x:.3f} {y - RADIUS:.3f}'
        f'A{RADIUS} {RADIUS} 0 0 0 {x:.3f} {y + RADIUS:.3f}Z"/>'
    )
    return circle + half


def pictures(dog: str, detail: Detail) -> str:
    """The views on which there are spots, and the lines below them."""
    drawn = "".join(_view(view, facing, words, detail.spots) for view, facing, words in _VIEWS)
    lines = [
        _spark("tolerance", detail.tolerance),
        _spark("score", detail.scores),
        _bars(detail.weeks),
    ]
    listed = "".join(f"<li>{line}</li>" for line in lines if line)
    return f'{drawn}<ul class="lines">{listed}</ul>' if listed else drawn


def _view(view: View, facing: Side, words: str, spots: Sequence[Any]) -> str:
    mirrored = view == "side" and facing == "right"
    marks, shares = [], []
    for spot in spots:
        at = _place(view, facing, spot, mirrored=mirrored)
        if at is None:
            continue
        share = _share(spot)
        shares.append(share)
        marks.append(_mark((1 - at[0], at[1]) if mirrored else at, share))
    if not marks:
        return ""
    left, top, width, height = _box(view)
    if mirrored:
        left = 1 - left - width
    whole = sum(share >= WHOLE for share in shares)
    none = sum(share <= 0 for share in shares)
    label = f"Spots {words}: {whole} whole, {len(shares) - whole - none} in part, {none} none"
    turn = ' transform="translate(1 0) scale(-1 1)"' if mirrored else ""
    return (
        f'<svg role="img" aria-label="{escape(label)}" width="{WIDE}" '
        f'height="{round(WIDE * height / width)}" '
        f'viewBox="{left:.3f} {top:.3f} {width:.3f} {height:.3f}">'
        f'<use href="#dog-{view}"{turn}/>{"".join(marks)}</svg>'
    )


def _place(view: View, facing: Side, spot: Any, *, mirrored: bool) -> Point | None:
    side: Side = spot["side"] if spot["side"] in ("left", "right") else "middle"
    aspect = spot["aspect"]
    try:
        if view_of(spot["region"]) != view:
            return None
        if view == "side" and facing_side(side, aspect) != facing:
            return None
    except KeyError:
        # A region that a newer program knows.
        return None
    seen: Side = side
    if mirrored and side != "middle":
        seen = "left" if side == "right" else "right"
    path = outline().paths.get((spot["region"], view, seen, aspect))
    if path is None:
        return None
    return along(path.path, places(spot["of"])[spot["number"] - 1])


def _share(spot: Any) -> float:
    try:
        return float(spot["counted_s"]) / float(spot["prescribed_s"])
    except (TypeError, ValueError, ZeroDivisionError):
        return 1.0


def _spark(words: str, points: Sequence[tuple[int, int]]) -> str:
    """A line from 0 to 10 over the days, its last value as a number."""
    if not points:
        return ""
    first, last = points[0][0], points[-1][0]
    span = max(1, last - first)
    drawn = [
        (2 + (WIDE - 4) * (day - first) / span, TALL - 3 - (TALL - 6) * min(max(value, 0), 10) / 10)
        for day, value in points
    ]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in drawn)
    values = ", ".join(str(value) for _, value in points[-8:])
    x, y = drawn[-1]
    return (
        f"<span>{words} {points[-1][1]}/10</span>"
        f'<svg role="img" aria-label="{words}, last values: {values}" width="{WIDE}" '
        f'height="{TALL}"><polyline class="spark" points="{path}"/>'
        f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="2.6"/></svg>'
    )


def _bars(weeks: Sequence[tuple[int, int]]) -> str:
    """A bar a week: a frame as high as what was due, filled as far as was begun."""
    if not weeks:
        return ""
    most = max(1, *(max(week) for week in weeks))
    step = (WIDE - 4) / len(weeks)
    wide = min(12.0, step * 0.7)
    drawn = []
    for number, (due, begun) in enumerate(weeks):
        x = 2 + number * step
        for kind, count in (("bar", begun), ("frame", due)):
            high = (TALL - 4) * count / most
            if count:
                drawn.append(
                    f'<rect class="{kind}" x="{x:.1f}" y="{TALL - 2 - high:.1f}" '
                    f'width="{wide:.1f}" height="{high:.1f}"/>'
                )
    due, begun = (sum(week[part] for week in weeks) for part in (0, 1))
    label = "; ".join(f"{b} of {d}" for d, b in weeks[-8:])
    return (
        f"<span>begun {begun} of {due}</span>"
        f'<svg role="img" aria-label="begun of due by week: {label}" width="{WIDE}" '
        f'height="{TALL}">{"".join(drawn)}</svg>'
    )


DEFINITIONS = (
    '<svg class="hidden" aria-hidden="true" width="0" height="0"><defs>'
    f"{_symbol('side')}{_symbol('top')}</defs></svg>"
)


def _sample(share: float) -> str:
    r = RADIUS * 1.5
    return (
        f'<svg aria-hidden="true" width="16" height="16" viewBox="{-r} {1 - r} {2 * r} {2 * r}">'
        f"{_mark((0.0, 0.0), share)}</svg>"
    )


LEGEND = (
    '<p class="key">'
    f"<span>{_sample(1)} all of the prescribed time over the course</span>"
    f"<span>{_sample(0.5)} a part</span><span>{_sample(0)} none</span>"
    "<span>weeks: filled as far as begun, frame as high as due</span></p>"
)
