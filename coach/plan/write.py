"""Plan to TOML text that a vet can read and edit, the reverse of :mod:`coach.plan.read`. Pure."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

import tomli_w

from coach.plan.fields import Table
from coach.plan.laser import Laser
from coach.plan.model import FORMAT, CalendarRules, Care, Plan, Scores


def write_plan(plan: Plan) -> str:
    """The text of a plan file; reading it gives an equal plan.

    Fields that are not stated, and notes without words, are left out; everything that has a
    default is written, so that the file says what holds even if a default changes.
    """
    parts = [
        f"# Plan {plan.about.id}, revision {plan.about.revision}. Left and right are the dog's.\n",
        tomli_w.dumps({"coach_plan": FORMAT}),
        _table("[plan]", plan.about),
        _table("[dog]", plan.dog),
        *_laser(plan.laser),
    ]
    parts += [_table("[[course]]", phase) for phase in plan.course]
    parts += [_table("[settle]", plan.settle), _table("[session]", plan.rules)]
    parts.append(_table("[limits]", plan.limits))
    if plan.calendar != CalendarRules():
        parts.append(_table("[calendar]", plan.calendar))
    if plan.scores != Scores():
        parts.append(_table("[scores]", plan.scores))
    if plan.care != Care():
        parts.append(_table("[care]", plan.care))
    parts += [_table("[[regions]]", order) for order in plan.regions]
    return "\n".join(parts)


def _laser(laser: Laser) -> Iterator[str]:
    first = {"label": laser.label, "laser_class": laser.laser_class}
    inner = {"pulsed", "emitter", "output_check"}
    yield "".join(["[laser]\n", *_pairs(first | laser.model_dump(exclude=inner))])
    if laser.pulsed is not None:
        yield _table("[laser.pulsed]", laser.pulsed)
    for emitter in laser.emitter or ():
        yield _table("[[laser.emitter]]", emitter)
        if emitter.pulsed is not None:
            yield _table("[laser.emitter.pulsed]", emitter.pulsed)
    if laser.output_check is not None:
        yield _table("[laser.output_check]", laser.output_check)


def _table(heading: str, table: Table) -> str:
    return "".join([f"{heading}\n", *_pairs(table.model_dump(exclude={"pulsed"}))])


def _pairs(fields: Mapping[str, Any]) -> Iterator[str]:
    for key, value in fields.items():
        if value is None or value == "":
            continue
        if isinstance(value, list):
            # On one line: tomli-w gives every entry a line of its own.
            yield f"{key} = [{', '.join(_value(item) for item in value)}]\n"
        else:
            yield f"{key} = {_value(value)}\n"


def _value(value: Any) -> str:
    if isinstance(value, Decimal) and value == value.to_integral_value():
        value = int(value)
    text = tomli_w.dumps({"value": value}, multiline_strings=True)
    return text.removeprefix("value = ").removesuffix("\n")
