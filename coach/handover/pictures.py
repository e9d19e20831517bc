"""Pictures of the report, drawn with lines: the dog with its spots, the days, the scores.

Black on white and told apart by shape alone, so that a copy of a copy still reads.
"""

import datetime
import math
from collections.abc import Callable, Sequence
from itertools import pairwise

from coach.body.drawing import facing_side, view_of
from coach.body.outline import Point, RegionPath, View, along, outline
from coach.body.regions import Side
from coach.body.spread import places
from coach.handover.page import Page
from coach.handover.summary_json import DayJson, SpotJson, SummaryJson

WHOLE = 0.9995
# From here on there was more than was prescribed.
MORE = 1.05
# How a spot is shown, by the share of its prescribed time.
STEPS = (
    (0.0, "none"),
    (0.25, "up to 1/4"),
    (0.5, "1/2"),
    (0.75, "3/4, nearly all"),
    (1.0, "all"),
    (1.1, "more than prescribed"),
)
MOST_WEEKS = 24
WEEKS_A_LINE = 6
# View, the side that is seen, words below, share of the width: the spine needs most.
_PICTURES: tuple[tuple[View, Side, str, float], ...] = (
    ("side", "left", "the dog's left", 0.28),
    ("side", "right", "the dog's right", 0.28),
    ("top", "left", "from above (left side below)", 0.44),
)


def coverage(page: Page, summary: SummaryJson) -> None:
    """The dog from both sides and from above, each spot marked by what it had over the course."""
    top, left, height = page.get_y(), page.l_margin, 0.0
    words: list[tuple[float, float, str]] = []
    for view, facing, text, share in _PICTURES:
        width = page.epw * share
        box = outline().views[view].zooms["all"]
        scale = (width - 5) / (box[2] - box[0])
        height = max(height, scale * (box[3] - box[1]))
        _dog(page, view, facing, (left + 2.5, top + 1), scale, summary["spots"])
        words.append((left, width, text))
        left += width
    for left, width, text in words:
        page.set_xy(left, top + height + 1.5)
        page.cell(width, 3.5, text, align="C")
    page.set_xy(page.l_margin, top + height + 5.2)
    _legend(page)


def step_of(share: float) -> int:
    """Which of :data:`STEPS` a share of the prescribed time is shown as."""
    if share <= 0:
        return 0
    if share >= MORE:
        return 5
    return 4 if share >= WHOLE else min(3, math.ceil(share * 4 - 1e-9))


def mark(page: Page, at: Point, share: float, radius: float = 0.85) -> None:
    """A spot in six steps: crossed out, filled by quarters, filled, filled with a ring."""
    x, y = at
    step = step_of(share)
    page.set_line_width(0.25)
    page.set_fill_color(255 if step < 4 else 0)
    page.circle(x, y, radius, style="DF")
    page.set_fill_color(0)
    if 0 < step < 4:
        # From twelve o'clock, as a clock goes; eight corners a quarter are round enough.
        turns = [step * 2 * math.pi / 4 * part / (8 * step) for part in range(8 * step + 1)]
        rim = [(x + radius * math.sin(turn), y - radius * math.cos(turn)) for turn in turns]
        page.polygon([(x, y), *rim], style="F")
    elif step == 5:
        page.circle(x, y, radius * 1.55, style="D")
    elif step == 0:
        arm = radius * 0.7
        page.line(x - arm, y - arm, x + arm, y + arm)
        page.line(x - arm, y + arm, x + arm, y - arm)
    page.set_fill_color(255)
    page.set_line_width(0.2)


def days(page: Page, summary: SummaryJson) -> None:
    """A strip of days in weeks from Monday: full, part, none; a ring where one was due."""
    by_day = {datetime.date.fromisoformat(day["day"]): day for day in summary["days"]}
    course = summary["course"]
    # A session without its day: what was due and is over.
    for due in course["dues"] if course is not None else ():
        if due["state"] in ("missed", "ask", "late"):
            nothing: DayJson = {"day": due["day"], "sessions": 0, "state": "due"}
            by_day.setdefault(datetime.date.fromisoformat(due["day"]), nothing)
    first, last = min(by_day), max(by_day)
    monday = first - datetime.timedelta(days=first.weekday())
    weeks = (last - monday).days // 7 + 1
    if weeks > MOST_WEEKS:
        monday += datetime.timedelta(weeks=weeks - MOST_WEEKS)
        weeks = MOST_WEEKS
    size = page.epw / (WEEKS_A_LINE * 7 + WEEKS_A_LINE * 0.6)
    for week in range(weeks):
        start = monday + datetime.timedelta(weeks=week)
        column = week % WEEKS_A_LINE
        if column == 0 and page.will_page_break(size + 4):
            page.add_page()
        left = page.l_margin + column * size * 7.6
        top = page.get_y()
        page.set_xy(left, top)
        page.set_font_size(6.5)
        page.cell(size * 7, 3, f"{start:%d %b %Y}")
        for number in range(7):
            day = by_day.get(start + datetime.timedelta(days=number))
            _day(page, left + number * size, top + 3.2, size, day)
        page.set_xy(page.l_margin, top)
        if column == WEEKS_A_LINE - 1 or week == weeks - 1:
            page.set_xy(page.l_margin, top + size + 4)
    page.set_font_size(8)


