"""From a prescriber's answers to a plan. Pure: every answer is checked as a plan file would be.

A draft is a plan file as data: tables by name, in the order in which they are asked. Nothing
here offers a dose: seconds, joules, spots and repeats come from the prescriber or not at all.
"""

import datetime
import re
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

import tomli_w

from coach.body.regions import region, regions
from coach.body.words import region_for
from coach.dose import energy
from coach.plan.draft_questions import (
    Question,
    Refused,
    read_list,
    read_number,
    read_whole,
    refusal,
)
from coach.plan.findings import total_ns
from coach.plan.model import FORMAT, Plan
from coach.plan.problems import PlanProblems, Problem, meant, show
from coach.plan.read import read_plan
from coach.plan.spots import spots_of
from coach.plan.write import write_plan
from coach.units import ceil_s, clock_text, j_from_fj, rounded, s_from_ns

Draft = dict[str, Any]

ANSWERS = "your answers"
NOTHING = "nothing"

SETTLE_ALLOWED = "seconds on each side with the unit s; or none"
SOURCE_ALLOWED = (
    "NM:MW, the mean power; or pulsed NM:PEAKMW/DUTY, duty cycle 0 to 1, or "
    "NM:PEAKMW/WIDTHus/FREQUENCYHz"
)
COURSE_ALLOWED = "NAME:TIMESxWEEKS, so many times a week for so many weeks"
REGION_ALLOWED = "REGION:SIDES:SPOTS:DOSE[:NOTE], for a joint REGION:SIDES:FACES:SPOTS:DOSE[:NOTE]"
DOSE_ALLOWED = "seconds (s), joules (J) or joules for each cm2 (J/cm2) of each spot, with the unit"

COUNT_ALLOWED = (
    "a whole number; or tape/maxN, by the dog's measures and at most N; or tape/Xcm/maxN, "
    "from spot to spot X cm"
)
COUNT_FIELDS = ("spots", "spacing_cm", "most_spots")
DOSE_FIELDS = ("seconds_each_spot", "joules_each_spot", "joules_per_cm2_each_spot")

_TAPE = re.compile(r"tape(?:/([0-9]+(?:\.[0-9]+)?)\s*cm)?/max\s*([0-9]{1,4})")
_DOSE = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(s|sec|seconds|j|j/cm2|j/cm²)\s*", re.IGNORECASE)
_DOSE_FIELD = {
    "s": "seconds_each_spot",
    "sec": "seconds_each_spot",
    "seconds": "seconds_each_spot",
    "j": "joules_each_spot",
    "j/cm2": "joules_per_cm2_each_spot",
    "j/cm²": "joules_per_cm2_each_spot",
}
_DOSE_UNIT = {
    "seconds_each_spot": "s",
    "joules_each_spot": "J",
    "joules_per_cm2_each_spot": "J/cm2",
}
_NUMBER = r"([0-9]+(?:\.[0-9]+)?)"
_SOURCE = re.compile(rf"{_NUMBER}:{_NUMBER}(?:/{_NUMBER}|/{_NUMBER}us/{_NUMBER}hz)?")
_COURSE = re.compile(r"(.+):\s*([0-9]+)\s*x\s*([0-9]+)")


def empty() -> Draft:
    """A draft in which nothing has been answered."""
    return {"coach_plan": FORMAT, "plan": {"revision": 1}, "dog": {}, "laser": {}, "regions": []}


def next_revision(plan: Plan, *, today: datetime.date) -> Draft:
    """The draft of the revision after ``plan``, prescribed today."""
    draft: Draft = tomllib.loads(write_plan(plan), parse_float=Decimal)
    draft["plan"]["revision"] += 1
    draft["plan"]["prescribed_on"] = today
    # Nobody has checked the new revision yet.
    for field in ("checked_by", "checked_on"):
        draft["plan"].pop(field, None)
    return draft


def asks_settle(draft: Draft) -> bool:
    """Whether the opening at the top of the neck has still to be said; format 2 has none."""
    return draft["coach_plan"] == 1 and "settle" not in draft


def get(draft: Draft, question: Question) -> Any:
    """What has been answered, or None."""
    table: Any = draft
    for name in question.table.split("."):
        table = table.get(name, {})
    return table.get(question.field)


def put(draft: Draft, question: Question, value: Any) -> None:
    """Answer ``question``; None takes an answer back."""
    *outer, last = question.table.split(".")
    tables = draft
    for name in outer:
        tables = tables.setdefault(name, {})
    table = tables.setdefault(last, {})
    table.pop(question.field, None)
    if value is not None:
        table[question.field] = value
    elif not table and outer:
        del tables[last]


