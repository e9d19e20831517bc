"""The sheet for the fridge door: what the owner needs at a glance, printed from the plan. Pure.

Page one: the dog with numbered spots, the order with seconds, days to tick, when to stop, eyes,
whom to phone. Page two: how to find each place and how to hold the head there. It has no dose and
no spot that the session does not have: both come from the same spots.
"""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from coach.body import told
from coach.body.outline import View, outline
from coach.body.regions import Side
from coach.handover.page import Page
from coach.handover.pictures import draw_outline, spot_point
from coach.language import _, language, ngettext
from coach.plan.model import Plan
from coach.plan.spots import Spot
from coach.session.cues import TURN_WORDS, face_word, sentence, side_word
from coach.session.readiness_points import eyes
from coach.session.signals import STOPS
from coach.units import NS_PER_S, ceil_s

TITLE_PT, BIG_PT, BODY_PT, SMALL_PT = 22.0, 13.0, 11.0, 9.0
BOX_MM = 6.0
# More boxes than this would not leave room for the rest.
MOST_DAYS = 40
RADIUS_MM = 2.0
# The dogs get smaller until everything is on one page.
DOG_SHARES = (1.0, 0.8, 0.65, 0.5)
ROWS: tuple[tuple[tuple[View, Side], ...], ...] = (
    (("side", "left"), ("side", "right")),
    (("top", "left"),),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Spots in a row that are held alike: one line of the sheet.

    Attributes:
        spots: in the order of the session; their numbers on the sheet are their place in it.
        turn: how the dog is turned before the first, or "".
    """

    spots: tuple[Spot, ...]
    turn: str

    @property
    def numbers(self) -> str:
        """``3`` or ``3-6``."""
        first, last = self.spots[0].index + 1, self.spots[-1].index + 1
        return str(first) if first == last else f"{first}-{last}"


def stops_of(spots: Sequence[Spot]) -> list[Stop]:
    """The lines of the sheet, in the order of the session."""
    stops: list[Stop] = []
    position = spots[0].position if spots else None
    alike = groupby(spots, key=lambda s: (s.region, s.side, s.aspect, s.hold_ns, s.position))
    for _key, group in alike:
        together = tuple(group)
        lies = together[0].position
        turn = ""
        if lies is not None and lies != position:
            turn, position = _(TURN_WORDS[lies]), lies
        stops.append(Stop(spots=together, turn=turn))
    return stops


def sheet_pdf(
    plan: Plan, spots: Sequence[Spot], *, paper: str, made_at: datetime.datetime
) -> bytes:
    """The sheet as PDF, two pages or three. ``spots`` are those of one whole session."""
    for share in DOG_SHARES:
        page = _first_page(plan, spots, paper=paper, made_at=made_at, share=share)
        if page.page_no() == 1 or share == DOG_SHARES[-1]:
            break
        page.close_fonts()
    page.add_page()
    _places(page, spots)
    return bytes(page.output())


def _first_page(
    plan: Plan, spots: Sequence[Spot], *, paper: str, made_at: datetime.datetime, share: float
) -> Page:
    """All that hangs on the fridge door; the dog is drawn in ``share`` of the width."""
    title = _("Laser sessions for {dog}").format(dog=plan.dog.name)
    page = Page(paper, made_at=made_at, title=title)
    page.set_lang(language())
    page.last_line = _("Plan {id}, revision {revision}, valid until {day}.").format(
        id=plan.about.id, revision=plan.about.revision, day=plan.about.valid_until
    )
    _head(page, plan, title)
    _dogs(page, spots, share)
    _order(page, spots)
    _days(page, plan)
    _safety(page, plan)
    return page


def _head(page: Page, plan: Plan, title: str) -> None:
    page.bold(title, size=TITLE_PT)
    page.ln(10)
    who = ", ".join(filter(None, (plan.about.prescriber, plan.about.clinic)))
    page.lines(_("Ordered by {who}.").format(who=who), size=SMALL_PT)
    if plan.about.phone:
        phone = _("Something is wrong? Stop, and phone {phone}.").format(phone=plan.about.phone)
        page.bold(phone, size=BIG_PT)
        page.ln(6)


def _dogs(page: Page, spots: Sequence[Spot], share: float) -> None:
    """The dog from both sides and from above, each spot with its number."""
    for row in ROWS:
        if not any(_point(spot, *view) for view in row for spot in spots):
            continue
        top, height = page.get_y() + 1, 0.0
        width = page.epw * share / len(row)
        for number, (view, facing) in enumerate(row):
            left = page.l_margin + number * width
            box = outline().views[view].zooms["all"]
            scale = (width - 8) / (box[2] - box[0])
            height = max(height, scale * (box[3] - box[1]))
            place = draw_outline(page, view, facing, (left + 4, top), scale)
            points = [(_point(spot, view, facing), spot.index + 1) for spot in spots]
            seen = [(place(point), number) for point, number in points if point is not None]
            for at, name in apart(seen):
                _number(page, at, name)
        for number, (view, facing) in enumerate(row):
            page.set_xy(page.l_margin + number * width, top + height + 1)
            page.set_font_size(SMALL_PT)
            page.cell(width, 4, page.printable(_view_words(view, facing)), align="C")
        page.set_xy(page.l_margin, top + height + 6)


def apart(
    marks: Sequence[tuple[tuple[float, float], int]],
) -> list[tuple[tuple[float, float], int]]:
    """The marks moved just so far that no two numbers lie on each other (mm)."""
    places = [list(at) for at, _number in marks]
    for _round in range(60):
        moved = False
        for first, one in enumerate(places):
            for other in places[first + 1 :]:
                dx, dy = other[0] - one[0], other[1] - one[1]
                distance = math.hypot(dx, dy)
                if distance >= 2 * RADIUS_MM:
                    continue
                push = (2 * RADIUS_MM - distance) / 2 + 0.01
                # Two in one place part sideways.
                along = (dx / distance, dy / distance) if distance > 0 else (1.0, 0.0)
                for axis in (0, 1):
                    one[axis] -= along[axis] * push
                    other[axis] += along[axis] * push
                moved = True
        if not moved:
            break
    return [((at[0], at[1]), number) for at, (_, number) in zip(places, marks, strict=True)]


def _point(spot: Spot, view: View, facing: Side) -> tuple[float, float] | None:
    return spot_point(
        view,
        facing,
        region=spot.region,
        side=spot.side,
        aspect=spot.aspect,
        number=spot.number,
        of=spot.of,
    )


def _view_words(view: View, facing: Side) -> str:
    if view == "top":
        return _("from above, the dog's left below")
    return _("the dog's left") if facing == "left" else _("the dog's right")


def _number(page: Page, at: tuple[float, float], number: int) -> None:
    page.set_fill_color(255)
    page.set_line_width(0.25)
    page.circle(*at, RADIUS_MM, style="DF")
    page.set_font_size(7)
    page.set_xy(at[0] - 2.5, at[1] - 1.5)
    page.cell(5, 3, str(number), align="C")


def _order(page: Page, spots: Sequence[Spot]) -> None:
    _title(page, _("In this order"))
    for stop in stops_of(spots):
        first = stop.spots[0]
        place = told(first.region)
        where = _("{place}, {side}").format(place=place.owner_words, side=side_word(first.side))
        if first.aspect is not None:
            where = _("{place}, {face}").format(place=where, face=face_word(first.aspect))
        seconds = ceil_s(first.hold_ns)
        count = len(stop.spots)
        text = ngettext("{seconds} s on the spot", "{seconds} s on each of {count} spots", count)
        if stop.turn:
            page.set_x(page.l_margin + 18)
            page.lines(stop.turn, size=SMALL_PT)
        page.set_x(page.l_margin)
        page.bold(stop.numbers, size=BIG_PT, width=18)
        page.set_x(page.l_margin + 18)
        words = f"{sentence(where)}: {text.format(seconds=seconds, count=count)}"
        page.lines(words, size=BODY_PT)
        page.set_x(page.l_margin)
    whole_s = sum(spot.hold_ns + spot.move_ns for spot in spots) // NS_PER_S
    minutes = max(1, round(whole_s / 60))
    about = ngettext("About {minutes} minute in all.", "About {minutes} minutes in all.", minutes)
    page.lines(about.format(minutes=minutes), size=BODY_PT)


def _days(page: Page, plan: Plan) -> None:
    """One box a session, phase by phase: the day is written into it."""
    _title(page, _("Tick each session, and write the day"))
    left = page.l_margin
    for phase in plan.course:
        sessions = min(phase.sessions, MOST_DAYS)
        if sessions == 0:
            continue
        page.set_xy(left, page.get_y())
        page.lines(f"{phase.name}:", size=SMALL_PT)
        x, y = left, page.get_y() + 0.5
        for _n in range(sessions):
            if x + BOX_MM * 2.4 > left + page.epw:
                x, y = left, y + BOX_MM + 1.5
            page.rect(x, y, BOX_MM * 2.2, BOX_MM)
            x += BOX_MM * 2.4
        page.set_xy(left, y + BOX_MM + 1)
        if phase.sessions > sessions:
            more = _("and {count} more").format(count=phase.sessions - sessions)
            page.lines(more, size=SMALL_PT)


def _safety(page: Page, plan: Plan) -> None:
    _title(page, _("Eyes and skin first"))
    eyewear = [line for point in eyes(plan) for line in point.help]
    words = (_("Eyewear for everyone in the room, the dog's eyes covered."), *eyewear)
    page.lines(" ".join(words), size=BODY_PT)
    page.set_x(page.l_margin)
    page.lines(_("Keep the head flat on the skin. Never on broken or sore skin."), size=BODY_PT)
    _title(page, _("Stop for today at any of these signs"))
    page.lines(sentence(", ".join(_(sign.text) for sign in STOPS)) + ".", size=BODY_PT)
    page.set_x(page.l_margin)
    page.lines(_("Do not give more to make up for it. Phone if you are unsure."), size=BODY_PT)


def _places(page: Page, spots: Sequence[Spot]) -> None:
    """How to find and hold each place."""
    _title(page, _("How to find each place"))
    for key in dict.fromkeys(spot.region for spot in spots):
        place = told(key)
        numbers = [spot.index + 1 for spot in spots if spot.region == key]
        if page.will_page_break(26):
            page.add_page()
        page.bold(f"{sentence(place.owner_words)} ({_numbers(numbers)})", size=BIG_PT)
        page.ln(6)
        notes = dict.fromkeys(s.note for s in spots if s.region == key and s.note)
        for text in (place.feel, place.hold, *place.cautions, *notes):
            page.set_x(page.l_margin)
            page.lines(text, size=BODY_PT)
        page.ln(2)


def _numbers(numbers: Sequence[int]) -> str:
    """``1, 2, 3, 7`` as ``1-3, 7``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


def _title(page: Page, text: str) -> None:
    page.set_x(page.l_margin)
    page.ln(1.5)
    page.bold(text, size=BIG_PT)
    page.ln(6)
