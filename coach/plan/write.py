"""Plan to TOML text that a vet can read and edit, the reverse of :mod:`coach.plan.read`. Pure."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

import tomli_w

from coach.plan.fields import Table
from coach.plan.formats import fields_of, since
from coach.plan.laser import Laser
from coach.plan.model import CalendarRules, Care, Patient, Plan, Reason, Recheck, Scores
from coach.plan.unstated import unstated

# As they always were.
_WRITTEN_EMPTY = frozenset({"clearances"})


def write_plan(plan: Plan) -> str:
    """The text of a plan file of the plan's own format; reading it gives an equal plan.

    Fields that are not stated, and texts without words, are left out. So is what the prescriber
    left unsaid (:mod:`coach.plan.unstated`): a file must not say it in their place. Everything else
    of format 1 that has a default is written, so that the file says what holds even if a default
    changes; the defaults of format 2 do not change, and are left out.
    """
    about = plan.about
    parts = [
        f"# Plan {about.id}, revision {about.revision}. Left and right are the dog's.\n",
        tomli_w.dumps({"coach_plan": plan.format}),
        _table(plan, "[plan]", about),
        _table(plan, "[dog]", plan.dog),
    ]
    if plan.patient != Patient():
        parts.append(_table(plan, "[patient]", plan.patient))
    if plan.reason != Reason():
        parts.append(_table(plan, "[reason]", plan.reason))
    if plan.recheck != Recheck():
        parts.append(_table(plan, "[recheck]", plan.recheck))
        parts += [_table(plan, "[[recheck.stop]]", rule) for rule in plan.recheck.stop]
    parts += _laser(plan, plan.laser)
    for phase in plan.course:
        parts.append(_table(plan, "[[course]]", phase))
        parts += [_table(plan, "[[course.regions]]", region) for region in phase.regions]
    if plan.format == 1 and "settle" not in _unsaid(plan):
        parts.append(_table(plan, "[settle]", plan.settle))
    parts += [_table(plan, "[session]", plan.rules), _table(plan, "[limits]", plan.limits)]
    if plan.calendar != CalendarRules():
        parts.append(_table(plan, "[calendar]", plan.calendar))
    if plan.scores != Scores():
        parts.append(_table(plan, "[scores]", plan.scores))
    if plan.care != Care():
        parts.append(_table(plan, "[care]", plan.care))
    parts += [_table(plan, "[[places]]", place) for place in plan.places]
    parts += [_table(plan, "[[photos]]", photo) for photo in plan.photos]
    parts += [_table(plan, "[[regions]]", order) for order in plan.regions]
    return "\n".join(parts)


def _laser(plan: Plan, laser: Laser) -> Iterator[str]:
    yield _table(plan, "[laser]", laser, first=("label", "laser_class"))
    if laser.pulsed is not None:
        yield _table(plan, "[laser.pulsed]", laser.pulsed)
    for emitter in laser.emitter or ():
        yield _table(plan, "[[laser.emitter]]", emitter)
        if emitter.pulsed is not None:
            yield _table(plan, "[laser.emitter.pulsed]", emitter.pulsed)
    if laser.output_check is not None:
        yield _table(plan, "[laser.output_check]", laser.output_check)


def _table(plan: Plan, heading: str, table: Table, *, first: tuple[str, ...] = ()) -> str:
    """A table without the tables in it; ``first`` are the fields that it begins with."""
    fields = table.model_dump()
    known, unsaid = fields_of(type(table), plan.format), _unsaid(plan)
    if "region" in fields and fields["region"] is not None:
        # A place of the prescriber's own is written by its name.
        fields["region"] = fields["region"].partition("@")[0]
    stated = {
        name: fields[name]
        for name in dict.fromkeys((*first, *known))
        if not (isinstance(fields[name], dict) or _holds_tables(fields[name]))
        and f"{heading.strip('[]')}.{name}" not in unsaid
        and not (since(type(table), name) > 1 and fields[name] == _default(type(table), name))
    }
    return "".join([f"{heading}\n", *_pairs(stated)])


def _unsaid(plan: Plan) -> frozenset[str]:
    return frozenset(one.field for one in unstated(plan))


def _default(model: type[Table], field: str) -> Any:
    return model.model_fields[field].get_default(call_default_factory=True)


def _holds_tables(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(item, dict) for item in value)


def _pairs(fields: Mapping[str, Any]) -> Iterator[str]:
    for key, value in fields.items():
        if value is None or value == "" or (value == [] and key not in _WRITTEN_EMPTY):
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