def several(draft: Draft) -> bool:
    """Whether the head has several sources, each with its own wavelength and power."""
    return "emitter" in draft["laser"]


def says_of_one_source(question: Question) -> bool:
    """Whether ``question`` is about the one source of a head that has no others."""
    return question.table == "laser.pulsed" or question.place in (
        "laser.wavelength_nm",
        "laser.mean_power_mw",
    )


def forget_one_source(draft: Draft) -> None:
    """Several sources take its place."""
    for name in ("wavelength_nm", "mean_power_mw", "pulsed"):
        draft["laser"].pop(name, None)


def lacks(draft: Draft, question: Question) -> bool:
    """Whether ``question`` must be answered and is not. Sources bring their own wavelength."""
    if not question.needed or get(draft, question) is not None:
        return False
    return not (several(draft) and says_of_one_source(question))


def read_source(answer: str) -> Draft:
    """``808:60``, ``905:25000/0.001`` or ``905:25000/0.1us/9000Hz`` as ``[[laser.emitter]]``."""
    found = _SOURCE.fullmatch(re.sub(r"\s+", "", answer).lower())
    if found is None:
        raise Refused(refusal(show(answer), SOURCE_ALLOWED))
    wavelength, power, duty, width, frequency = (
        None if text is None else read_number(text) for text in found.groups()
    )
    if duty is None and width is None:
        return {"wavelength_nm": wavelength, "mean_power_mw": power}
    stated = {"duty_cycle": duty, "pulse_width_us": width, "frequency_hz": frequency}
    pulsed = {name: value for name, value in stated.items() if value is not None}
    return {"wavelength_nm": wavelength, "pulsed": {"peak_power_mw": power, **pulsed}}


def source_text(source: Mapping[str, Any]) -> str:
    """The reverse of :func:`read_source`."""
    pulsed = source.get("pulsed")
    if pulsed is None:
        return f"{source['wavelength_nm']}:{source['mean_power_mw']}"
    pulses = (
        f"{pulsed['duty_cycle']}"
        if "duty_cycle" in pulsed
        else f"{pulsed['pulse_width_us']}us/{pulsed['frequency_hz']}Hz"
    )
    return f"{source['wavelength_nm']}:{pulsed['peak_power_mw']}/{pulses}"


def read_settle(answer: str) -> Draft:
    """``20s`` or ``none`` as the table ``[settle]``."""
    if answer.strip().lower() == "none":
        return {"leave_out": True}
    found = _DOSE.fullmatch(answer)
    if found is None or _DOSE_FIELD[found[2].lower()] != "seconds_each_spot":
        raise Refused(refusal(show(answer), SETTLE_ALLOWED))
    return {"seconds_each_side": read_number(found[1])}


def settle_text(settle: Mapping[str, Any]) -> str:
    """The reverse of :func:`read_settle`."""
    return "none" if settle.get("leave_out") else f"{settle['seconds_each_side']}s"


def read_course(answer: str) -> Draft:
    """``induction:3x2`` as a table ``[[course]]``."""
    found = _COURSE.fullmatch(answer.strip())
    if found is None:
        raise Refused(refusal(show(answer), COURSE_ALLOWED))
    return {"name": found[1].strip(), "times_a_week": int(found[2]), "weeks": int(found[3])}


def course_text(phase: Mapping[str, Any]) -> str:
    """The reverse of :func:`read_course`."""
    if "times_a_week" not in phase or phase.keys() - {"name", "times_a_week", "weeks"}:
        return f"{phase['name']} (as in the plan file)"
    return f"{phase['name']}:{phase['times_a_week']}x{phase['weeks']}"


def read_dose(answer: str) -> Draft:
    """``40s``, ``4J`` or ``4J/cm2`` as a field of ``[[regions]]``. The unit must be there."""
    found = _DOSE.fullmatch(answer)
    if found is None:
        raise Refused(refusal(show(answer) if answer.strip() else NOTHING, DOSE_ALLOWED))
    return {_DOSE_FIELD[found[2].lower()]: read_number(found[1])}


def dose_text(order: Mapping[str, Any]) -> str:
    """The reverse of :func:`read_dose`; several statements are joined by "and"."""
    return " and ".join(
        f"{order[field]}{unit}" for field, unit in _DOSE_UNIT.items() if field in order
    )


