"""Which tables and fields a plan file of each format may have. Pure.

Format 1 is read for ever. What only format 2 has is marked where it is declared, by
:data:`coach.plan.fields.FORMAT_2`; whole tables are listed here.
"""

from collections.abc import Mapping
from typing import Literal, cast

from coach.plan.fields import Table
from coach.plan.model import (
    About,
    CalendarRules,
    Care,
    CoursePhase,
    Dog,
    Laser,
    Limits,
    OwnPlace,
    Patient,
    Photo,
    Reason,
    Recheck,
    RegionOrder,
    Rules,
    Scores,
    Settle,
)

Format = Literal[1, 2]

TABLES: Mapping[str, type[Table]] = {
    "plan": About,
    "dog": Dog,
    "patient": Patient,
    "reason": Reason,
    "recheck": Recheck,
    "laser": Laser,
    "settle": Settle,
    "session": Rules,
    "limits": Limits,
    "calendar": CalendarRules,
    "scores": Scores,
    "care": Care,
}
LISTS: Mapping[str, type[Table]] = {
    "lasers": Laser,
    "course": CoursePhase,
    "places": OwnPlace,
    "photos": Photo,
    "regions": RegionOrder,
}
REQUIRED = frozenset({"plan", "dog", "laser", "regions"})

ONLY_1 = frozenset({"settle"})
ONLY_2 = frozenset({"patient", "reason", "recheck", "lasers", "places", "photos"})

# Listed, so that no name is taken twice, and refused until this program does what they say.
# "table" or "table.field".
NOT_YET = frozenset(
    {
        "lasers",
        "photos",
        "laser.key",
        "plan.beside",
        "regions.laser",
        "regions.only_if",
    }
)


def tables_of(number: Format) -> list[str]:
    """Names of the tables that a plan of a format may have."""
    other = ONLY_2 if number == 1 else ONLY_1
    return [name for name in (*TABLES, *LISTS) if name not in other]


def fields_of(model: type[Table], number: Format) -> list[str]:
    """Names of the fields that a table has in a format."""
    return [name for name in model.model_fields if number >= since(model, name)]


def since(model: type[Table], field: str) -> int:
    """The first format that has a field."""
    extra = model.model_fields[field].json_schema_extra
    return cast(int, extra.get("format", 1)) if isinstance(extra, dict) else 1
