"""A registry over handovers without names: energy by region and week, change by practice.

An example of what may be asked of many practices without knowing a dog. A cell of fewer than
:data:`LEAST_DOGS` dogs is hidden (common practice of disclosure control, no source); no totals are
given from which a hidden one could be worked out.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from coach.practice.call_list import KNOWN
from coach.practice.identity import Known, dog_keys
from coach.practice.rules import Rules
from coach.practice.store import Engine

LEAST_DOGS = 5
MJ_PER_J = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A region in a week (from ``monday``) at a practice; energies in J, coached."""

    practice: str
    region: str
    monday: datetime.date
    dogs: int
    sessions: int
    prescribed_j: float
    given_j: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Means over dogs with two values or more: ``what`` is tolerance or score, 0 to 10."""

    what: str
    practice: str
    dogs: int
    first: float
    last: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Registry:
    """What may be shown, and how many cells may not."""

    cells: tuple[Cell, ...]
    changes: tuple[Change, ...]
    hidden: int
    handovers: int
    left_out: int


@lru_cache(maxsize=2)
def questions(least: int) -> tuple[str, str]:
    """The SQL: cells, changes."""
    text = (files("coach.practice") / "registry.sql").read_text(encoding="utf-8")
    cells, changes = text.replace("$least", str(least)).split(";\n", 1)
    return cells, changes


def registry(engine: Engine, rules: Rules, *, is_lake: bool, least: int = LEAST_DOGS) -> Registry:
    """Ask ``engine``; in a lake the practice stands before the name of each handover.

    Cells of fewer than ``least`` dogs are hidden.
    """
    keys, _ = dog_keys((Known(*row) for row in engine.select(KNOWN)), rules.same_dogs)
    handovers = [(str(name), int(names)) for name, names in engine.select(_HANDOVERS)]
    tables: dict[str, list[tuple[Any, ...]]] = {
        "dogs": [(device, dog, key) for (device, dog), key in keys.items()],
        "practices": [
            (name, name.split("/", 1)[0] if is_lake else rules.practice) for name, _ in handovers
        ],
    }
    cells_sql, changes_sql = questions(least)
    cells = engine.ask(cells_sql, tables, 0)
    changes = engine.ask(changes_sql, tables, 0)
    return Registry(
        cells=tuple(_cell(row) for row in cells if row["shown"]),
        changes=tuple(_change(row) for row in changes if row["shown"]),
        hidden=sum(not row["shown"] for row in (*cells, *changes)),
        handovers=len(handovers),
        left_out=sum(names for _, names in handovers),
    )


_HANDOVERS = "SELECT handover, names FROM handovers"


def _cell(row: Mapping[str, Any]) -> Cell:
    return Cell(
        practice=row["practice"],
        region=row["region"],
        monday=datetime.date.fromordinal(row["week"]),
        dogs=row["dogs"],
        sessions=row["sessions"],
        prescribed_j=int(row["prescribed_mj"]) / MJ_PER_J,
        given_j=int(row["given_mj"]) / MJ_PER_J,
    )


def _change(row: Mapping[str, Any]) -> Change:
    return Change(
        what=row["what"],
        practice=row["practice"],
        dogs=row["dogs"],
        first=int(row["first_sum"]) / row["dogs"],
        last=int(row["last_sum"]) / row["dogs"],
    )


def registry_lines(found: Registry) -> list[str]:
    """For people."""
    about = f"{found.handovers} handovers, {found.left_out} of them with names and left out"
    lines = [f"Registry: {about}", ""]
    lines.append(
        f"{'practice':<14} {'week from':<11} {'region':<16} {'dogs':>5} {'sessions':>8}"
        f" {'given J':>10} {'prescribed J':>12}"
    )
    lines += [
        f"{cell.practice:<14} {cell.monday} {cell.region:<17} {cell.dogs:>5} {cell.sessions:>8}"
        f" {cell.given_j:>10.1f} {cell.prescribed_j:>12.1f}"
        for cell in found.cells
    ]
    lines.append("")
    lines += [
        f"{one.practice}: {one.what} {one.first:.1f} to {one.last:.1f} of 10, mean of "
        f"{one.dogs} dogs, first to last"
        for one in found.changes
    ]
    lines.append(f"{found.hidden} cells of fewer than {LEAST_DOGS} dogs are hidden.")
    lines.append("Energies are coached, not measured: mean power as stated x time.")
    return lines


def registry_json(found: Registry) -> dict[str, Any]:
    """Machine-readable; keys may be added."""
    return {
        "registry": 1,
        "least_dogs": LEAST_DOGS,
        "handovers": found.handovers,
        "left_out": found.left_out,
        "hidden": found.hidden,
        "cells": [
            {
                "practice": cell.practice,
                "region": cell.region,
                "week_from": cell.monday.isoformat(),
                "dogs": cell.dogs,
                "sessions": cell.sessions,
                "prescribed_j": cell.prescribed_j,
                "given_j": cell.given_j,
            }
            for cell in found.cells
        ],
        "changes": [
            {
                "what": one.what,
                "practice": one.practice,
                "dogs": one.dogs,
                "first": round(one.first, 3),
                "last": round(one.last, 3),
            }
            for one in found.changes
        ],
    }
