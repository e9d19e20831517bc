"""What a repair keeps of a damaged journal, and whether a repaired one is no more than that.

A repaired journal is chained anew and not signed, so that anybody could have written it. It counts
only while the damaged one lies beside it and each of its lines is one that the repair keeps.
"""

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from coach.journal import journal_lines
from coach.journal.disk import raw_lines
from coach.journal.journal_lines import Scan, Stamp

# What closes a session that was cut off; it gives no seconds.
_MAY_FOLLOW = (journal_lines.CUT_OFF, journal_lines.CLOSED)
_REPAIRED = re.compile(r"-repaired-\d+$")


def kept_lines(path: Path) -> tuple[list[tuple[int, dict[str, Any]]], int, str]:
    """The lines to keep with their numbers, how many lines there are, the SHA-256 of the file.

    Raises OSError.
    """
    kept: list[tuple[int, dict[str, Any]]] = []
    digest = hashlib.sha256()
    before: bytes | None = journal_lines.GENESIS.encode()
    good: bytes | None = before
    number = 0
    others = False
    for raw in raw_lines(path):
        number += 1
        digest.update(raw)
        line = raw.removesuffix(b"\n")
        # A line follows on the one before it in the file, or on the last one that held (a line
        # written after a torn one does).
        if any(total is not None and journal_lines.holds(line, total) for total in (before, good)):
            fields = _decoded(line)
            if fields is not None:
                if kept and fields["seq"] <= kept[-1][1]["seq"]:
                    # From here on it is another session, or this one once more.
                    others = True
                if not others:
                    kept.append((number, fields))
            good = journal_lines.stated_sum(line)
        before = journal_lines.stated_sum(line)
    return kept, number, digest.hexdigest()


def stamp_of(fields: Mapping[str, Any]) -> Stamp:
    """The clocks of a decoded line. Raises KeyError."""
    return Stamp(
        mono_ns=fields["mono_ns"],
        boot_id=fields["boot"],
        wall=fields["wall"],
        trust=fields["trust"],
    )


def without_signature(data: Mapping[str, Any]) -> dict[str, Any]:
    """The data of a line as a repaired journal has it."""
    kept = {key: value for key, value in data.items() if key != "signed"}
    if "torn" in kept:
        # The bytes that a torn line left behind stay in the old file.
        kept["torn"] = None
    return kept


def plain_stem(path: Path) -> str:
    """The name of a journal without what a repair adds."""
    return _REPAIRED.sub("", path.stem)


def repair_problem(path: Path) -> str:
    """Why the repaired journal ``path`` does not count; "" if it does."""
    try:
        lines = list(Scan(raw_lines(path)))
        told = lines[0]["data"]["repaired_from"]
        source = path.with_name(Path(str(told["journal"])).name)
        stated = str(told["sha256"])
    except (OSError, ValueError, LookupError, TypeError):
        return "its first line does not say from which log it was repaired"
    if source == path or plain_stem(source) != plain_stem(path):
        return f"it says that it was repaired from another session: {source.name}"
    try:
        kept, _count, digest = kept_lines(source)
    except OSError:
        return f"the log from which it was repaired is not beside it: {source.name}"
    if digest != stated:
        return f"the log from which it was repaired has changed since: {source.name}"
    rest = [_same(fields) for _number, fields in kept]
    for line in lines:
        if rest and _same(line) == rest[0]:
            rest.pop(0)
        elif line["kind"] not in _MAY_FOLLOW:
            return f"line {line['seq']}: it is not in the log from which it was repaired"
    return ""


def _same(fields: Mapping[str, Any]) -> tuple[object, ...]:
    data = without_signature(fields["data"])
    data.pop("repaired_from", None)
    return fields["kind"], data, stamp_of(fields)


def _decoded(line: bytes) -> dict[str, Any] | None:
    try:
        fields = journal_lines.decode(line)
        usable = isinstance(fields["seq"], int) and isinstance(fields["data"], dict)
        stamp_of(fields)
    except (ValueError, TypeError, KeyError):
        return None
    return fields if usable and isinstance(fields.get("kind"), str) else None
