"""The tables of the call list, for every engine: names, kinds, keys. Pure.

Days are whole numbers (``date.toordinal()``), so that no engine has to reckon with dates; 0 means
not known. Yes and no are 1 and 0. Whatever a handover says of one dog is merged: of two handovers
that tell of the same thing, the one made later counts.
"""

from collections.abc import Mapping
from dataclasses import dataclass

TEXT, INT = "TEXT", "INTEGER"
# What every engine can keep in INTEGER.
LARGEST_INT = 2**31 - 1


@dataclass(frozen=True, slots=True)
class Table:
    """Columns with their kinds, and which of them make the key."""

    columns: Mapping[str, str]
    key: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The columns, in order."""
        return tuple(self.columns)


def _table(key: str, columns: str) -> Table:
    """``name`` is text, ``name#`` a whole number."""
    kinds = {name.rstrip("#"): INT if name.endswith("#") else TEXT for name in columns.split()}
    return Table(kinds, tuple(key.split()))


# One row a handover.
HANDOVERS = _table(
    "handover",
    """handover device dog made_at made_day# digest plan plan_revision# prescriber clinic owner
    phone names# valid_until# start_day# course# planned# given#
    too_little# missed_rule recheck_day#
    recheck_after# most_a_day# patient_number chip broken report for_page""",
)
# One row a session that was opened, as the newest handover tells it.
SESSIONS = _table(
    "device dog session",
    """device dog session made_at first_made handover day# day_known# opened counts# begun#
    plan state reason skin tolerance# stop_signs early_signs words alarming# overruled
    journal signature""",
)
# What the newest handover of a dog says of its course: one row a session of the plan.
DUES = _table("device dog number", "device dog number# planned_day# until_day# state")
# Something that happened: kind is went_wrong or refused.
INCIDENTS = _table(
    "device dog incident", "device dog incident made_at first_made handover kind day# what"
)
SCORES = _table("device dog said_at", "device dog said_at made_at first_made handover day# score#")
# Seconds and joules of a region in a session, of handovers without names only: for a registry.
DOSES = _table(
    "device dog session region",
    """device dog session region made_at first_made handover day# prescribed_mj# given_mj#""",
)
# The prescriber's own stop rules, of the newest handover.
STOP_RULES = _table("device dog number", "device dog number# sign times# within_days#")
# Which dog it is: several computers, one key.
DOGS = _table("device dog", "device dog dog_key")
# The newest call of each dog.
# ``seen`` is when the handover was made that was the newest at the call: what it told is answered.
CALLS = _table("dog_key", "dog_key called_at seen day# until_day# rests_until# called_by note")
# Which practice a handover came from, for a registry.
PRACTICES = _table("handover", "handover practice")
RULES = _table("rule", "rule weight# least# lasts_days# standing#")

TABLES: Mapping[str, Table] = {
    "handovers": HANDOVERS,
    "sessions": SESSIONS,
    "dues": DUES,
    "incidents": INCIDENTS,
    "scores": SCORES,
    "stop_rules": STOP_RULES,
    "doses": DOSES,
    "dogs": DOGS,
    "calls": CALLS,
    "rules": RULES,
    "practices": PRACTICES,
}
# Filled from handovers; the others are worked out anew for each question.
OF_HANDOVERS = ("handovers", "sessions", "dues", "incidents", "scores", "stop_rules", "doses")
# Those of which only the newest handover of a dog counts.
OF_NEWEST = ("dues", "stop_rules")
# Those whose rows carry the handover that told them last, and when it was first told.
MERGED = ("sessions", "incidents", "scores", "doses")


def ddl(name: str) -> str:
    """CREATE TABLE, as every engine takes it."""
    table = TABLES[name]
    columns = ", ".join(f"{column} {kind}" for column, kind in table.columns.items())
    return f"CREATE TABLE {name} ({columns}, PRIMARY KEY ({', '.join(table.key)}))"
