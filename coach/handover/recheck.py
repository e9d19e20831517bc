"""Whether a handover agrees with itself: every figure computed anew from its files. Reads only.

What is found wrong names the file, the line or field, what stands there and what was computed.
A handover without names holds no logs: there the tables are held against each other and against
the summary, and the signed list of files still shows any change.
"""

import csv
import io
import json
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from itertools import zip_longest
from pathlib import Path
from typing import Any

from coach.handover import outside
from coach.handover.anonymise import Names
from coach.handover.build_info import Made, Record
from coach.handover.dog_case import JOURNALS, read_case
from coach.handover.folder import (
    COURSE,
    MANIFEST,
    REPORT,
    SESSIONS,
    SPOTS,
    SUMMARY,
    build,
    day_of,
    json_bytes,
    manifest_message,
    raw_files,
    record_message,
    sha256_of,
    signed_record,
)
from coach.handover.log_doubts import told, verify_logs
from coach.handover.outside import NotRead
from coach.handover.summary import FORMAT
from coach.handover.summary_json import HeadJson, SummaryJson
from coach.journal.signing import key_set, signature_holds

MOST_FINDINGS = 50
LONGEST_TOLD = 300
MANIFEST_FORMAT = 1
MANIFEST_KEYS = frozenset({"handover", "files", "public_key", "signature"})
# Parts of a summary that older formats worked out by other rules.
CHANGED = frozenset({"handover", "course", "units"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Recheck:
    """What was found: ``findings`` are wrong, ``remarks`` are only told."""

    path: Path
    findings: tuple[str, ...]
    remarks: tuple[str, ...]
    public_key: str | None

    @property
    def good(self) -> bool:
        """Every figure agrees and nothing was changed."""
        return not self.findings


def is_handover(path: Path) -> bool:
    """Whether ``path`` is meant as a handover: a folder with a list or a summary, or a zip file."""
    if path.is_dir():
        return (path / MANIFEST).exists() or (path / SUMMARY).exists()
    return path.suffix.lower() == ".zip" and path.is_file()


def recheck(path: Path, *, key: str | None = None) -> Recheck:
    """Check the handover in a folder or zip file; ``key`` (hex) must have signed it."""
    try:
        with outside.opened(path) as folder:
            return replace(_recheck(folder, key), path=path)
    except OSError as error:
        text = error.strerror or str(error)
    except NotRead as error:
        text = str(error)
    except Exception as error:  # noqa: BLE001  (told as a finding: nothing a file holds may end this)
        text = f"it holds what no coach writes ({error!r})"[:LONGEST_TOLD]
    return Recheck(path=path, findings=(f"cannot be read: {text}",), remarks=(), public_key=None)


def recheck_lines(result: Recheck) -> list[str]:
    """For people."""
    signed = f"signed, public key {result.public_key}" if result.public_key else "not signed"
    verdict = "every figure agrees with the logs in it" if result.good else "DOES NOT AGREE"
    found = list(result.findings[:MOST_FINDINGS])
    if len(result.findings) > MOST_FINDINGS:
        found.append(f"and {len(result.findings) - MOST_FINDINGS} more")
    return [
        f"{result.path}: handover",
        f"  {verdict}; {signed}",
        *(f"  {text}" for text in (*found, *result.remarks)),
    ]


def recheck_json(results: Iterable[Recheck]) -> dict[str, Any]:
    """Machine-readable: ``{"handovers": [{path, good, findings, remarks, public_key}]}``."""
    return {
        "handovers": [
            {
                "path": str(result.path),
                "good": result.good,
                "findings": list(result.findings),
                "remarks": list(result.remarks),
                "public_key": result.public_key,
            }
            for result in results
        ]
    }


def _recheck(folder: Path, key: str | None) -> Recheck:
    findings, public_key = _manifest(folder, key)
    remarks: list[str] = []
    summary = _summary(folder)
    if isinstance(summary, str):
        findings.append(summary)
        return Recheck(path=folder, findings=tuple(findings), remarks=(), public_key=public_key)
    if summary["made"]["names"]:
        findings += _record(folder, summary, public_key)
        findings += _journals(folder, summary, _keys(key, public_key))
        found, also = _figures(folder, summary)
        findings += found
        remarks += also
    else:
        findings += _tables_only(folder, summary)
        remarks.append("made without names: no logs in it to compute from; tables were compared")
    return Recheck(
        path=folder, findings=tuple(findings), remarks=tuple(remarks), public_key=public_key
    )


def _manifest(folder: Path, key: str | None) -> tuple[list[str], str | None]:
    path = folder / MANIFEST
    try:
        content = outside.read_file(path)
        manifest = outside.json_of(content)
        files = {
            str(name): (int(f["bytes"]), str(f["sha256"])) for name, f in manifest["files"].items()
        }
        public_key, signature = str(manifest["public_key"]), str(manifest["signature"])
    except FileNotFoundError:
        return [f"{MANIFEST}: missing"], None
    except NotRead as error:
        return [f"{MANIFEST}: {error}"], None
    except (ValueError, KeyError, TypeError, AttributeError):
        return [f"{MANIFEST}: found something else; allowed: the list of a handover's files"], None
    found: list[str] = []
    if manifest.get("handover") != MANIFEST_FORMAT or manifest.keys() != MANIFEST_KEYS:
        found.append(f"{MANIFEST}: found other fields; allowed: {', '.join(sorted(MANIFEST_KEYS))}")
    if content != json_bytes(manifest):
        found.append(f"{MANIFEST}: the same list, but written in another form")
    message = manifest_message(manifest["files"])
    if not signature_holds(public_key=public_key, signature=signature, message=message):
        found.append(f"{MANIFEST}: THE SIGNATURE DOES NOT HOLD")
    elif key is not None and public_key not in key_set(key):
        found.append(f"{MANIFEST}: SIGNED WITH ANOTHER KEY THAN THE ONE ASKED FOR ({public_key})")
    here = {
        file.relative_to(folder).as_posix(): file
        for file in sorted(folder.rglob("*"))
        if file.is_file() and file.name != MANIFEST
    }
    found += [f"{name}: in the list, but missing" for name in files if name not in here]
    for name, file in here.items():
        if name not in files:
            found.append(f"{name}: not in the list")
        elif files[name] != (file.stat().st_size, sha256_of(file)):
            found.append(f"{name}: changed since the list was made")
    return found, public_key


def _summary(folder: Path) -> HeadJson | str:
    # Loaded only here: the types are checked by the library that made the schema from them.
    from pydantic import TypeAdapter, ValidationError

    path = folder / SUMMARY
    try:
        content = outside.read_file(path)
        outside.json_of(content)
        head = TypeAdapter(HeadJson).validate_json(content)
        if not 1 <= head["handover"] <= FORMAT:
            return (
                f"{SUMMARY}: handover: found {head['handover']}; allowed: 1 to {FORMAT}; "
                "a newer program may read it"
            )
        if head["handover"] == FORMAT:
            TypeAdapter(SummaryJson).validate_json(content)
        return head
    except NotRead as error:
        return f"{SUMMARY}: {error}"
    except FileNotFoundError:
        return f"{SUMMARY}: missing: without it nothing can be computed anew"
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(map(str, first["loc"]))
        return f"{SUMMARY}: {where}: found {str(first['input'])[:60]!r}: {first['msg']}"


def _record(folder: Path, summary: HeadJson, public_key: str | None) -> list[str]:
    stated = summary["record"]
    found = []
    if signed_record(folder, None).sha256 != stated["sha256"]:
        found.append(f"{SUMMARY}: record.sha256: the logs, the diary or the plan were changed")
    if not signature_holds(
        public_key=stated["public_key"] or "",
        signature=stated["signature"] or "",
        message=record_message(stated["sha256"]),
    ):
        found.append(f"{SUMMARY}: record.signature: THE SIGNATURE DOES NOT HOLD")
    elif public_key is not None and stated["public_key"] != public_key:
        found.append(f"{SUMMARY}: record.public_key: another key than that of {MANIFEST}")
    return found


def _keys(asked: str | None, signer: str | None) -> str | None:
    """Who may have signed the logs: the signer of the handover, and who was asked for beside it."""
    return ",".join(filter(None, (asked, signer))) or None


def _journals(folder: Path, summary: HeadJson, key: str | None) -> list[str]:
    """Every log by itself, by the key of the handover, and all of them from the first."""
    since = summary["made"]["since"] is not None
    results = verify_logs(folder / JOURNALS, key=key, whole=not since)
    return [f"{JOURNALS}/{result.path.name}: {text}" for result in results for text in told(result)]


def _figures(folder: Path, summary: HeadJson) -> tuple[list[str], list[str]]:
    made = Made(
        at=summary["made"]["at"],
        program=summary["made"]["program"],
        since=summary["made"]["since"],
        paper=summary["made"]["paper"],
        fhir=summary["made"]["fhir"],
    )
    try:
        case = read_case(folder, today=day_of(made))
    except ValueError:
        return [f"{SUMMARY}: made.at: found {made.at!r}; allowed: a moment (RFC 3339)"], []
    record = Record(**summary["record"])
    found: list[str] = []
    told: list[str] = []
    older = summary["handover"] < FORMAT
    for name, computed in build(case, made, Names(), record).items():
        try:
            there = (folder / name).read_bytes()
        except FileNotFoundError:
            found.append(f"{name}: missing")
            continue
        if there == computed:
            continue
        if older and name not in (SUMMARY, SPOTS, SESSIONS):
            told.append(f"{name}: not compared: made in an older format; its signature was checked")
        elif older and name == SUMMARY:
            found += _json_differences(name, there, computed, changed=CHANGED)
        elif name.endswith(".csv"):
            found += _csv_differences(name, there, computed)
        elif name.endswith(".json"):
            found += _json_differences(name, there, computed)
        elif name == COURSE:
            found += _ics_differences(there, computed)
        elif name == REPORT and made.program != _program():
            told.append(f"{REPORT}: not compared: made by version {made.program}")
        elif name == REPORT:
            found.append(f"{REPORT}: differs from the report that the files here give")
        else:
            found += _line_differences(name, there, computed)
    if not raw_files(folder):
        told.append("there are no logs in it")
    return found, told


def _program() -> str:
    from coach import __version__

    return __version__


def _csv_differences(name: str, there: bytes, computed: bytes) -> list[str]:
    found_rows, right_rows = _rows(there), _rows(computed)
    heading = right_rows[0]
    if found_rows and set(found_rows[0]) < set(heading):
        # An older table has fewer columns: those that it has are compared.
        heading = found_rows[0]
        at = [right_rows[0].index(column) for column in heading]
        right_rows = [[row[place] for place in at] for row in right_rows]
        if found_rows == right_rows:
            return []
    found = []
    for number in range(max(len(found_rows), len(right_rows))):
        is_row = found_rows[number] if number < len(found_rows) else None
        right = right_rows[number] if number < len(right_rows) else None
        place = f"{name}:{number + 1}"
        if is_row is None or right is None:
            found.append(f"{place}: {'missing' if is_row is None else 'no such row by the logs'}")
        elif len(is_row) != len(right):
            found.append(f"{place}: found {len(is_row)} cells; computed {len(right)}")
        else:
            found += [
                f"{place}: {column}: found {was!r}; computed {now!r}"
                for column, was, now in zip(heading, is_row, right, strict=True)
                if was != now
            ]
    return found or [f"{name}: the same figures, but written in another form"]


def _rows(content: bytes) -> list[list[str]]:
    return outside.csv_rows(content.decode("utf-8", "replace"))


def _json_differences(
    name: str, there: bytes, computed: bytes, *, changed: Collection[str] = ()
) -> list[str]:
    """With ``changed`` an older format is compared in what it has, but for those parts of it."""
    was, now = json.loads(there), json.loads(computed)
    if changed:
        was = {key: value for key, value in was.items() if key not in changed}
        return [f"{name}: {text}" for text in _walk("", was, _as_in(was, now))]
    found = list(_walk("", was, now))
    return [f"{name}: {text}" for text in found] or [
        f"{name}: the same figures, but written in another form"
    ]


def _as_in(was: Any, now: Any) -> Any:
    """``now`` without the keys that ``was`` has not."""
    if isinstance(was, dict) and isinstance(now, dict):
        return {key: _as_in(was[key], value) for key, value in now.items() if key in was}
    if isinstance(was, list) and isinstance(now, list) and len(was) == len(now):
        return [_as_in(a, b) for a, b in zip(was, now, strict=True)]
    return now


def _walk(place: str, was: Any, now: Any) -> Iterator[str]:
    if isinstance(was, dict) and isinstance(now, dict):
        for key in {**now, **was}:
            there = f"{place}.{key}".removeprefix(".")
            if key not in was or key not in now:
                yield f"{there}: {'missing' if key not in was else 'not by the logs'}"
            else:
                yield from _walk(there, was[key], now[key])
    elif isinstance(was, list) and isinstance(now, list) and len(was) == len(now):
        for number, (a, b) in enumerate(zip(was, now, strict=True), start=1):
            yield from _walk(f"{place}[{number}]", a, b)
    elif isinstance(was, list) and isinstance(now, list):
        yield f"{place}: found {len(was)} entries; computed {len(now)}"
    elif was != now or type(was) is not type(now):
        yield f"{place}: found {was!r}; computed {now!r}"


def _ics_differences(there: bytes, computed: bytes) -> list[str]:
    """Hold days and states against each other; the words may be in another language."""
    return [
        f"{COURSE}: event {number}: found {' '.join(was)}; computed {' '.join(now)}"
        for number, (was, now) in enumerate(
            zip_longest(_events(there), _events(computed), fillvalue=("nothing",)), start=1
        )
        if was != now
    ]


def _events(content: bytes) -> list[tuple[str, ...]]:
    text = content.decode("utf-8", "replace").replace("\r\n ", "")
    kept = ("UID", "DTSTART", "DTEND", "STATUS", "SEQUENCE")
    return [
        tuple(sorted(line for line in event.splitlines() if line.startswith(kept)))
        for event in text.split("BEGIN:VEVENT")[1:]
    ]


def _line_differences(name: str, there: bytes, computed: bytes) -> list[str]:
    for number, (was, now) in enumerate(
        zip(there.splitlines(), computed.splitlines(), strict=False), start=1
    ):
        if was != now:
            return [f"{name}:{number}: differs from what the files here give"]
    return [f"{name}: longer or shorter than what the files here give"]


def _tables_only(folder: Path, summary: HeadJson) -> list[str]:
    """Hold the sums of spots.csv against sessions.csv, and those against the summary."""
    found: list[str] = []
    try:
        spots = list(csv.DictReader(io.StringIO(outside.read_text(folder / SPOTS))))
        rows = list(csv.DictReader(io.StringIO(outside.read_text(folder / SESSIONS))))
        for number, row in enumerate(rows, start=2):
            if row["given_s"] and row["state"] != "not_begun" and row["counts"] == "yes":
                given = [spot for spot in spots if spot["session"] == row["session"]]
                for name in ("given_s", "counted_s"):
                    total = _sum(given, name)
                    if total != Decimal(row[name]):
                        found.append(
                            f"{SESSIONS}:{number}: {name}: found {row[name]}; {SPOTS} gives {total}"
                        )
        counted = [row for row in rows if row["counts"] == "yes"]
        for name in ("prescribed_s", "given_s", "counted_s", "given_j", "counted_j"):
            stated = Decimal(str(summary["totals"][name]))
            total = _sum(counted, name)
            # Each row is rounded to three places by itself.
            if abs(total - stated) > Decimal("0.001") * max(1, len(counted)):
                found.append(f"{SUMMARY}: totals.{name}: found {stated}; {SESSIONS} gives {total}")
    except (OSError, NotRead, KeyError, InvalidOperation, csv.Error) as error:
        found.append(f"{SPOTS}, {SESSIONS}: cannot be compared: {error!r}")
    return found


def _sum(rows: list[dict[str, str]], name: str) -> Decimal:
    return sum((Decimal(row[name]) for row in rows if row[name]), Decimal(0))
