"""Plan text to :class:`Plan`, or every problem at once. Pure: text and today's date come in."""

import datetime
import re
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails, PydanticUndefined

from coach.body.regions import is_region
from coach.plan.checks import (
    TAPED,
    check_dates,
    check_limits,
    check_measures,
    check_place,
    check_spots,
)
from coach.plan.course_checks import check_calendar, check_course
from coach.plan.format_2_checks import (
    Part,
    check_own_sides,
    check_people,
    check_phase_regions,
    check_places,
    check_recheck,
    check_second_check,
    check_spot_notes,
    check_starts,
    resolve,
)
from coach.plan.formats import (
    NOT_YET,
    ONLY_1,
    ONLY_2,
    REQUIRED,
    Format,
    fields_of,
    since,
    tables_of,
)
from coach.plan.laser_checks import BEAM, check_beam, check_dose, check_laser
from coach.plan.model import (
    FORMATS,
    About,
    CalendarRules,
    Care,
    CoursePhase,
    Dog,
    Laser,
    Limits,
    OwnPlace,
    Patient,
    Plan,
    Reason,
    Recheck,
    RegionOrder,
    Rules,
    Scores,
    Settle,
    Table,
)
from coach.plan.parse import UNREADABLE, parse
from coach.plan.phases import DOSE_FIELDS
from coach.plan.problems import Path, PlanProblems, Report, meant, show
from coach.plan.sweep import check_area_dose, check_technique

_NOT_YET = "nothing: the format has it, this version of the program does not do it yet"

_DATES = frozenset({"prescribed_on", "valid_until"})
_CHECKED = frozenset({"prescriber", "prescribed_on", "checked_by", "checked_on"})
_POWER = frozenset({"mean_power_mw", "pulsed", "emitter", "output_check"})
_DOSE = frozenset({*DOSE_FIELDS, "technique", "treated_area_cm2"})

_TAPE = frozenset({*TAPED, "measured_on"})
_SPOTS = frozenset({"region", "spots", "spacing_cm", "most_spots"})

T = TypeVar("T", bound=Table)


def read_plan(text: str, *, file: str, today: datetime.date) -> Plan:
    """The plan in ``text``. Raises PlanProblems with everything that is wrong."""
    raw, report = parse(text, file=file)
    number = _check_format(report, raw)
    source = _Source(report, raw, number)
    source.check_tables()
    about = source.table("plan", About)
    dog = source.table("dog", Dog)
    patient = source.table("patient", Patient)
    reason = source.table("reason", Reason)
    recheck = source.table("recheck", Recheck)
    laser = source.table("laser", Laser)
    if laser is not None:
        laser.table = laser.table.as_of(today)
    settle = source.table("settle", Settle)
    rules = source.table("session", Rules)
    limits = source.table("limits", Limits)
    calendar = source.table("calendar", CalendarRules)
    scores = source.table("scores", Scores)
    care = source.table("care", Care)
    course = source.list("course", CoursePhase)
    orders = source.list("regions", RegionOrder)
    places = source.list("places", OwnPlace)
    named, sides = check_places(
        report, places, None if dog is None or dog.bad & _TAPE else dog.table
    )
    for part in orders:
        if part is not None and number == 2:
            part.table = resolve(part.table, named)
    for phase in course:
        if phase is not None:
            changes = [resolve(change, named) for change in phase.table.regions]
            phase.table = phase.table.model_copy(update={"regions": changes})
    if about is not None and not about.bad & _DATES:
        check_dates(report, about.table, today)
    if about is not None and not about.bad & _CHECKED:
        check_second_check(report, about.table, today)
    if patient is not None and reason is not None:
        check_people(report, patient.table, reason.table, patient.bad | reason.bad, today)
    if about is not None and recheck is not None and not (about.bad & _DATES or recheck.bad):
        check_recheck(report, recheck.table, about.table)
    if number == 2 and laser is not None:
        check_starts(report, raw["laser"])
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
    for place, order in enumerate(orders):
        if order is not None:
            check_place(report, place, order.table, order.bad)
            check_own_sides(report, place, order.table, order.bad, sides)
            check_technique(report, ("regions", place), order.table, dose_laser, order.bad)
            if not order.bad & _DOSE:
                check = check_area_dose if order.table.technique == "swept" else check_dose
                check(report, ("regions", place), order.table, dose_laser)
            check_spot_notes(report, place, order.table, order.bad)
            if (
                dog
                and laser
                and rules
                and is_region(order.table.region)
                and order.table.technique == "still"
                and not (order.bad & _SPOTS or dog.bad & _TAPE)
                and not ("head_footprint_cm" in laser.bad or "spacing_cm" in rules.bad)
            ):
                check_spots(report, place, order.table, dog.table, laser.table, rules.table)
    check_phase_regions(report, course, orders, dose_laser)
    if report or not (
        about
        and dog
        and patient
        and reason
        and recheck
        and laser
        and settle
        and rules
        and limits
        and calendar
        and scores
        and care
    ):
        raise PlanProblems(report.problems())
    return Plan(
        format=number,
        about=about.table,
        dog=dog.table,
        patient=patient.table,
        reason=reason.table,
        recheck=recheck.table,
        laser=laser.table,
        course=tuple(phase.table for phase in course if phase is not None),
        settle=settle.table,
        rules=rules.table,
        limits=limits.table,
        calendar=calendar.table,
        scores=scores.table,
        care=care.table,
        places=tuple(place.table for place in places if place is not None),
        regions=tuple(order.table for order in orders if order is not None),
    )


