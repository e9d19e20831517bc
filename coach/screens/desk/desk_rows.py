"""The desk as rows: every field of a plan with what stands in it and what is wrong. Pure.

What must be there comes first in each section, so that a plan is typed from top to bottom with
Enter; everything else is folded away behind a row "more".
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from coach.body.regions import regions
from coach.plan.desk import DOSE, DOSES, Desk, Sheet
from coach.plan.desk_values import typed_text
from coach.plan.formats import NOT_YET, fields_of
from coach.plan.problems import Path, dotted
from coach.plan.reference import FieldPage, field_pages, models, words

Kind = Literal["section", "region", "phase", "field", "more", "add region", "add phase"]

# The fields that a new plan needs, in the order in which they are asked; the rest is "more".
FIRST: Mapping[str, tuple[str, ...]] = {
    "plan": ("id", "prescriber", "valid_until", "clinic", "phone"),
    "dog": ("name", "weight_kg"),
    "laser": (
        "label",
        "laser_class",
        "wavelength_nm",
        "mean_power_mw",
        "beam_area_cm2",
        "starts",
    ),
    "course": ("name", "times_a_week", "weeks"),
    "regions": ("region", "sides", "aspects", "spots", DOSE),
}
SECTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("PLAN", ("plan",)),
    ("PATIENT", ("dog", "patient", "reason", "recheck")),
    ("LASER", ("laser", "laser.pulsed", "laser.output_check")),
    ("REGIONS", ("regions",)),
    ("COURSE", ("course", "calendar")),
    ("SESSION", ("session",)),
    ("LIMITS AND CARE", ("limits", "care", "scores")),
)
UNITS = {
    "kg": "kg", "cm": "cm", "cm2": "cm2", "nm": "nm", "mw": "mW", "mrad": "mrad", "us": "us",
    "hz": "Hz", "minutes": "minutes", "seconds": "s", "hours": "hours", "days": "days",
}  # fmt: skip
# The reader takes it for granted that the desk writes these.
HIDDEN = frozenset({"plan.revision", "plan.prescribed_on", *(f"regions.{name}" for name in DOSES)})
DOSE_MEANING = "Seconds, joules or J/cm2 of each spot, with the unit: 40s, 4J or 8J/cm2."


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the desk.

    Attributes:
        kind: what it is.
        path: of the field or table, () for none.
        label: what stands before the value.
        text: the value as somebody would type it.
        needed: it is empty and must not be.
        problem: what is wrong and what is allowed, or "".
        copied: of a region: copied and not looked at yet.
        meaning: one sentence about the field.
    """

    kind: Kind
    path: Path = ()
    label: str
    text: str = ""
    needed: bool = False
    problem: str = ""
    copied: bool = False
    meaning: str = ""


def desk_rows(desk: Desk, sheet: Sheet, opened: frozenset[str]) -> list[Row]:
    """All rows; ``opened`` names the tables whose further fields are shown."""
    rows: list[Row] = []
    for title, tables in SECTIONS:
        rows.append(Row(kind="section", label=title))
        for table in tables:
            if table == "regions":
                rows += _regions(desk, sheet, opened)
            elif table == "course":
                rows += _phases(desk, sheet, opened)
            else:
                rows += _table(desk, sheet, table, (*table.split("."),), opened)
    return rows


def _regions(desk: Desk, sheet: Sheet, opened: frozenset[str]) -> Iterator[Row]:
    for index, order in enumerate(desk.regions):
        path: Path = ("regions", index)
        key = str(order.get("region", ""))
        place = regions().get(key)
        name = key if place is None else place.owner_words
        copied = desk.version.copied[index]
        yield Row(kind="region", path=path, label=f"{index + 1} {name}", copied=copied)
        skipped = frozenset() if place is None or place.aspects else frozenset({"aspects"})
        yield from _table(desk, sheet, "regions", path, opened, skipped=skipped)
    yield Row(
        kind="add region",
        label="another region",
        meaning="Type its name or any word of the trade for it.",
    )


def _phases(desk: Desk, sheet: Sheet, opened: frozenset[str]) -> Iterator[Row]:
    course = desk.value(("course",))
    for index in range(len(course) if isinstance(course, list) else 0):
        path: Path = ("course", index)
        yield Row(kind="phase", path=path, label=f"phase {index + 1}")
        yield from _table(desk, sheet, "course", path, opened)
    yield Row(kind="add phase", label="another phase", meaning="Type its name.")


def _table(
    desk: Desk,
    sheet: Sheet,
    table: str,
    path: Path,
    opened: frozenset[str],
    *,
    skipped: frozenset[str] = frozenset(),
) -> Iterator[Row]:
    """The rows of one table: its first fields, what is filled in, and the rest if it is opened."""
    known = pages_of(table, 1 if desk.value(("coach_plan",)) == 1 else 2)
    first = [name for name in FIRST.get(table, ()) if name not in skipped]
    rest = [name for name in known if name not in first and name not in skipped]
    stated = [name for name in rest if desk.value((*path, name)) is not None]
    wrong = [name for name in rest if sheet.problem_at((*path, name)) is not None]
    shown = rest if dotted(path) in opened else [n for n in rest if n in stated or n in wrong]
    for name in (*first, *shown):
        yield _field(desk, sheet, path, name, known.get(name))
    if len(shown) < len(rest) or (rest and dotted(path) in opened):
        label = f"{table.replace('.', ' ')}: {len(rest) - len(shown)} more fields"
        if dotted(path) in opened:
            label = f"{table.replace('.', ' ')}: fewer fields"
        yield Row(kind="more", path=path, label=label, meaning=words()[table][""])


def _field(desk: Desk, sheet: Sheet, path: Path, name: str, page: FieldPage | None) -> Row:
    where = (*path, name)
    if name == DOSE:
        index = path[1]
        assert isinstance(index, int)
        text = desk.dose(index)
        problems = [sheet.problem_at((*path, dose)) for dose in DOSES]
        # The reader reports a missing dose at the region itself.
        problems.append(None if text else sheet.problem_at(path))
        problem = next(filter(None, problems), None)
        label, meaning = "dose of each spot", DOSE_MEANING
    else:
        text = typed_text(desk.value(where))
        problem = sheet.problem_at(where)
        label = label_of(name)
        meaning = "" if page is None else page.meaning
        if page is not None and page.allowed:
            meaning = f"{meaning} {page.allowed}.".strip()
    told = ""
    if problem is not None:
        told = f"allowed: {problem.allowed}"
        if text:
            told = f"{problem.found}; {told}"
        if problem.hint:
            told += f" ({problem.hint})"
    return Row(
        kind="field",
        path=where,
        label=label,
        text=text,
        needed=not text and problem is not None,
        problem=told if text else "",
        meaning=meaning if not told or text else f"{meaning} {told}",
    )


def pages_of(table: str, number: Literal[1, 2]) -> dict[str, FieldPage]:
    """The fields of a table that can be typed, by name."""
    allowed = fields_of(models()[table], number)
    return {
        page.name: page
        for page in field_pages()
        if page.table == table
        and page.name in allowed
        and page.allowed not in ("a table", "tables")
        and f"{table}.{page.name}" not in HIDDEN
        and f"{table}.{page.name}" not in NOT_YET
    }


def label_of(name: str) -> str:
    """``beam_area_cm2`` as ``beam area (cm2)``."""
    *parts, last = name.split("_")
    if last in UNITS and parts:
        return f"{' '.join(parts)} ({UNITS[last]})"
    return name.replace("_", " ")
