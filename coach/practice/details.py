"""What the page shows of each dog beside the list: spots, tolerance, scores, weeks."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from coach.practice.store import Engine

DAYS_A_WEEK = 7
# What is drawn: the last so many points, and weeks.
MOST_POINTS = 24
MOST_WEEKS = 12
SPOT_FIELDS = ("region", "side", "aspect", "number", "of", "prescribed_s", "counted_s")

_SESSIONS = """
SELECT d.dog_key, s.day, s.tolerance, s.begun
FROM sessions AS s
INNER JOIN dogs AS d ON d.device = s.device AND d.dog = s.dog
WHERE s.begun = 1
ORDER BY d.dog_key, s.day, s.opened
"""
_SCORES = """
SELECT d.dog_key, f.day, f.score
FROM scores AS f
INNER JOIN dogs AS d ON d.device = f.device AND d.dog = f.dog
ORDER BY d.dog_key, f.day, f.said_at
"""
_NEWEST = """
SELECT n.dog_key, n.device, n.dog, n.for_page
FROM (
    SELECT
        d.dog_key, h.device, h.dog, h.for_page, row_number() OVER (
            PARTITION BY d.dog_key ORDER BY h.made_at DESC, h.handover DESC
        ) AS age
    FROM handovers AS h
    INNER JOIN dogs AS d ON d.device = h.device AND d.dog = h.dog
) AS n
WHERE n.age = 1
"""
_DUES = "SELECT device, dog, planned_day FROM dues WHERE planned_day < {today}"


@dataclass(slots=True)
class Detail:
    """Days are whole numbers; ``weeks`` holds due and begun of the last weeks, oldest first."""

    spots: Sequence[Mapping[str, Any]] = ()
    tolerance: list[tuple[int, int]] = field(default_factory=list)
    scores: list[tuple[int, int]] = field(default_factory=list)
    weeks: list[tuple[int, int]] = field(default_factory=list)


def details_of(engine: Engine, today: int) -> dict[str, Detail]:
    """For every dog; the tables of the question must be there. ``today`` as in the question."""
    found: dict[str, Detail] = {}
    begun: dict[str, list[int]] = {}
    due: dict[str, list[int]] = {}
    for key, day, tolerance, _ in engine.select(_SESSIONS):
        begun.setdefault(key, []).append(day)
        if tolerance is not None:
            found.setdefault(key, Detail()).tolerance.append((day, tolerance))
    for key, day, score in engine.select(_SCORES):
        found.setdefault(key, Detail()).scores.append((day, score))
    whose: dict[tuple[str, str], str] = {}
    for key, device, dog, for_page in engine.select(_NEWEST):
        whose[device, dog] = key
        found.setdefault(key, Detail()).spots = _spots(for_page)
    for device, dog, day in engine.select(_DUES.replace("{today}", str(int(today)))):
        if (device, dog) in whose:
            due.setdefault(whose[device, dog], []).append(day)
    for key, detail in found.items():
        detail.tolerance = detail.tolerance[-MOST_POINTS:]
        detail.scores = detail.scores[-MOST_POINTS:]
        detail.weeks = _weeks(due.get(key, []), begun.get(key, []), today)
    return found


def _spots(text: str) -> Sequence[Mapping[str, Any]]:
    """Spots that can be drawn: whatever a file from outside says."""
    found = []
    for spot in json.loads(text).get("spots") or ():
        if not isinstance(spot, Mapping) or not set(SPOT_FIELDS) <= spot.keys():
            continue
        number, of = spot["number"], spot["of"]
        if isinstance(number, int) and isinstance(of, int) and 1 <= number <= of <= 1000:
            found.append(spot)
    return found


def _weeks(due: Sequence[int], begun: Sequence[int], today: int) -> list[tuple[int, int]]:
    """Due and begun in each week from Monday (``toordinal() % 7`` is 1 on a Monday)."""
    every = [*due, *begun]
    if not every:
        return []

    def week(day: int) -> int:
        return (day - 1) // DAYS_A_WEEK

    last = week(today)
    first = max(week(min(every)), last - MOST_WEEKS + 1)
    return [
        (sum(week(day) == one for day in due), sum(week(day) == one for day in begun))
        for one in range(first, last + 1)
    ]
