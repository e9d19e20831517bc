"""What a plan means, for whoever kneels by the dog: lines to read, and the same as data. Pure.

Every line fits into :data:`WIDTH` columns. Sums are taken exactly; numbers are rounded once,
here, for reading. Fluences are never added up.
"""

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING, Any

from coach.body import region
from coach.body.position import POSITION_WORDS
from coach.dose import energy
from coach.plan.check_number import check_number
from coach.plan.course_text import MISSED_WORDS, often_text
from coach.plan.findings import Finding, total_ns
from coach.plan.formatting import counted as _counted
from coach.plan.formatting import listed as _listed
from coach.plan.formatting import number as _number
from coach.plan.formatting import plain as _plain
from coach.plan.laser_text import laser_json, laser_lines
from coach.plan.model import CalendarRules, Laser, Plan
from coach.plan.people_text import people_lines
from coach.plan.phase_text import course_energy_j, phase_lines, phases_json
from coach.plan.problems import short
from coach.plan.spots import Spot, turns
from coach.plan.tape_findings import length_covered
from coach.units import (
    NS_PER_S,
    j_from_fj,
    rounded,
    s_from_ns,
)

if TYPE_CHECKING:
    from coach.plan.files import PlanFile

WIDTH = 60
NAME = 12
LABEL = 27

# What leaves room for the rest of a summary on a terminal of 24 lines.
FINDING_LINES = 5