def read_count(answer: str) -> Draft:
    """``4``, or ``tape/max6`` or ``tape/1.5cm/max6`` by the tape, as fields of ``[[regions]]``."""
    by_tape = _TAPE.fullmatch(answer.strip().lower())
    if by_tape is None:
        if not re.fullmatch(r"-?[0-9]+", answer.strip()):
            raise Refused(refusal(show(answer) if answer.strip() else NOTHING, COUNT_ALLOWED))
        return {"spots": read_whole(answer.strip())}
    count: Draft = {"most_spots": read_whole(by_tape[2])}
    if by_tape[1]:
        count["spacing_cm"] = read_number(by_tape[1])
    return count


def count_text(order: Mapping[str, Any]) -> str:
    """The reverse of :func:`read_count`; nothing before there is an answer."""
    if "spots" in order:
        return str(order["spots"])
    spacing = f"/{order['spacing_cm']}cm" if "spacing_cm" in order else ""
    return f"tape{spacing}/max{order['most_spots']}" if "most_spots" in order else ""


def read_region(answer: str) -> Draft:
    """``lumbar:left,right:4:40s`` as a table ``[[regions]]``; a joint has its faces third.

    Raises Refused with everything that is wrong.
    """
    typed = answer.partition(":")[0].strip()
    key = region_for(typed) or typed
    place = regions().get(key)
    joint = place is not None and bool(place.aspects)
    parts = answer.split(":", 4 + joint)
    refused: list[str] = []
    order: Draft = {"region": key}
    if place is None:
        allowed = ", ".join(regions())
        refused.append(refusal(show(key), allowed, meant(key, list(regions()))))
    if len(parts) < 4 + joint:
        refused.append(refusal(show(answer), REGION_ALLOWED))
    else:
        order["sides"] = read_list(parts[1])
        if joint:
            order["aspects"] = read_list(parts[2])
        spots, dose, *note = parts[2 + joint :]
        for read, part in ((read_count, spots), (read_dose, dose)):
            try:
                order |= read(part)
            except Refused as wrong:
                refused += wrong.reasons
        if note:
            order["note"] = note[0].strip()
    if refused:
        raise Refused(*refused)
    return order


def problems_in(draft: Draft, *, today: datetime.date) -> tuple[Problem, ...]:
    """Everything that is wrong with ``draft`` as it stands, in the order of a plan file."""
    try:
        to_plan(draft, today=today)
    except PlanProblems as problems:
        return problems.problems
    return ()


def to_plan(draft: Draft, *, today: datetime.date) -> Plan:
    """The plan. Raises PlanProblems."""
    return read_plan(tomli_w.dumps(draft), file=ANSWERS, today=today)


def problem_text(problem: Problem) -> str:
    """What was found and allowed, without the place."""
    return refusal(problem.found, problem.allowed, problem.hint)


def order_lines(plan: Plan, number: int) -> Iterator[str]:
    """What the region ``number`` (from 0) of ``plan`` means: spots, time and dose."""
    order = plan.regions[number]
    others = plan.regions[:number] + plan.regions[number + 1 :]
    count = len(spots_of(plan)) - len(spots_of(plan.model_copy(update={"regions": others})))
    hold_ns = plan.hold_ns(order)
    spot_fj = energy.energy_fj(power_uw=plan.laser.power_uw, duration_ns=hold_ns)
    yield (
        f"{region(order.region).owner_words}, {', '.join(order.sides)}: {_spots(count)} of "
        f"{rounded(s_from_ns(hold_ns), 1).normalize():f} s, {_span(hold_ns * count)} on the spots"
    )
    area_um2 = plan.laser.beam_area_um2
    fluence = ""
    if area_um2 is not None:
        j_cm2 = energy.fluence_j_cm2(energy_fj=spot_fj, beam_area_um2=area_um2)
        fluence = f" ({rounded(j_cm2, 2)} J/cm2)"
    yield (
        f"{rounded(j_from_fj(spot_fj), 2)} J a spot{fluence}, "
        f"{rounded(j_from_fj(spot_fj * count), 2)} J in all"
    )


def so_far_line(plan: Plan) -> str:
    """What a session of ``plan`` takes and gives."""
    spots = spots_of(plan)
    total_fj = sum(
        energy.energy_fj(power_uw=plan.laser.power_uw, duration_ns=spot.hold_ns) for spot in spots
    )
    return (
        f"So far: {_spots(len(spots))}, {_span(total_ns(spots))} with moves and turns, "
        f"{rounded(j_from_fj(total_fj), 2)} J"
    )


def _spots(count: int) -> str:
    return "1 spot" if count == 1 else f"{count} spots"


def _span(duration_ns: int) -> str:
    seconds = ceil_s(duration_ns)
    return f"{seconds} s" if seconds < 60 else f"{clock_text(seconds)} min"
