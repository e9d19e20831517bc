"""Whether journals are as they were written. Reads only; repairs nothing.

``verify_json`` gives ``{"schema": 1, "journals": [...], "limits": [...]}``; a journal has path,
verdict, lines, damaged_line, findings (what is wrong), remarks (what is only told), signature
and public_key. Verdicts: ``whole`` (every
line follows on the one before, up to the closing record), ``not_closed`` (the same without a
closing record: cut off, still running, or shortened: the chain cannot tell which), ``damaged``,
``unreadable``. Signatures: ``none``, ``good``, ``bad``, ``other_key`` (good, but not made with the
key that was asked for).
"""

import textwrap
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from coach.journal import journal_lines
from coach.journal.closed_index import NAME as INDEX
from coach.journal.closed_index import Index, read_index
from coach.journal.disk import raw_lines
from coach.journal.journal import JournalUnreadable, journal_files, read_journal, scan_journal
from coach.journal.journal_lines import NotAJournal, Scan
from coach.journal.repair_check import repair_problem
from coach.journal.session_order import Opening, opening_of, order_findings
from coach.journal.signing import key_set, signature_holds
from coach.record.tally import TallyError, tally_of

Verdict = Literal["whole", "not_closed", "damaged", "unreadable"]
Signature = Literal["none", "good", "bad", "other_key"]