def _check_format(report: Report, raw: dict[str, Any]) -> Format:
    """The format of the file; where it is not said, the one that its tables look like."""
    allowed = f"{FORMATS[-1]}, the format of plan files, or 1, the one before"
    value = raw.get("coach_plan")
    if type(value) is int and value in FORMATS:
        return 1 if value == 1 else 2
    if value is None:
        report.add(("coach_plan",), "nothing", f"coach_plan = {allowed}; above the first table")
    elif value is not UNREADABLE:
        report.add(("coach_plan",), show(value), allowed)
    return 1 if "settle" in raw else 2


class _Source:
    """The values of a file, table by table, as its format has them."""

    def __init__(self, report: Report, raw: dict[str, Any], number: Format) -> None:
        self.report = report
        self.raw = raw
        self.format = number

    def check_tables(self) -> None:
        known = ["coach_plan", *tables_of(self.format)]
        for key in self.raw:
            if key not in known:
                hint = meant(key, known)
                if key in ONLY_2:
                    hint = "a table of coach_plan = 2"
                elif key in ONLY_1:
                    hint = "write first = true in the region that comes first, with its dose"
                self.report.add((key,), "an unknown table or key", ", ".join(known), hint)
            elif key in NOT_YET:
                self.report.add((key,), "this table", _NOT_YET)

    def table(self, key: str, model: type[T]) -> Part[T] | None:
        if key not in self.raw and key in REQUIRED:
            self.report.add((key,), "nothing", f"a table [{key}]")
            return None
        if key not in tables_of(self.format):
            return Part(model())
        return self._validated((key,), self.raw.get(key, {}), model)

    def list(self, key: str, model: type[T]) -> "list[Part[T] | None]":
        items = self.raw.get(key, [])
        if items is UNREADABLE or key not in tables_of(self.format):
            return []
        if not isinstance(items, list):
            hint = "with two brackets" if isinstance(items, dict) else ""
            self.report.add((key,), show(items), f"tables, each under [[{key}]]", hint)
            return []
        if not items and key in REQUIRED:
            self.report.add((key,), "nothing", f"at least one table under [[{key}]]")
        return [self._validated((key, n), item, model) for n, item in enumerate(items)]

    def _validated(self, path: Path, value: Any, model: type[T]) -> Part[T] | None:
        if value is UNREADABLE:
            return None
        if not isinstance(value, dict):
            self.report.add(path, show(value), "a table")
            return None
        value, early = self._of_format(path, value, model)
        try:
            return Part(model.model_validate(value), early)
        except ValidationError as error:
            details = error.errors(include_url=False)
        for detail in details:
            _translate(self.report, path, detail, model, self.format)
        bad = frozenset(str(detail["loc"][0]) for detail in details)
        usable = {key: value[key] for key in model.model_fields if key in value and key not in bad}
        for key in bad & model.model_fields.keys():
            if model.model_fields[key].is_required():
                usable[key] = _example(model, key)
        return Part(model.model_validate(usable), bad | early)

    def _of_format(
        self, path: Path, value: dict[str, Any], model: type[Table]
    ) -> tuple[dict[str, Any], frozenset[str]]:
        """The fields that may stand here, and the names of the others, which are reported."""
        refused = set()
        for name in value:
            if name not in model.model_fields:
                continue
            if since(model, name) > self.format:
                allowed = ", ".join(fields_of(model, self.format))
                hint = "a field of coach_plan = 2"
                self.report.add((*path, name), "an unknown key", allowed, hint)
                refused.add(name)
            elif f"{path[0]}.{name}" in NOT_YET:
                self.report.add((*path, name), "this field", _NOT_YET)
                refused.add(name)
        return {name: item for name, item in value.items() if name not in refused}, frozenset(
            refused
        )


def _example(model: type[Table], field: str) -> Any:
    info = model.model_fields.get(field)
    return info.examples[0] if info is not None and info.examples else PydanticUndefined


def _translate(
    report: Report, path: Path, detail: ErrorDetails, model: type[Table], number: Format
) -> None:
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
        fields = fields_of(table, number)
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