CAUTIONS = (
    "Never aim at an eye: laser eyewear for everyone in the room, the dog's eyes covered or "
    "turned away.",
    "Seconds are counted by the timer, not measured. The prescriber and local rules decide.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """Spots of one region that are given alike, in the order of the session."""

    spots: tuple[Spot, ...]

    @property
    def first(self) -> Spot:
        return self.spots[0]

    @property
    def sides(self) -> list[str]:
        return list(dict.fromkeys(spot.side for spot in self.spots))

    @property
    def aspects(self) -> list[str]:
        return list(dict.fromkeys(spot.aspect for spot in self.spots if spot.aspect is not None))


def summary_lines(
    plan_file: "PlanFile", spots: Sequence[Spot], findings: Sequence[Finding]
) -> list[str]:
    """The plan as its owner will meet it. ``spots`` are those of one session, in order."""
    plan = plan_file.plan
    about = plan.about
    lines = [
        *_named("Dog", f"{plan.dog.name}, {_plain(plan.dog.weight_kg)} kg"),
        *_named("Prescriber", ", ".join(filter(None, (about.prescriber, about.clinic)))),
        *_named("Plan", f"{about.id}, revision {about.revision}"),
        *_named("", f"file {short(plan_file.path.name)}"),
        *_named("Valid", f"{about.prescribed_on} to {about.valid_until}"),
        *_named("Laser", *laser_lines(plan.laser)),
    ]
    lines += _named("Check no.", f"{check_number(plan_file.digest)}, for the owner by telephone")
    for label, text in people_lines(plan):
        lines += _named(label, *text.splitlines())
    if about.note:
        lines += _named("Note", *about.note.splitlines())
    cleared = plan.care.cleared
    if cleared:
        names = ", ".join(name.replace("_", " ") for name in cleared)
        lines += _named("Cleared", f"{names}: the owner is not asked")
    lines += ["", *_table(plan, _rows(spots))]
    lines += ["", *_named("Session", *_session(plan, spots))]
    lines += _named("Course", *_course(plan))
    phases = list(phase_lines(plan))
    lines += ["", *phases] if phases else []
    lines.append("")
    if findings:
        lines += ["Worth a second look:", *finding_lines(findings, most_lines=FINDING_LINES)]
    else:
        lines.append("Findings: none.")
    lines.append("")
    for caution in CAUTIONS:
        lines += _wrapped(caution)
    return lines


def finding_lines(findings: Sequence[Finding], *, most_lines: int | None = None) -> list[str]:
    """Each finding with the place in the plan that it speaks of.

    With ``most_lines`` in short, the first whole and of the others as many as there is room for.
    """
    lines: list[str] = []
    for number, finding in enumerate(findings):
        text = finding.text if most_lines is None else finding.line
        more = _wrapped(f"{finding.field}: {text}", first="- ", rest="  ")
        if most_lines is not None and lines and len(lines) + len(more) > most_lines:
            return [*lines, f"  {len(findings) - number} more: coach check --findings"]
        lines += more
    return lines


def summary_json(plan: Plan, spots: Sequence[Spot], findings: Sequence[Finding]) -> dict[str, Any]:
    """The same as data for ``json.dumps``.

    :class:`coach.plan.check_json.CheckJson` says what is in it, ``check.schema.json`` too.
    """
    about, laser, rules = plan.about, plan.laser, plan.rules
    held_ns = _held_ns(spots)
    return {
        "summary": 1,
        "plan": {
            "id": about.id,
            "revision": about.revision,
            "prescriber": about.prescriber,
            "clinic": about.clinic,
            "prescribed_on": about.prescribed_on.isoformat(),
            "valid_until": about.valid_until.isoformat(),
            "note": about.note,
            "cleared": list(plan.care.cleared),
        },
        "dog": {"name": plan.dog.name, "weight_kg": _number(plan.dog.weight_kg)},
        "laser": {
            "label": laser.label,
            "laser_class": laser.laser_class,
            **laser_json(laser),
            "starts": laser.starts,
        },
        "regions": [
            {
                "region": row.first.region,
                "term": region(row.first.region).term,
                "owner_words": region(row.first.region).owner_words,
                "settle": row.first.settle,
                "sides": row.sides,
                "aspects": row.aspects,
                "spots": len(row.spots),
                "hold_ns": row.first.hold_ns,
                "hold_s": _number(s_from_ns(row.first.hold_ns)),
                "energy_j": _number(_joules(laser, row.first.hold_ns)),
                "all_spots_energy_j": _number(_joules(laser, _held_ns(row.spots))),
                "fluence_j_cm2": None
                if row.first.swept
                else _number(_fluence(laser, row.first.hold_ns)),
                "irradiance_mw_cm2": _number(laser.irradiance_mw_cm2),
                "technique": row.first.technique,
                "treated_area_cm2": _number(_area_cm2(row.first)),
                "fluence_j_cm2_over_area": _number(_over_area(laser, row.first)),
                "note": row.first.note,
                "positions": list(dict.fromkeys(spot.position for spot in row.spots)),
                **_measured_json(plan, row),
            }
            for row in _rows(spots)
        ],
        "session": {
            "spots": len(spots),
            "hold_ns": held_ns,
            "hold_s": _number(s_from_ns(held_ns)),
            "energy_j": _number(_joules(laser, held_ns)),
            "duration_s": _number(s_from_ns(total_ns(spots))),
            "move_s": _number(rules.move_seconds),
            "turns": turns(spots),
            "turn_s": _number(rules.turn_seconds),
            "positions": [position for position, _ in groupby(spot.position for spot in spots)],
            "pinned": rules.pinned,
            "may_be_shortened": rules.may_be_shortened,
            "order": rules.order,
            "advance": rules.advance,
            "patience_minutes": rules.patience_minutes,
            "repeats_allowed": rules.repeats_allowed,
        },
        "course": {
            "phases": [
                {
                    "name": phase.name,
                    "times_a_week": phase.times_a_week or 0,
                    "every_days": phase.every_days or 0,
                    "weeks": phase.weeks or 0,
                    "dates": [date.isoformat() for date in phase.dates or ()],
                    "sessions": phase.sessions,
                    "session": session,
                }
                for phase, session in zip(plan.course, phases_json(plan), strict=True)
            ],
            "sessions": sum(phase.sessions for phase in plan.course),
            "weeks": sum(phase.weeks or 0 for phase in plan.course),
            "energy_j": _number(course_energy_j(plan)),
        },
        "findings": [{"field": finding.field, "text": finding.text} for finding in findings],
        "cautions": list(CAUTIONS),
    }


def _measured_json(plan: Plan, row: _Row) -> dict[str, Any]:
    covers = length_covered(plan, row.first.region, row.first.of)
    length, covered = covers or (None, None)
    return {
        "length_cm": None if length is None else _number(Fraction(length.length_mm, 10)),
        "covered": None if covered is None else _number(covered.covered),
    }


def _rows(spots: Sequence[Spot]) -> list[_Row]:
    alike: dict[tuple[object, ...], list[Spot]] = {}
    for spot in spots:
        key = (spot.settle, spot.region, spot.hold_ns, spot.of, spot.note)
        alike.setdefault(key, []).append(spot)
    return [_Row(spots=tuple(group)) for group in alike.values()]


def _table(plan: Plan, rows: Sequence[_Row]) -> Iterator[str]:
    laser = plan.laser
    yield _columns("Regions, in this order", "spots", "s", "J", "J/cm2")
    yield _columns("", "in all", "a spot", "a spot", "a spot")
    yield "-" * WIDTH
    number = 0
    for row in rows:
        first = row.first
        place = region(first.region)
        number += not first.settle
        label, *more = textwrap.wrap(place.owner_words, LABEL - 1)
        fluence = None if first.swept else _fluence(laser, first.hold_ns)
        yield _columns(
            label,
            str(len(row.spots)),
            _plain(rounded(s_from_ns(first.hold_ns), 2)),
            _figure(_joules(laser, first.hold_ns)),
            "-" if fluence is None else _figure(fluence),
            mark="-" if first.settle else str(number),
        )
        yield from (f"   {line}" for line in more)
        yield from _wrapped(place.term, first="   ", rest="   ")
        yield from _wrapped(_where(laser, row), first="   ", rest="   ")
        yield from _wrapped(_length(plan, row), first="   ", rest="   ")
        if first.note:
            yield from _wrapped(f"Note: {first.note}", first="   ", rest="   ")


def _length(plan: Plan, row: _Row) -> str:
    """What the tape says of a region, and how much of it the head covers on each side."""
    covers = length_covered(plan, row.first.region, row.first.of)
    if covers is None or row.first.settle:
        return ""
    length, covered = covers
    text = f"by the tape {_cm(length.length_mm)} cm"
    if not length.taped:
        text += f" ({_cm(length.low_mm)} to {_cm(length.high_mm)})"
    if covered is not None:
        text += f", {round(covered.covered * 100)} % of it under the head"
    return text


def _cm(length_mm: int) -> str:
    return _plain(Decimal(length_mm) / 10)


def _columns(label: str, *figures: str, mark: str = "") -> str:
    spots, seconds, joules, fluence = figures
    row = f"{mark:>2} {label:<{LABEL}}{spots:>6}{seconds:>8}{joules:>8}{fluence:>8}"
    return row.rstrip()


def _where(laser: Laser, row: _Row) -> str:
    words = _listed(row.sides)
    if row.aspects:
        words += f": {_listed(row.aspects)}"
    if row.first.of > 1:
        words += f", {row.first.of} spots on each"
    words += "".join(f", {how}" for how in _held(laser, row.first))
    return f"{words} (to settle)" if row.first.settle else words


def _area_cm2(spot: Spot) -> Fraction | None:
    area_um2 = spot.treated_area_um2
    return None if area_um2 is None else Fraction(area_um2, 10**8)


def _over_area(laser: Laser, spot: Spot) -> Fraction | None:
    """J/cm2 over the treated area of a sweep."""
    area_cm2 = _area_cm2(spot)
    return None if area_cm2 is None else _joules(laser, spot.hold_ns) / area_cm2


def _held(laser: Laser, spot: Spot) -> Iterator[str]:
    """Technique, contact or distance, and pressure, as far as the plan says."""
    area_cm2, over_area = _area_cm2(spot), _over_area(laser, spot)
    if area_cm2 is not None and over_area is not None:
        yield (
            f"moved over {_plain(rounded(area_cm2, 2))} cm2 each, {_figure(over_area)} J/cm2 over "
            "the area"
        )
        if spot.pass_ns is not None:
            yield f"a pass in {_plain(rounded(s_from_ns(spot.pass_ns), 1))} s"
    if spot.distance_mm is not None:
        yield f"{_cm(spot.distance_mm)} cm off the skin"
    elif spot.contact is not None:
        yield "in contact" if spot.contact else "off the skin"
    if spot.pressure is not None:
        yield "light pressure" if spot.pressure == "light" else "no pressure"


def _session(plan: Plan, spots: Sequence[Spot]) -> Iterator[str]:
    held_ns = _held_ns(spots)
    yield (
        f"{_counted(len(spots), 'spot')}, {_time(held_ns)} of hold, "
        f"{_figure(_joules(plan.laser, held_ns))} J"
    )
    if plan.laser.starts == "stays on":
        way_ns = sum(spot.move_ns for spot in spots)
        yield (
            f"up to {_figure(_joules(plan.laser, way_ns))} J more if the laser stays on and the "
            "head on the dog between spots"
        )
    yield (
        f"takes about {_time(total_ns(spots))}, with {_plain(plan.rules.move_seconds)} s "
        "for each move"
    )
    yield _turns(plan, spots)
    yield (
        "moves on by itself"
        if plan.rules.advance == "auto"
        else "waits for your key at each spot, so it may take longer, and pauses after "
        f"{_counted(plan.rules.patience_minutes, 'minute')} without an answer"
    )
    yield plan.rules.order + (", in the order of the plan" if plan.rules.pinned else "")
    if not plan.rules.may_be_shortened:
        yield "may not be shortened"
    again = plan.rules.repeats_allowed
    often = "once" if again == 1 else f"{again} times"
    yield f"a spot may be given again {often}" if again else "no spot may be given again"


def _turns(plan: Plan, spots: Sequence[Spot]) -> str:
    number, lies = turns(spots), "; ".join(_lies(spots))
    if not number:
        return f"no turn of the dog: {lies}"
    each = " each" if number > 1 else ""
    seconds = _plain(plan.rules.turn_seconds)
    return f"{_counted(number, 'turn')} of the dog, {seconds} s{each}: {lies}"


def _lies(spots: Sequence[Spot]) -> Iterator[str]:
    for position, _ in groupby(spot.position for spot in spots):
        if position is not None:
            yield POSITION_WORDS[position]


def _course(plan: Plan) -> Iterator[str]:
    if not plan.course:
        yield "how often is not stated: ask the prescriber"
        return
    for phase in plan.course:
        yield f"{phase.name}: {often_text(phase)}, {_counted(phase.sessions, 'session')}"
    sessions = sum(phase.sessions for phase in plan.course)
    weeks = sum(phase.weeks or 0 for phase in plan.course)
    span = f" in {_counted(weeks, 'week')}" if all(p.weeks for p in plan.course) else ""
    yield (f"in all {_counted(sessions, 'session')}{span}, {_figure(course_energy_j(plan))} J")
    if plan.calendar != CalendarRules():
        yield MISSED_WORDS[plan.calendar.missed]


def _held_ns(spots: Sequence[Spot]) -> int:
    return sum(spot.hold_ns for spot in spots)


def _joules(laser: Laser, duration_ns: int) -> Fraction:
    return j_from_fj(energy.energy_fj(power_uw=laser.power_uw, duration_ns=duration_ns))


def _fluence(laser: Laser, duration_ns: int) -> Fraction | None:
    if laser.beam_area_um2 is None:
        return None
    energy_fj = energy.energy_fj(power_uw=laser.power_uw, duration_ns=duration_ns)
    return energy.fluence_j_cm2(energy_fj=energy_fj, beam_area_um2=laser.beam_area_um2)


def _named(name: str, *texts: str) -> list[str]:
    lines: list[str] = []
    for text in texts:
        lines += _wrapped(text, first=f"{'' if lines else name:<{NAME}}", rest=" " * NAME)
    return lines


def _wrapped(text: str, *, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest)


def _time(duration_ns: int) -> str:
    minutes, seconds = divmod(round(Fraction(duration_ns, NS_PER_S)), 60)
    return " ".join(
        part for part, some in ((f"{minutes} min", minutes), (f"{seconds} s", seconds)) if some
    )


def _figure(value: Fraction) -> str:
    """For a column: two places, more for tiny values, none for huge ones."""
    return str(rounded(value, 0 if value >= 10_000 else 2 if value >= Fraction(1, 10) else 4))
