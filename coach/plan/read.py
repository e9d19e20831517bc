"""Plan text to :class:`Plan`, or every problem at once. Pure: text and today's date come in."""

import datetime
import re
from collections.abc import Callable, Mapping
from typing import Any, Generic, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails, PydanticUndefined

from coach.body import regions
from coach.plan.checks import (
    TAPED,
    check_dates,
    check_limits,
    check_measures,
    check_place,
    check_spots,
)
from coach.plan.course_checks import check_calendar, check_course
from coach.plan.laser_checks import BEAM, check_beam, check_dose, check_laser
from coach.plan.model import (
    FORMAT,
    About,
    CalendarRules,
    Care,
    CoursePhase,
    Dog,
    Laser,
    Limits,
    Plan,
    RegionOrder,
    Rules,
    Scores,
    Settle,
    Table,
)
from coach.plan.parse import UNREADABLE, parse
from coach.plan.problems import Path, PlanProblems, Report, meant, show

TABLES: Mapping[str, type[Table]] = {
    "plan": About,
    "dog": Dog,
    "laser": Laser,
    "settle": Settle,
    "session": Rules,
    "limits": Limits,
    "calendar": CalendarRules,
    "scores": Scores,
    "care": Care,
}
LISTS: Mapping[str, type[Table]] = {"course": CoursePhase, "regions": RegionOrder}
OPTIONAL = frozenset({"settle", "session", "limits", "calendar", "scores", "care", "course"})

_DATES = frozenset({"prescribed_on", "valid_until"})
_POWER = frozenset({"mean_power_mw", "pulsed", "emitter", "output_check"})
_DOSE = frozenset({"seconds_each_spot", "joules_each_spot", "joules_per_cm2_each_spot"})

_TAPE = frozenset({*TAPED, "measured_on"})
_SPOTS = frozenset({"region", "spots", "spacing_cm", "most_spots"})

T = TypeVar("T", bound=Table)


class _Part(Generic[T]):
    """A table as far as it can be used. ``bad`` names the fields that have been reported: there
    ``table`` has a stand-in, so that the other fields can still be checked against each other."""

    def __init__(self, table: T, bad: frozenset[str] = frozenset()) -> None:
        self.table = table
        self.bad = bad


def read_plan(text: str, *, file: str, today: datetime.date) -> Plan:
    """The plan in ``text``. Raises PlanProblems with everything that is wrong."""
    raw, report = parse(text, file=file)
    _check_format(report, raw)
    known = ["coach_plan", *TABLES, *LISTS]
    for key in raw:
        if key not in known:
            report.add((key,), "an unknown table or key", ", ".join(known), meant(key, known))
    about = _table(report, raw, "plan", About)
    dog = _table(report, raw, "dog", Dog)
    laser = _table(report, raw, "laser", Laser)
    settle = _table(report, raw, "settle", Settle)
    rules = _table(report, raw, "session", Rules)
    limits = _table(report, raw, "limits", Limits)
    calendar = _table(report, raw, "calendar", CalendarRules)
    scores = _table(report, raw, "scores", Scores)
    care = _table(report, raw, "care", Care)
    course = _list(report, raw, "course", CoursePhase)
    orders = _list(report, raw, "regions", RegionOrder)
    if about is not None and not about.bad & _DATES:
        check_dates(report, about.table, today)
    if dog is not None and not dog.bad & _TAPE:
        check_measures(report, dog.table, today)
    if limits is not None and not limits.bad:
        check_limits(report, limits.table, [phase.table for phase in course if phase is not None])
    if calendar is not None and not calendar.bad:
        check_calendar(report, calendar.table)
    sound = calendar is not None and not calendar.bad
    check_course(
        report,
        [None if phase is None else (phase.table, phase.bad) for phase in course],
        calendar.table if calendar is not None and sound else None,
    )
    dose_laser = None
    if laser is not None:
        beam_known = not laser.bad & frozenset(BEAM) and check_beam(report, laser.table)
        if not laser.bad & _POWER and check_laser(report, laser.table, laser.bad):
            dose_laser = laser.table if beam_known else None
    for number, order in enumerate(orders):
        if order is not None:
            check_place(report, number, order.table, order.bad)
            if not order.bad & _DOSE:
                check_dose(report, number, order.table, dose_laser)
            if (
                dog
                and laser
                and rules
                and order.table.region in regions()
                and not (order.bad & _SPOTS or dog.bad & _TAPE)
                and not ("head_footprint_cm" in laser.bad or "spacing_cm" in rules.bad)
            ):
                check_spots(report, number, order.table, dog.table, laser.table, rules.table)
    if report or not (
        about and dog and laser and settle and rules and limits and calendar and scores and care
    ):
        raise PlanProblems(report.problems())
    return Plan(
        about=about.table,
        dog=dog.table,
        laser=laser.table,
        course=tuple(phase.table for phase in course if phase is not None),
        settle=settle.table,
        rules=rules.table,
        limits=limits.table,
        calendar=calendar.table,
        scores=scores.table,
        care=care.table,
        regions=tuple(order.table for order in orders if order is not None),
    )


