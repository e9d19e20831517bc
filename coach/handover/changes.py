"""What a new revision of a plan changes for the owner, in the owner's words. Pure.

What matters most comes first: the dose of each spot, then seconds, spots and power, then the rest.
Nothing that differs is passed over, and no name of a field is shown: what no sentence is made for
is told by what the field means (``coach.plan.reference``).
"""

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from coach.body import region
from coach.dose import energy
from coach.language import N_, _, ngettext
from coach.plan.findings import total_ns
from coach.plan.formatting import plain
from coach.plan.model import Plan, RegionOrder
from coach.plan.phases import DOSE_FIELDS
from coach.plan.reference import words
from coach.plan.spots import spots_of
from coach.session.cues import side_word
from coach.units import (
    NS_PER_S,
    clock_text,
    cm2_from_um2,
    j_from_fj,
    mw_from_uw,
    rounded,
    s_from_ns,
    um2_from_cm2,
)

_Places = Mapping[tuple[str, int], RegionOrder]

# One sentence for each field that an owner meets; {was} and {now} are filled in.
_SENTENCES = {
    "about.valid_until": N_("The plan holds until {now}, before until {was}."),
    "about.prescriber": N_("The plan is now from {now}, before from {was}."),
    "about.note": N_("The note of the plan is now: {now}"),
    "dog.weight_kg": N_("The weight of the dog is now {now} kg, before {was} kg."),
    "laser.label": N_("The laser is now: {now}. Before: {was}."),
    "laser.starts": N_("How the laser starts: {now}. Before: {was}."),
    "rules.order": N_("The order is now: {now}. Before: {was}."),
    "rules.advance": N_("At each spot the coach now goes by: {now}. Before: {was}."),
    "rules.patience_minutes": N_(
        "The coach waits {now} minutes for the key until it pauses, before {was}."
    ),
    "rules.repeats_allowed": N_("A spot may be given again {now} times, before {was}."),
    "limits.least_hours_between": N_("Hours between two sessions: at least {now}, before {was}."),
    "limits.most_a_day": N_("Sessions a day: at most {now}, before {was}."),
    "limits.most_a_week": N_("Sessions a week: at most {now}, before {was}."),
}
# Told by sentences of their own, or of no meaning to anybody.
_TOLD_ELSEWHERE = re.compile(
    r"about\.(revision|prescribed_on)|regions\[|regions$|settle|format|phase"
    r"|course\[\d+\]\.(times_a_week|every_days|weeks|dates)"
)


def changes(before: Plan, after: Plan) -> list[str]:
    """Sentences, the ones that matter most first. Empty when nothing differs."""
    found = [*_doses(before, after), *_regions(before, after), *_settle(before, after)]
    found += [*_power(before, after), *_session(before, after)]
    found += _course(before, after)
    was, now = _flat(before), _flat(after)
    for field in {**was, **now}:
        if was.get(field) == now.get(field) or _TOLD_ELSEWHERE.match(field):
            continue
        sentence = _SENTENCES.get(field)
        if sentence is None:
            sentence = N_("{what} Now: {now}. Before: {was}.")
        found.append(
            _(sentence).format(
                what=_meaning(field), was=_shown(was.get(field)), now=_shown(now.get(field))
            )
        )
    return found


# Where the tables of a plan file lie in the model.
_TABLES = {"about": "plan", "rules": "session"}


def _meaning(field: str) -> str:
    """What a field is, in words: ``care.dog_lies`` is "Where the dog lies."."""
    parts = re.sub(r"\[\d+\]", "", field).split(".")
    parts[0] = _TABLES.get(parts[0], parts[0])
    for length in range(len(parts) - 1, 0, -1):
        table = ".".join(parts[:length])
        table = "laser" if table.startswith("laser.emitter") and table not in words() else table
        meaning = words().get(table, {}).get(parts[-1])
        if meaning:
            number = re.search(r"\[(\d+)\]", field)
            return f"{meaning[:-1]} ({number[1]})." if number and number[1] != "1" else meaning
    return f"{parts[-1].replace('_', ' ').capitalize()}."


def _doses(before: Plan, after: Plan) -> Iterator[str]:
    """J and J/cm2 of each spot, or over each area, where they change."""
    was, now = _places(before), _places(after)
    for key, order in now.items():
        old = was.get(key)
        if old is None or old.technique != order.technique:
            continue
        was_j, now_j = _joules(before, old), _joules(after, order)
        if was_j == now_j and _per_cm2(before, old) == _per_cm2(after, order):
            continue
        sentence = N_("{place}: {now} on each spot, before {was}.")
        if order.technique == "swept":
            sentence = N_("{place}: {now} over the whole area, before {was}.")
        yield _(sentence).format(
            place=_name(order), now=_dose_text(after, order), was=_dose_text(before, old)
        )


def _joules(plan: Plan, order: RegionOrder) -> Fraction:
    energy_fj = energy.energy_fj(power_uw=plan.laser.power_uw, duration_ns=plan.hold_ns(order))
    return j_from_fj(energy_fj)


def _per_cm2(plan: Plan, order: RegionOrder) -> Fraction | None:
    """J/cm2 under the beam, or over the treated area of a sweep."""
    area_um2 = plan.laser.beam_area_um2
    if order.technique == "swept" and order.treated_area_cm2 is not None:
        area_um2 = um2_from_cm2(order.treated_area_cm2)
    return None if area_um2 is None else _joules(plan, order) / cm2_from_um2(area_um2)


def _dose_text(plan: Plan, order: RegionOrder) -> str:
    joules = plain(rounded(_joules(plan, order), 2))
    per_cm2 = _per_cm2(plan, order)
    return f"{joules} J" if per_cm2 is None else f"{joules} J ({plain(rounded(per_cm2, 2))} J/cm2)"