VERDICT_WORDS = {
    "whole": "whole: every line follows on the one before, to the closing record",
    "not_closed": "NOT CLOSED: cut off, still running, or shortened",
    "damaged": "DAMAGED",
    "unreadable": "NOT READ",
}
SIGNATURE_WORDS = {
    "none": "not signed",
    "good": "signed",
    "bad": "THE SIGNATURE DOES NOT HOLD",
    "other_key": "SIGNED WITH ANOTHER KEY THAN THE ONE ASKED FOR",
}
LIMITS = (
    "The chain holds no secret: it finds faults and careless changes, but whoever can write "
    "the file could also have written it anew. A signature answers that, if its public key "
    "reached you by another way.",
    "Neither shows that the clock was right, that a session of which no file is left was held "
    "(the last ones of a folder can be taken away unseen), or that the laser was on.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """What can be said of one journal. ``lines`` counts the trusted ones."""

    path: Path
    verdict: Verdict
    lines: int
    damaged_line: int | None
    findings: tuple[str, ...]
    remarks: tuple[str, ...]
    signature: Signature
    public_key: str | None
    last_sum: str = ""

    @property
    def good(self) -> bool:
        """Nothing is to be remarked."""
        return self.verdict == "whole" and not self.findings and self.signature in ("none", "good")


def verify(path: Path, *, key: str | None = None) -> Verification:
    """Check one journal; ``key`` is the public key (hex) that must have signed it.

    Here and below several keys may stand in it, parted by commas: a device that was replaced.
    """
    lines: list[Any] = []
    try:
        scan = scan_journal(path, lines)
    except JournalUnreadable as error:
        return Verification(
            path=path,
            verdict="unreadable",
            lines=0,
            damaged_line=error.line,
            findings=(f"found {error.found}; allowed: {error.allowed}",),
            remarks=(),
            signature="none",
            public_key=None,
        )
    findings = _findings(scan)
    damaged = scan.damage is not None or scan.unended
    repaired = ""
    if not damaged:
        try:
            tally = tally_of(lines)
            problems, repaired = tally.problems, tally.repaired
        except TallyError as error:
            problems = (str(error),)
        if repaired and (problem := repair_problem(path)):
            findings += (f"repaired, but it does not count: {problem}",)
        findings += problems
        # What is missing in a repaired journal also misses in its sums.
        damaged = bool(problems) and not repaired
    signature, public_key = _signature(scan, lines, key)
    if key is not None and signature == "none" and scan.closed:
        findings += ("it is not signed, but a key was asked for",)
    damaged_line = None if scan.damage is None else scan.damage.line
    return Verification(
        path=path,
        verdict="damaged" if damaged else "whole" if scan.closed else "not_closed",
        lines=scan.seq,
        damaged_line=damaged_line,
        findings=findings,
        remarks=tuple(
            f"line {torn.line}: {torn.size} bytes of a line that was cut are set aside"
            for torn in (*scan.set_aside, *([scan.torn] if scan.torn else []))
        )
        + ((f"repaired {repaired}",) if repaired else ()),
        signature=signature,
        public_key=public_key,
        last_sum=scan.sum,
    )


def verify_all(paths: Sequence[Path], *, key: str | None = None) -> list[Verification]:
    """Check journals, and where they are all of a folder, whether none is missing or too much."""
    results = [linked(verify(path, key=key)) for path in paths]
    for folder in dict.fromkeys(path.parent for path in paths):
        here = [result for result in results if result.path.parent == folder]
        if {path.name for path in journal_files(folder)} <= {one.path.name for one in here}:
            others = [result for result in results if result.path.parent != folder]
            results = others + verify_folder(folder, here, key=key)
    place = {path: number for number, path in enumerate(paths)}
    return sorted(results, key=lambda result: place.get(result.path, len(place)))


def verify_folder(
    folder: Path, results: Sequence[Verification], *, key: str | None, whole: bool = True
) -> list[Verification]:
    """Add what the journals of ``folder`` show together; ``results`` are theirs.

    Without ``whole`` the sessions before the first may be missing, as in a handover from some day
    on. What is wrong with the list of closed sessions comes as a result of its own.
    """
    found: dict[str, list[str]] = defaultdict(list)
    told: dict[str, list[str]] = defaultdict(list)
    openings: dict[str, Opening] = {}
    for result in results:
        if result.lines and not result.path.name.partition("-")[0].isdigit():
            found[result.path.name].append("it does not count: its name is not that of a log")
        elif result.lines:
            first = first_line(result.path)
            if first is not None:
                openings[result.path.name] = opening_of(result.path.name, first)
    for name, texts in order_findings(openings.values(), whole=whole).items():
        found[name] += texts
    index = read_index(folder, key=key)
    about = _about_index(index, openings, results, found, told, whole=whole)
    checked = [
        replace(
            result,
            findings=(*result.findings, *found[result.path.name]),
            remarks=(*result.remarks, *told[result.path.name]),
        )
        for result in results
    ]
    return [*checked, *([_index_result(folder, index, about)] if about else [])]


def _about_index(
    index: Index | None,
    openings: Mapping[str, Opening],
    results: Sequence[Verification],
    found: Mapping[str, list[str]],
    told: Mapping[str, list[str]],
    *,
    whole: bool,
) -> list[str]:
    """What is wrong with the list; what it says of a session is added to ``found``, ``told``."""
    logs = {
        result.path.name: (openings[result.path.name], result)
        for result in results
        if result.path.name in openings and not openings[result.path.name].repaired
    }
    closed = [name for name, (_one, result) in logs.items() if result.verdict == "whole"]
    newest = max(closed, key=lambda name: logs[name][0].number, default="")
    if index is None:
        begun = [name for name in closed if logs[name][0].stated is not None and name != newest]
        return [f"missing, though {begun[0]} must be in it"] if begun else []
    about = list(index.problems)
    if index.cut:
        told[newest].append("the list of closed sessions was cut while it was written")
    first = min((one.number for one, _ in logs.values()), default=0)
    names = {one.name for one in index.listed}
    for one in index.listed:
        if one.name not in logs:
            if whole or one.number >= first:
                about.append(f"session {one.number} is in it, but missing: {one.name}")
            continue
        opening, result = logs[one.name]
        if (opening.session, result.last_sum) != (one.session, one.closing_sum):
            found[one.name].append("it is not the session that was listed when it was closed")
    for name in closed:
        opening = logs[name][0]
        if name in names:
            continue
        if opening.number < index.begun:
            if opening.stated is not None:
                about.append(f"begun anew with session {index.begun}, after {name}")
        elif name == newest:
            told[name].append("it is not in the list of closed sessions yet")
        else:
            found[name].append("it is closed, but not in the list of closed sessions")
    return about


def _index_result(folder: Path, index: Index | None, about: Sequence[str]) -> Verification:
    return Verification(
        path=folder / INDEX,
        verdict="unreadable" if index is None else "damaged",
        lines=0 if index is None else len(index.listed),
        damaged_line=None,
        findings=tuple(f"the list of closed sessions: {text}" for text in about),
        remarks=(),
        signature="none",
        public_key=None,
    )


def first_line(path: Path) -> Mapping[str, Any] | None:
    """The first line of a journal if it can be trusted."""
    try:
        return next(iter(Scan(raw_lines(path))), None)
    except (OSError, NotAJournal):
        return None


def verify_json(results: Iterable[Verification]) -> dict[str, Any]:
    """Machine-readable; described above."""
    return {
        "schema": 1,
        "journals": [
            {
                "path": str(result.path),
                "verdict": result.verdict,
                "lines": result.lines,
                "damaged_line": result.damaged_line,
                "findings": list(result.findings),
                "remarks": list(result.remarks),
                "signature": result.signature,
                "public_key": result.public_key,
            }
            for result in results
        ],
        "limits": list(LIMITS),
    }


def verify_lines(results: Iterable[Verification], *, width: int = 76) -> list[str]:
    """For people, each journal with what was found, and what this cannot show."""
    lines: list[str] = []
    for result in results:
        lines.append(str(result.path))
        signed = SIGNATURE_WORDS[result.signature]
        if result.public_key:
            signed += f", public key {result.public_key}"
        verdict = f"{VERDICT_WORDS[result.verdict]} ({result.lines} lines); {signed}"
        for text in (verdict, *result.findings, *result.remarks):
            lines += textwrap.wrap(
                text, width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
            )
    for limit in LIMITS:
        lines += ["", *textwrap.wrap(limit, width)]
    return lines


def _findings(scan: Scan) -> tuple[str, ...]:
    found: list[str] = []
    if scan.damage is not None:
        found.append(str(scan.damage))
    if scan.unended:
        found.append("the last line lacks its line end")
    return tuple(found)


def _signature(scan: Scan, lines: list[Any], key: str | None) -> tuple[Signature, str | None]:
    if scan.closing is None:
        return "none", None
    previous, line = scan.closing
    signed = lines[-1]["data"].get("signed") if scan.closed else None
    if signed is None:
        return "none", None
    if not isinstance(signed, dict):
        return "bad", None
    public_key, signature = str(signed.get("public_key")), str(signed.get("signature"))
    message = previous.encode() + journal_lines.signed_part(line)
    if not signature_holds(public_key=public_key, signature=signature, message=message):
        return "bad", public_key
    if key is not None and public_key not in key_set(key):
        return "other_key", public_key
    return "good", public_key


def linked(result: Verification) -> Verification:
    """Add what the link of a journal to the one before it in its folder shows."""
    if result.lines == 0:
        return result
    after = read_journal(result.path).lines[0]["data"].get("after")
    if not isinstance(after, dict) or after.get("sum") is None:
        return result
    before = result.path.parent / Path(str(after.get("journal"))).name
    try:
        same = read_journal(before).last_sum == after["sum"]
    except JournalUnreadable:
        finding = f"the journal before it is missing or cannot be read: {before.name}"
    else:
        if same:
            return result
        finding = f"the journal before it has changed since: {before.name}"
    return replace(result, findings=(*result.findings, finding))
