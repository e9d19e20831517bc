"""Which journals of a folder are copies, and whether each names the one before it truly. Pure.

From 0.2.0 on the first line of a journal has a random ``session`` id and its ``number``; before
that the sum of the first line, which holds the clocks of that moment, tells one session from
another. The same session under two names counts once.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What the first line of a journal says of its place among the others.

    Attributes:
        name: of its file.
        number: by its name.
        stated: the number that it states itself; None before 0.2.0.
        session: tells one session from another.
        tells_before: whether it says which journal was before it, or that none was.
        after_name, after_sum: that journal and the sum of its last line then; "" for none.
        repaired: whether it was repaired from another file.
    """

    name: str
    number: int
    stated: int | None
    session: str
    tells_before: bool
    after_name: str
    after_sum: str
    repaired: bool


def opening_of(name: str, first: Mapping[str, Any]) -> Opening:
    """From the decoded first line of the journal called ``name``."""
    data = first["data"]
    after = data.get("after")
    told = after if isinstance(after, dict) else {}
    number = data.get("number")
    return Opening(
        name=name,
        number=int(name.partition("-")[0]),
        stated=number if type(number) is int else None,
        session=session_id(first),
        tells_before="after" in data,
        after_name=str(told.get("journal") or ""),
        after_sum=str(told.get("sum") or ""),
        repaired="repaired_from" in data,
    )


def session_id(first: Mapping[str, Any]) -> str:
    """What tells the session of a decoded first line from every other one."""
    session = first["data"].get("session")
    return session if isinstance(session, str) and session else str(first.get("sum", ""))


def copies(openings: Iterable[Opening]) -> dict[str, str]:
    """Of each journal that is a copy: the name of the one that counts instead."""
    found: dict[str, list[Opening]] = defaultdict(list)
    for one in openings:
        if not one.repaired:
            found[one.session].append(one)
    told: dict[str, str] = {}
    for same in found.values():
        first, *others = sorted(
            same, key=lambda one: (one.stated not in (None, one.number), one.number, one.name)
        )
        told |= {other.name: first.name for other in others}
    return told


def order_findings(openings: Iterable[Opening], *, whole: bool) -> dict[str, list[str]]:
    """By name, what is wrong with the order of journals; ``whole``: nothing before may be missing.

    Where they are one folder in the order of their numbers.
    """
    logs = [one for one in openings if not one.repaired]
    found: dict[str, list[str]] = defaultdict(list)
    for name, first in copies(logs).items():
        found[name].append(f"it is the same session as {first}: a copy, which does not count")
    followers: dict[str, list[str]] = defaultdict(list)
    numbers: dict[int, list[str]] = defaultdict(list)
    copied = copies(logs)
    for one in logs:
        if one.stated is not None and one.stated != one.number:
            found[one.name].append(f"it was written as number {one.stated}, not {one.number}")
        if one.name in copied:
            continue
        numbers[one.number].append(one.name)
        if one.after_name:
            followers[one.after_sum or one.after_name].append(one.name)
    for what, groups in (
        ("number", list(numbers.values())),
        ("predecessor", list(followers.values())),
    ):
        for names in groups:
            for name in names if len(names) > 1 else ():
                others = ", ".join(other for other in names if other != name)
                found[name].append(f"it has the same {what} as another session: {others}")
    before: Opening | None = None
    for one in sorted(logs, key=lambda log: (log.number, log.name)):
        if one.name in copied:
            continue
        found[one.name] += _place(one, before, whole=whole)
        before = one if before is None or one.number > before.number else before
    return {name: texts for name, texts in found.items() if texts}


def _place(one: Opening, before: Opening | None, *, whole: bool) -> list[str]:
    if not one.tells_before:
        return []
    if before is None:
        if one.after_name and whole:
            return [f"the sessions before it are missing: it names {one.after_name}"]
        return []
    if not one.after_name:
        return [f"it says that no session was before it, but {before.name} is"]
    number = one.after_name.partition("-")[0]
    if number.isdigit() and int(number) != before.number and one.number != before.number:
        return [f"the session before it is {before.name}, but it names {one.after_name}"]
    return []