def _check_format(report: Report, raw: dict[str, Any]) -> None:
    allowed = f"{FORMAT}, the format of plan files"
    value = raw.get("coach_plan")
    if value is None:
        report.add(("coach_plan",), "nothing", f"coach_plan = {allowed}, above the first table")
    elif value is not UNREADABLE and (type(value) is not int or value != FORMAT):
        report.add(("coach_plan",), show(value), allowed)


def _table(report: Report, raw: dict[str, Any], key: str, model: type[T]) -> _Part[T] | None:
    if key not in raw and key not in OPTIONAL:
        report.add((key,), "nothing", f"a table [{key}]")
        return None
    return _validated(report, (key,), raw.get(key, {}), model)


def _list(report: Report, raw: dict[str, Any], key: str, model: type[T]) -> list[_Part[T] | None]:
    items = raw.get(key, [])
    if items is UNREADABLE:
        return []
    if not isinstance(items, list):
        hint = "with two brackets" if isinstance(items, dict) else ""
        report.add((key,), show(items), f"tables, each under [[{key}]]", hint)
        return []
    if not items and key not in OPTIONAL:
        report.add((key,), "nothing", f"at least one table under [[{key}]]")
    return [_validated(report, (key, n), item, model) for n, item in enumerate(items)]


def _validated(report: Report, path: Path, value: Any, model: type[T]) -> _Part[T] | None:
    if value is UNREADABLE:
        return None
    if not isinstance(value, dict):
        report.add(path, show(value), "a table")
        return None
    try:
        return _Part(model.model_validate(value))
    except ValidationError as error:
        details = error.errors(include_url=False)
    for detail in details:
        _translate(report, path, detail, model)
    bad = frozenset(str(detail["loc"][0]) for detail in details)
    usable = {key: value[key] for key in model.model_fields if key in value and key not in bad}
    for key in bad & model.model_fields.keys():
        if model.model_fields[key].is_required():
            usable[key] = _example(model, key)
    return _Part(model.model_validate(usable), bad)


def _example(model: type[Table], field: str) -> Any:
    info = model.model_fields.get(field)
    return info.examples[0] if info is not None and info.examples else PydanticUndefined


def _translate(report: Report, path: Path, detail: ErrorDetails, model: type[Table]) -> None:
    """A pydantic error in our words."""
    if detail["input"] is UNREADABLE:
        return
    loc = detail["loc"]
    where = (*path, *loc)
    context = detail.get("ctx", {})
    kind = detail["type"]
    table = model
    for part in loc[:-1]:
        # A number is a place in a list; its tables are those of the field.
        table = _inner(table, part) if isinstance(part, str) else table
    if kind == "extra_forbidden":
        fields = list(table.model_fields)
        name = str(loc[-1])
        report.add(where, "an unknown key", ", ".join(fields), meant(name, fields))
        return
    example = _example(table, str(loc[-1]))
    if kind == "missing":
        such = "" if example is PydanticUndefined else f", such as {loc[-1]} = {show(example)}"
        report.add(where, "nothing", f"this field must be there{such}")
        return
    hint = context.get("hint", "")
    if kind == "literal_error" and isinstance(detail["input"], str):
        hint = meant(detail["input"], re.findall(r"'([^']*)'", context["expected"]))
    report.add(where, show(detail["input"]), _allowed(kind, context, detail["msg"], example), hint)


def _inner(model: type[Table], field: str) -> type[Table]:
    """The table that ``field`` of ``model`` holds, by itself or in a list; else ``model``."""
    info = model.model_fields.get(field)
    waiting = [] if info is None else [info.annotation]
    while waiting:
        part: Any = waiting.pop()
        if isinstance(part, type) and issubclass(part, Table):
            return part
        waiting += getattr(part, "__args__", ())
    return model


_ALLOWED: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "refused": lambda c: c["allowed"],
    "literal_error": lambda c: c["expected"].replace("'", '"'),
    "string_type": lambda c: "text in quotes",
    "bool_type": lambda c: "true or false",
    "list_type": lambda c: "a list in square brackets",
    "date_type": lambda c: "a date without quotes",
    "too_short": lambda c: f"at least {c['min_length']}",
    "too_long": lambda c: f"at most {c['max_length']} entries",
    "string_pattern_mismatch": lambda c: "small letters, digits and hyphens, at most 40",
    "model_type": lambda c: "a table",
}
_WITH_EXAMPLE = frozenset(
    {"string_type", "list_type", "too_short", "date_type", "string_pattern_mismatch"}
)


def _allowed(kind: str, context: Mapping[str, Any], message: str, example: Any) -> str:
    allowed = _ALLOWED[kind](context) if kind in _ALLOWED else message
    if kind in _WITH_EXAMPLE and example is not PydanticUndefined:
        return f"{allowed}, such as {show(example)}"
    return allowed