def _day(page: Page, left: float, top: float, size: float, day: DayJson | None) -> None:
    page.set_line_width(0.15)
    page.rect(left, top, size, size)
    inner, gap = size * 0.6, size * 0.2
    x, y = left + gap, top + gap
    page.set_fill_color(0)
    if day is not None and day["state"] == "full":
        page.rect(x, y, inner, inner, style="F")
    elif day is not None and day["state"] == "part":
        page.polygon([(x, y), (x, y + inner), (x + inner, y + inner)], style="F")
        page.rect(x, y, inner, inner)
    elif day is not None and day["state"] == "due":
        page.circle(x + inner / 2, y + inner / 2, inner / 2)
    elif day is not None:
        page.line(x, y, x + inner, y + inner)
        page.line(x, y + inner, x + inner, y)
    if day is not None and day["sessions"] > 1:
        page.set_font_size(5)
        page.set_xy(left + size * 0.5, top)
        page.cell(size * 0.5, 2, str(day["sessions"]), align="R")
        page.set_font_size(6.5)
    page.set_fill_color(255)
    page.set_line_width(0.2)


Series = Sequence[tuple[datetime.date, int]]


def scores(page: Page, function: Series, tolerance: Series, *, width: float, height: float) -> None:
    """Function (filled circles, solid line) and tolerance (open squares, dashes), 0 to 10."""
    left, top = page.get_x() + 5, page.get_y() + 1
    wide, tall = width - 8, height - 9
    every = [day for day, _ in (*function, *tolerance)]
    first, last = min(every), max(every)
    span = max(1, (last - first).days)

    def at(day: datetime.date, value: int) -> Point:
        return left + wide * (day - first).days / span, top + tall * (10 - value) / 10

    page.set_font_size(6)
    for value in (0, 5, 10):
        y = top + tall * (10 - value) / 10
        page.set_xy(left - 5, y - 1.5)
        page.cell(4, 3, str(value), align="R")
        page.set_line_width(0.1)
        page.line(left, y, left + wide, y)
    page.set_xy(left - 2, top + tall + 0.6)
    page.cell(20, 3, f"{first:%d %b %Y}")
    if last != first:
        page.set_xy(left + wide - 20, top + tall + 0.6)
        page.cell(22, 3, f"{last:%d %b %Y}", align="R")
    page.set_line_width(0.25)
    for series, dashed in ((function, False), (tolerance, True)):
        points = [at(day, value) for day, value in sorted(series)]
        page.set_dash_pattern(*((0.8, 0.6) if dashed else (0, 0)))
        for before, after in pairwise(points):
            page.line(*before, *after)
        page.set_dash_pattern()
        for x, y in points:
            page.set_fill_color(255 if dashed else 0)
            if dashed:
                page.rect(x - 0.7, y - 0.7, 1.4, 1.4, style="DF")
            else:
                page.circle(x, y, 0.8, style="DF")
    page.set_fill_color(255)
    page.set_xy(left - 2, top + tall + 3.6)
    page.cell(wide, 3, "filled circles: function; open squares: tolerance; 10 is best")
    page.set_font_size(8)
    page.set_line_width(0.2)


def _dog(
    page: Page, view: View, facing: Side, at: Point, scale: float, spots: Sequence[SpotJson]
) -> None:
    place = draw_outline(page, view, facing, at, scale)
    for spot in spots:
        point = spot_point(
            view,
            facing,
            region=spot["region"],
            side=_side(spot["side"]),
            aspect=spot["aspect"],
            number=spot["number"],
            of=spot["of"],
        )
        if point is not None:
            share = spot["counted_s"] / spot["prescribed_s"] if spot["prescribed_s"] else 1.0
            mark(page, place(point), share)


def draw_outline(
    page: Page, view: View, facing: Side, at: Point, scale: float
) -> Callable[[Point], Point]:
    """Draw the dog with its top left at ``at`` (mm), 1 long being ``scale`` mm.

    Returns what gives the place on the page of a point on the dog.
    """
    mirrored = view == "side" and facing == "right"
    box = outline().views[view].zooms["all"]

    def place(point: Point) -> Point:
        x = 1 - point[0] if mirrored else point[0]
        return at[0] + (x - box[0]) * scale, at[1] + (box[3] - point[1]) * scale

    dog = outline().views[view]
    page.set_fill_color(255)
    page.set_draw_color(90)
    page.set_line_width(0.2)
    for shape in dog.silhouette:
        page.polygon([place(point) for point in shape.points], style="DF")
    for feature in dog.features:
        page.polyline([place(point) for point in feature.points])
    page.set_draw_color(0)
    return place


def spot_point(
    view: View, facing: Side, *, region: str, side: Side, aspect: str | None, number: int, of: int
) -> Point | None:
    """Where a spot is on the dog; None where this view does not show it."""
    if view_of(region) != view or (view == "side" and facing_side(side, aspect) != facing):
        return None
    seen = side
    if view == "side" and facing == "right" and side != "middle":
        seen = "left" if side == "right" else "right"
    path = _path(region, view, seen, aspect)
    return None if path is None else along(path.path, places(of)[number - 1])


def _side(text: str) -> Side:
    return "left" if text == "left" else "right" if text == "right" else "middle"


def _legend(page: Page) -> None:
    x, y = page.l_margin + 2, page.get_y() + 1.8
    page.set_xy(x - 2, y - 1.9)
    page.cell(None, 3.8, "of the prescribed time:")
    x = page.get_x() + 4
    for share, words in STEPS:
        mark(page, (x, y), share)
        page.set_xy(x + 2, y - 1.9)
        page.cell(None, 3.8, words)
        x = page.get_x() + 6
    page.set_xy(page.l_margin, y + 2.2)


def _path(key: str, view: View, side: Side, aspect: str | None) -> RegionPath | None:
    try:
        return outline().path(key, view, side, aspect)
    except KeyError:
        return None
