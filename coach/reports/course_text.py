"""The tally over the course as plain text for a terminal of 60 columns. Pure.

The places of the table have the numbers by which they stand in the picture of the dog, and a sign
that says how much of the plan they had; the sign is a shape and needs no colour.
"""

import textwrap
from collections.abc import Mapping
from fractions import Fraction

from coach.body import told
from coach.body.drawing import Drawing, Mark, Tag, draw_dog, facing_side, view_of
from coach.body.raster import Look
from coach.body.regions import SIDES, Side, region
from coach.language import _, ngettext, number
from coach.record.course_tally import ENOUGH, Course, SideSum, SiteSum
from coach.record.part import Part
from coach.reports.corrections_text import CORRECTION_WORDS
from coach.reports.session_text import (
    COACHED,
    OUTCOME_WORDS,
    REASON_WORDS,
    WIDTH,
    owner_words,
    way_lines,
)
from coach.units import j_from_fj, rounded, s_from_ns

# All or nearly all of the planned seconds, some of them, none.
SHAPES: Mapping[Look, tuple[str, str, str]] = {
    "colour": ("✓", "○", "×"),
    "console": ("*", "o", "x"),
}


def over_lines(
    dog: str,
    course: Course,
    *,
    corrected: Mapping[str, int],
    not_counted: int,
    look: Look = "colour",
) -> list[str]:
    """Everything but the picture."""
    together = ngettext(
        "{dog}: {count} session over the course",
        "{dog}: {count} sessions over the course",
        course.sessions,
    )
    lines = _wrapped(together.format(dog=dog, count=course.sessions))
    if not_counted:
        lines += _item(
            _("({count} not counted: rehearsed or never begun)").format(count=not_counted)
        )
    for what, count in sorted(corrected.items()):
        lines += _item(
            ngettext(
                "Corrected afterwards in {count} session: {what}",
                "Corrected afterwards in {count} sessions: {what}",
                count,
            ).format(count=count, what=_(CORRECTION_WORDS[what]))
        )
    for one in course.revisions:
        lines += _item(
            ngettext(
                "Plan {plan}, revision {revision}: {count} session, {share} of its seconds",
                "Plan {plan}, revision {revision}: {count} sessions, {share} of their seconds",
                one.sessions,
            ).format(
                plan=one.plan_id,
                revision=one.revision,
                count=one.sessions,
                share=_percent(one.part.share),
            )
        )
    lines += ["", *_reached(course), "", _columns()]
    shown = ""
    for place, side in enumerate(course.sides, start=1):
        if side.region != shown:
            lines += _wrapped(_region_words(side.region))
            shown = side.region
        lines += _side(place, side, look)
    lines.append(_row(_("all"), course.total))
    if any(spot.given_j_cm2 is None for side in course.sides for spot in side.spots):
        lines += _wrapped(
            _("J/cm2 is blank where the beam area is unknown or was not always the same.")
        )
    for even in course.evenness:
        lines += _item(
            _("{region}: left {left} of its plan, right {right}").format(
                region=owner_words(even.region),
                left=_percent(even.left),
                right=_percent(even.right),
            )
        )
    lines += _missed(course)
    full, some, none = SHAPES[look]
    lines += _wrapped(
        _(
            "{full} at least 95 % of the planned seconds, {some} less, {none} nothing. "
            "Left and right are the dog's."
        ).format(full=full, some=some, none=none)
    )
    return [*lines, *way_lines(course.way_fj), _(COACHED)]


def pictures(course: Course, *, width: int, height: int, look: Look) -> list[Drawing]:
    """The dog from every side on which something was planned, with the places' numbers."""
    tags: dict[tuple[str, Side], list[Tag]] = {}
    for place, side in enumerate(course.sides, start=1):
        if not _drawn(side):
            continue
        whose = next(one for one in SIDES if one == side.side)
        face = side.spots[0].aspect
        mark = Mark(region=side.region, side=whose, aspect=face)
        tag = Tag(mark=mark, text=f"{place}{_shape(side.part, look)}")
        view = view_of(side.region)
        seen = facing_side(whose, face) if view == "side" else "left"
        tags.setdefault((view, seen), []).append(tag)
    return [
        draw_dog(
            width=width,
            height=height,
            look=look,
            view="top" if view == "top" else "side",
            side=seen,
            tags=found,
        )
        for (view, seen), found in tags.items()
    ]


