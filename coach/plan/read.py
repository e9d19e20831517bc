"""Plan text to :class:`Plan`, or every problem at once. Pure: text and today's date come in."""

import datetime
import re
import tomllib
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from coach.plan.checks import check_dates, check_laser, check_region
from coach.plan.model import (
    FORMAT,
    About,
    CoursePhase,
    Dog,
    Laser,
    Plan,
    RegionOrder,
    Rules,
    Settle,
    Table,
)
from coach.plan.problems import Path, PlanProblems, Problem, Report, meant, show

TABLES: Mapping[str, type[Table]] = {
    "plan": About,
    "dog": Dog,
    "laser": Laser,
    "settle": Settle,
    "session": Rules,
}
LISTS: Mapping[str, type[Table]] = {"course": CoursePhase, "regions": RegionOrder}
OPTIONAL = frozenset({"settle", "session", "course"})

T = TypeVar("T", bound=Table)


def read_plan(text: str, *, file: str, today: datetime.date) -> Plan:
    """The plan in ``text``. Raises PlanProblems with everything that is wrong."""
    raw = _parse(text, file)
    report = Report(file, text)
    if "coach_plan" not in raw:
        report.add(("coach_plan",), "nothing", f"{FORMAT}, the format of plan files")
    elif raw["coach_plan"] != FORMAT or isinstance(raw["coach_plan"], bool):
        report.add(("coach_plan",), show(raw["coach_plan"]), f"{FORMAT}, the format of plan files")
    known = ["coach_plan", *TABLES, *LISTS]
    for key in raw.keys() - set(known):
        report.add((key,), "an unknown table or key", ", ".join(known), meant(key, known))
    about = _table(report, raw, "plan", About)
    dog = _table(report, raw, "dog", Dog)
    laser = _table(report, raw, "laser", Laser)
    settle = _table(report, raw, "settle", Settle)
    rules = _table(report, raw, "session", Rules)
    course = _list(report, raw, "course", CoursePhase)
    orders = _list(report, raw, "regions", RegionOrder)
    if about is not None:
        check_dates(report, about, today)
    if laser is not None and not check_laser(report, laser):
        laser = None
    for number, order in enumerate(orders):
        if order is not None:
            check_region(report, number, order, laser)
    if report.found or not (about and dog and laser and settle and rules):
        raise PlanProblems(report.problems())
    return Plan(
        about=about,
        dog=dog,
        laser=laser,
        course=tuple(phase for phase in course if phase is not None),
        settle=settle,
        rules=rules,
        regions=tuple(order for order in orders if order is not None),
    )


def _parse(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        line = int(place[1]) if place else text.count("\n") + 1
        lines = text.splitlines()
        content = lines[line - 1].strip()[:60] if 0 < line <= len(lines) else "the end of the file"
        comma = re.search(r"=\s*-?\d+,\d", content)
        raise PlanProblems(
            [
                Problem(
                    file=file,
                    line=line,
                    field="",
                    found=content or "an empty line",
                    allowed='TOML, such as: name = "text" or seconds_each_spot = 30',
                    hint="write decimals with a point, 0.5" if comma else _reason(error),
                )
            ]
        ) from error


def _reason(error: tomllib.TOMLDecodeError) -> str:
    text = re.sub(r"\s*\(at [^)]*\)", "", str(error))
    return text[:1].lower() + text[1:]


def _table(report: Report, raw: dict[str, Any], key: str, model: type[T]) -> T | None:
    if key not in raw and key not in OPTIONAL:
        report.add((key,), "nothing", f"a table [{key}]")
        return None
    return _validated(report, (key,), raw.get(key, {}), model)


def _list(report: Report, raw: dict[str, Any], key: str, model: type[T]) -> list[T | None]:
    items = raw.get(key, [])
    if not isinstance(items, list):
        report.add((key,), show(items), f"tables, each under [[{key}]]")
        return []
    if not items and key not in OPTIONAL:
        report.add((key,), "nothing", f"at least one table under [[{key}]]")
    return [_validated(report, (key, n), item, model) for n, item in enumerate(items)]


def _validated(report: Report, path: Path, value: Any, model: type[T]) -> T | None:
    if not isinstance(value, dict):
        report.add(path, show(value), "a table")
        return None
    try:
        return TypeAdapter(model).validate_python(value)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            _translate(report, path, detail, model)
        return None


def _translate(report: Report, path: Path, detail: ErrorDetails, model: type[Table]) -> None:
    """A pydantic error in our words."""
    where = (*path, *detail["loc"])
    context = detail.get("ctx", {})
    kind = detail["type"]
    if kind == "extra_forbidden":
        table = model if len(detail["loc"]) == 1 else _inner(model, str(detail["loc"][0]))
        fields = list(table.model_fields)
        report.add(where, "an unknown key", ", ".join(fields), meant(str(where[-1]), fields))
    elif kind == "missing":
        report.add(where, "nothing", "this field must be there")
    elif kind == "out_of_bounds":
        report.add(where, show(detail["input"]), context["allowed"], context["hint"])
    else:
        report.add(where, show(detail["input"]), _allowed(kind, context, detail["msg"]))


def _inner(model: type[Table], field: str) -> type[Table]:
    for argument in getattr(model.model_fields[field].annotation, "__args__", ()):
        if isinstance(argument, type) and issubclass(argument, Table):
            return argument
    return model


_ALLOWED: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "literal_error": lambda c: c["expected"],
    "greater_than_equal": lambda c: f"{c['ge']} or more",
    "less_than_equal": lambda c: f"{c['le']} or less",
    "int_type": lambda c: "a whole number",
    "string_type": lambda c: "text in quotes",
    "bool_type": lambda c: "true or false",
    "list_type": lambda c: "a list in square brackets",
    "date_type": lambda c: "a date, such as 2026-11-25 without quotes",
    "string_too_short": lambda c: f"at least {c['min_length']} character",
    "string_too_long": lambda c: f"at most {c['max_length']} characters",
    "too_short": lambda c: f"at least {c['min_length']} entry",
    "too_long": lambda c: f"at most {c['max_length']} entries",
    "string_pattern_mismatch": lambda c: "small letters, digits and hyphens, at most 40",
    "model_type": lambda c: "a table",
}


def _allowed(kind: str, context: Mapping[str, Any], message: str) -> str:
    return _ALLOWED[kind](context) if kind in _ALLOWED else message
