"""The energy of each region in each session of a handover without names, for a registry. Pure.

From ``spots.csv`` (spots on which time was given) and, for spots that had none, from what
``summary.json`` lists as missed. Energy is mean power as stated x seconds.
"""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from coach.handover.outside import csv_rows, text_of

MISSING = ("session", "region", "prescribed_s", "counted_s", "mean_power_mw")


def doses_of(
    spots: bytes, summary: Mapping[str, Any], sessions: Sequence[str]
) -> Iterator[tuple[str, str, int, int]]:
    """Session, region, prescribed mJ, given mJ (after corrections), of the ``sessions`` that count.

    Raises outside.NotRead, ValueError.
    """
    rows = csv_rows(text_of(spots))
    heading = rows[0] if rows else []
    missing = [name for name in MISSING if name not in heading]
    if missing:
        raise ValueError(f"spots.csv lacks {', '.join(missing)}")
    places = {name: heading.index(name) for name in MISSING}
    counted = set(sessions)
    sums: dict[tuple[str, str], list[Decimal]] = {}
    power: dict[str, Decimal] = {}
    for row in rows[1:]:
        if len(row) < len(heading):
            continue
        cell = {name: row[place] for name, place in places.items()}
        session = cell["session"]
        if session not in counted:
            continue
        power[session] = _number(cell["mean_power_mw"])
        at = sums.setdefault((session, cell["region"]), [Decimal(), Decimal()])
        at[0] += _number(cell["prescribed_s"]) * power[session]
        at[1] += _number(cell["counted_s"]) * power[session]
    # A spot that had no time at all is in no row of the table.
    for spot in summary.get("missed") or []:
        session = str(spot["session"])
        if session in power and not spot["given_s"]:
            at = sums.setdefault((session, str(spot["region"])), [Decimal(), Decimal()])
            at[0] += _number(str(spot["prescribed_s"])) * power[session]
    for (session, region), (prescribed, given) in sums.items():
        yield session, region, int(prescribed), int(given)


def _number(text: str) -> Decimal:
    try:
        number = Decimal(text or "0")
    except InvalidOperation as error:
        raise ValueError(f"spots.csv: found {text[:40]!r}; allowed: a number") from error
    if not number.is_finite() or not 0 <= number <= 10**6:
        raise ValueError(f"spots.csv: found {text[:40]!r}; allowed: 0 to 1000000")
    return number