def _drawn(side: SideSum) -> bool:
    """Whether this program knows the region with this side and these faces."""
    try:
        place = region(side.region)
    except KeyError:
        return False
    faces: set[str | None] = {*place.aspects} or {None}
    return side.side in place.sides and {spot.aspect for spot in side.spots} <= faces


def _reached(course: Course) -> list[str]:
    reach = course.reached
    if not reach.spots:
        return [_("Nothing was planned and given yet.")]
    lines = _wrapped(
        ngettext(
            "{enough} of {count} planned spot got at least 95 % of its seconds ({share}).",
            "{enough} of {count} planned spots got at least 95 % of their seconds ({share}).",
            reach.spots,
        ).format(
            enough=reach.enough,
            count=reach.spots,
            share=_percent(Fraction(reach.enough, reach.spots)),
        )
    )
    return lines + _wrapped(
        ngettext(
            "The worst-off tenth of the spots ({count}) got {given} of {planned} s.",
            "The worst-off tenth of the spots ({count}) got {given} of {planned} s together.",
            reach.worst,
        ).format(
            count=reach.worst,
            given=_seconds(reach.worst_given_ns),
            planned=_seconds(reach.worst_planned_ns),
        )
    )


def _columns() -> str:
    return f"{'':12}{_('seconds'):>16}{_('J'):>14}{_('J/cm2'):>12}{'':6}".rstrip()


def _side(place: int, side: SideSum, look: Look) -> list[str]:
    name = _(side.side) if side.side in SIDES else side.side
    lines = [_row(f"{place:>2}{_shape(side.part, look)} {name}", side.part)]
    aspects = dict.fromkeys(spot.aspect for spot in side.spots)
    for aspect in aspects:
        for spot in (spot for spot in side.spots if spot.aspect == aspect):
            words = f"    {aspect} {spot.number}" if aspect else f"    {spot.number}"
            lines.append(_row(words, spot.part, spot))
    return lines


def _row(name: str, part: Part, spot: SiteSum | None = None) -> str:
    seconds = f"{_seconds(part.given_ns)}/{_seconds(part.planned_ns)}"
    joules = f"{_joules(part.given_fj)}/{_joules(part.planned_fj)}"
    fluence = ""
    if spot is not None and spot.given_j_cm2 is not None and spot.planned_j_cm2 is not None:
        fluence = f"{_one(spot.given_j_cm2)}/{_one(spot.planned_j_cm2)}"
    head = f"{name} {seconds.rjust(27 - len(name))}"
    return f"{head} {joules:>13} {fluence:>11} {_percent(part.share):>5}"


def _shape(part: Part, look: Look) -> str:
    full, some, none = SHAPES[look]
    if part.given_ns == 0:
        return none
    return some if part.share is not None and part.share < ENOUGH else full


def _missed(course: Course) -> list[str]:
    lines: list[str] = []
    for side in course.sides:
        where = f"{owner_words(side.region)}, {_(side.side) if side.side in SIDES else side.side}"
        for what, count in side.missed:
            why = _(REASON_WORDS.get(what.reason, what.reason)) if what.reason else ""
            outcome = _(OUTCOME_WORDS[what.outcome])
            lines += _item(
                _("{place}: {count} x {outcome}").format(place=where, count=count, outcome=outcome)
                + (f" ({why})" if why else "")
            )
        if side.left_for_next:
            lines += _item(
                _("{place}: {count} x left for next time").format(
                    place=where, count=side.left_for_next
                )
            )
    return [_("Not given as planned:"), *lines] if lines else []


def _region_words(key: str) -> str:
    try:
        place = told(key)
    except KeyError:
        # A region that a newer program knows: its key is all that there is to say.
        return key
    return f"{place.owner_words} / {place.term}"


def _seconds(duration_ns: int) -> str:
    exact = s_from_ns(duration_ns)
    return number(rounded(exact, 0 if exact.denominator == 1 else 1))


def _joules(energy_fj: int) -> str:
    return _one(j_from_fj(energy_fj))


def _one(value: Fraction) -> str:
    """One place; none where there are many digits before it."""
    return number(rounded(value, 1 if value < 1000 else 0))


def _percent(share: Fraction | None) -> str:
    """Rounded down: 100 % is only what is whole."""
    return "" if share is None else f"{share.numerator * 100 // share.denominator} %"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ") or [""]


def _item(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