def _regions(before: Plan, after: Plan) -> Iterator[str]:
    was, now = _places(before), _places(after)
    for key, order in now.items():
        if key not in was:
            yield _("New: {place}.").format(place=_whole(after, order))
    for key, order in was.items():
        if key not in now:
            yield _("No longer: {place}.").format(place=_whole(before, order))
    for key, order in now.items():
        if key in was:
            yield from _one_region(before, was[key], after, order)


def _one_region(before: Plan, was: RegionOrder, after: Plan, now: RegionOrder) -> Iterator[str]:
    place = _name(now)
    if (was.sides, was.aspects) != (now.sides, now.aspects):
        yield _("{place}: now {now}, before {was}.").format(
            place=place, now=_where(now), was=_where(was)
        )
    if before.spots_each(was) != after.spots_each(now):
        yield _("{place}: {now} spots on each side, before {was}.").format(
            place=place, now=after.spots_each(now), was=before.spots_each(was)
        )
    if before.hold_ns(was) != after.hold_ns(now):
        yield _("{place}: {now} seconds on each spot, before {was}.").format(
            place=place, now=_seconds(after.hold_ns(now)), was=_seconds(before.hold_ns(was))
        )
    if was.note != now.note:
        yield _("{place}: the note is now: {note}").format(
            place=place, note=now.note or _("nothing")
        )
    told = {"region", "sides", "aspects", "spots", "note", *DOSE_FIELDS}
    for field in type(now).model_fields:
        old, new = getattr(was, field), getattr(now, field)
        if field not in told and old != new:
            yield _("{place}: {what} Now: {now}. Before: {was}.").format(
                place=place, what=words()["regions"][field], now=_shown(new), was=_shown(old)
            )


def _settle(before: Plan, after: Plan) -> Iterator[str]:
    was_ns, now_ns = before.settle.each_side_ns, after.settle.each_side_ns
    if bool(was_ns) != bool(now_ns):
        yield (
            _("There is a calm opening at the top of the neck now.")
            if now_ns
            else _("The calm opening at the top of the neck is left out now.")
        )
    if now_ns and was_ns != now_ns:
        yield _("The calm opening: {now} seconds on each side, before {was}.").format(
            now=_seconds(now_ns), was=_seconds(was_ns)
        )


def _session(before: Plan, after: Plan) -> Iterator[str]:
    was, now = spots_of(before), spots_of(after)
    took, takes = (total_ns(spots) // NS_PER_S for spots in (was, now))
    if (len(was), took) != (len(now), takes):
        yield _(
            "A session now has {spots} spots and takes about {now} min; "
            "before {was_spots} spots and {was} min."
        ).format(spots=len(now), now=clock_text(takes), was_spots=len(was), was=clock_text(took))


def _power(before: Plan, after: Plan) -> Iterator[str]:
    was, now = before.laser.power_uw, after.laser.power_uw
    if was != now:
        yield _("The mean power of the laser is now {now} mW, before {was} mW.").format(
            now=plain(rounded(mw_from_uw(now), 1)), was=plain(rounded(mw_from_uw(was), 1))
        )


def _course(before: Plan, after: Plan) -> Iterator[str]:
    if _phases(before) != _phases(after):
        yield _("The course is now: {now}. Before: {was}.").format(
            now=_phases(after), was=_phases(before)
        )


def _phases(plan: Plan) -> str:
    phases = []
    for phase in plan.course:
        if phase.times_a_week is not None:
            text = _("{times} a week for {weeks} weeks").format(
                times=phase.times_a_week, weeks=phase.weeks
            )
        elif phase.every_days is not None:
            text = _("every {every} days, {count} times").format(
                every=phase.every_days, count=phase.sessions
            )
        else:
            text = _("on {days}").format(days=", ".join(map(str, phase.dates or ())))
        phases.append(text)
    return ", ".join(phases) or _("not stated")


def _places(plan: Plan) -> _Places:
    found: dict[tuple[str, int], RegionOrder] = {}
    for order in plan.regions:
        # A region may be ordered in several tables.
        number = sum(key == order.region for key, _number in found)
        found[order.region, number] = order
    return found


def _name(order: RegionOrder) -> str:
    return _(region(order.region).owner_words)


def _where(order: RegionOrder) -> str:
    sides = ", ".join(side_word(side) for side in order.sides)
    return f"{sides} ({', '.join(order.aspects)})" if order.aspects else sides


def _whole(plan: Plan, order: RegionOrder) -> str:
    count = plan.spots_each(order)
    return ngettext(
        "{place}, {where}: {count} spot on each, {seconds} seconds",
        "{place}, {where}: {count} spots on each, {seconds} seconds each",
        count,
    ).format(
        place=_name(order),
        where=_where(order),
        count=count,
        seconds=_seconds(plan.hold_ns(order)),
    )


def _seconds(duration_ns: int) -> str:
    return plain(rounded(s_from_ns(duration_ns), 1))


def _flat(plan: Plan) -> dict[str, Any]:
    found: dict[str, Any] = {}

    def walk(place: str, value: Any) -> None:
        if isinstance(value, dict):
            for key, item in value.items():
                walk(f"{place}.{key}".removeprefix("."), item)
        elif isinstance(value, list | tuple) and any(isinstance(item, dict) for item in value):
            for number, item in enumerate(value, start=1):
                walk(f"{place}[{number}]", item)
        else:
            found[place] = value

    walk("", plan.model_dump())
    return found


def _shown(value: Any) -> str:
    if value is None or value == "":
        return _("nothing")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, list | tuple):
        return ", ".join(map(str, value))
    return str(value)
