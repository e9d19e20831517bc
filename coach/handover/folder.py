"""Writes a handover: copies what is there, works out the rest from the copies, and names it last.

Everything is written into a hidden folder beside the place where it will stand; every file is
synced; then the folder takes its name. What is there already is never touched: the new one gets
a number. Whoever finds the name finds the whole of it.
"""

import errno
import hashlib
import json
import os
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from coach.handover import outside
from coach.handover.anonymise import Names
from coach.handover.build_info import Made, Record
from coach.handover.dog_case import JOURNALS, PLAN, Case, read_case
from coach.handover.fhir import fhir_bundle
from coach.handover.handover_calendar import ics_of
from coach.handover.summary import summary_of
from coach.handover.tables import (
    SESSION_COLUMNS,
    SPOT_COLUMNS,
    csv_bytes,
    session_rows,
    spot_rows,
)
from coach.journal.diary import diary_files
from coach.journal.journal import JournalUnreadable, read_journal
from coach.journal.journal_lines import Signer

MANIFEST = "manifest.json"
REPORT = "report.pdf"
SUMMARY = "summary.json"
COURSE = "course.ics"
FHIR = "fhir.json"
SPOTS = "spots.csv"
SESSIONS = "sessions.csv"
README = "README.txt"
LONGEST_SLUG = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """What was written: a folder, or a zip file; ``case`` is what is in it."""

    path: Path
    case: Case
    files: tuple[str, ...]


def build(case: Case, made: Made, names: Names, record: Record) -> dict[str, bytes]:
    """The files that are worked out, by name."""
    summary = summary_of(case, made, names, record)
    # Loaded late: a page and its font take a second to get ready.
    from coach.handover.report import report_pdf

    ics = ics_of(case, made) if names.shown else None
    return {
        REPORT: report_pdf(summary),
        **({} if ics is None else {COURSE: ics}),
        **({FHIR: json_bytes(fhir_bundle(summary))} if made.fhir else {}),
        SPOTS: csv_bytes(SPOT_COLUMNS, spot_rows(case, names)),
        SESSIONS: csv_bytes(SESSION_COLUMNS, session_rows(case, names)),
        SUMMARY: json_bytes(summary),
        README: _readme(names).encode(),
    }


def json_bytes(value: object) -> bytes:
    """As it is written: UTF-8, two blanks a level, a line end."""
    return (json.dumps(value, indent=2, ensure_ascii=False) + "\n").encode()


def day_of(made: Made) -> date:
    """The day on which a handover is made."""
    return datetime.fromisoformat(made.at).date()


def write_handover(
    dog_folder: Path, to: Path, *, made: Made, signer: Signer, with_names: bool, zipped: bool
) -> Handover:
    """Write a handover of the dog in ``dog_folder`` as a new folder, or zip file, in ``to``.

    Raises OSError; then nothing new is left in ``to``.
    """
    to.mkdir(parents=True, exist_ok=True)
    names = Names(signer=None if with_names else signer)
    part = Path(tempfile.mkdtemp(prefix=".handover-", suffix=".part", dir=to))
    try:
        copy_raw(dog_folder, part, since=made.since)
        case = read_case(part, today=day_of(made))
        record = signed_record(part, signer)
        if not with_names:
            for path in raw_files(part):
                path.unlink()
            (part / JOURNALS).rmdir()
        for name, content in build(case, made, names, record).items():
            put(part / name, content)
        write_manifest(part, signer)
        title = _title(dog_folder, case, names, made)
        files = tuple(sorted(str(p.relative_to(part)) for p in part.rglob("*") if p.is_file()))
        if zipped:
            packed = _zip(part, files)
            path = _name_new(packed, to, title, ".zip")
        else:
            _sync_tree(part)
            path = _name_new(part, to, title, "")
        sync_folder(to)
        return Handover(path=path, case=case, files=files)
    finally:
        shutil.rmtree(part, ignore_errors=True)
        part.with_suffix(".zip").unlink(missing_ok=True)


def copy_raw(dog_folder: Path, part: Path, *, since: str | None) -> None:
    """Copy journals of the period, diary and plan, each read once, as they are at this moment.

    A journal whose clock cannot be trusted, or that cannot be read, is always taken along.
    """
    journals = part / JOURNALS
    journals.mkdir(mode=0o700)
    folder = dog_folder / JOURNALS
    for path in sorted(folder.glob("*.jsonl")) if folder.is_dir() else ():
        if since is None or _within(path, since):
            put(journals / path.name, _ordinary(path))
    for path in (*diary_files(dog_folder), dog_folder / PLAN):
        if path.is_file():
            put(part / path.name, _ordinary(path))


def _ordinary(path: Path) -> bytes:
    try:
        return outside.read_file(path)
    except outside.NotRead as error:
        raise OSError(errno.EINVAL, str(error), str(path)) from error


def raw_files(folder: Path) -> list[Path]:
    """What was copied: all journals, the diary, the plan."""
    journals = folder / JOURNALS
    found = sorted(journals.iterdir()) if journals.is_dir() else []
    plan = folder / PLAN
    return [*found, *diary_files(folder), *([plan] if plan.is_file() else [])]


def signed_record(folder: Path, signer: Signer | None) -> Record:
    """The digest over the raw files of ``folder``, signed if there is a key."""
    lines = sorted(
        f"{path.relative_to(folder).as_posix()} {sha256_of(path)}\n" for path in raw_files(folder)
    )
    digest = hashlib.sha256("".join(lines).encode()).hexdigest()
    if signer is None:
        return Record(sha256=digest)
    return Record(
        sha256=digest,
        public_key=signer.public_key,
        signature=signer.sign(record_message(digest)),
    )


def record_message(digest: str) -> bytes:
    """What is signed of a record; never the same bytes as a line of a journal."""
    return f"handover record {digest}".encode()


def write_manifest(folder: Path, signer: Signer) -> None:
    """List every file with size and SHA-256; sign the list."""
    files = {
        path.relative_to(folder).as_posix(): {
            "bytes": path.stat().st_size,
            "sha256": sha256_of(path),
        }
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
    manifest = {
        "handover": 1,
        "files": files,
        "public_key": signer.public_key,
        "signature": signer.sign(manifest_message(files)),
    }
    put(folder / MANIFEST, json_bytes(manifest))


def manifest_message(files: object) -> bytes:
    """What is signed of a manifest."""
    return b"handover files " + json.dumps(files, sort_keys=True, separators=(",", ":")).encode()


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, hex."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def put(path: Path, content: bytes) -> None:
    """A new file for the owner's eyes only, on the disk before this returns."""
    fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
    with os.fdopen(fd, "wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def sync_folder(folder: Path) -> None:
    """Wait until the names in ``folder`` are on the disk."""
    fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def _sync_tree(folder: Path) -> None:
    for path in folder.rglob("*"):
        if path.is_dir():
            sync_folder(path)
    sync_folder(folder)


def _within(path: Path, since: str) -> bool:
    try:
        first = read_journal(path).lines[0]
    except (JournalUnreadable, IndexError):
        return True
    return first["trust"] == "unknown" or str(first["wall"])[:10] >= since


def _title(dog_folder: Path, case: Case, names: Names, made: Made) -> str:
    """``juniper-2026-11-02-to-2026-11-25``: letters, digits and dashes, for any stick."""
    dog = dog_folder.name if names.shown else names.dog(case.dog)
    slug = re.sub(r"[^a-z0-9]+", "-", dog.lower()).strip("-")[:LONGEST_SLUG].strip("-") or "dog"
    days = sorted(session.day for session in case.counted if session.day)
    span = f"{days[0]}-to-{days[-1]}" if days else f"{day_of(made)}-no-session"
    return f"{slug}-{re.sub(r'[^0-9a-z-]', '', span)}"


def _zip(part: Path, files: Iterable[str]) -> Path:
    packed = part.with_suffix(".zip")
    fd = os.open(packed, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
    with os.fdopen(fd, "wb") as stream:
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for name in files:
                archive.write(part / name, name)
        stream.flush()
        os.fsync(stream.fileno())
    return packed


def _name_new(part: Path, to: Path, title: str, suffix: str) -> Path:
    """Give ``part`` its name, with a number where that is taken."""
    for number in range(1, 1000):
        path = to / (f"{title}{suffix}" if number == 1 else f"{title}-{number}{suffix}")
        try:
            # Takes the name, or fails: a rename alone would replace a file or an empty folder.
            if suffix:
                path.open("xb").close()
            else:
                path.mkdir(mode=0o700)
        except FileExistsError:
            continue
        part.replace(path)
        return path
    raise FileExistsError(17, "a thousand handovers of this name are there already", str(to))


def _readme(names: Names) -> str:
    lines = [
        "Handover of a dog-bed coach: at-home laser sessions, for the prescriber.",
        "",
        "report.pdf     one page to read",
        "spots.csv      one row a spot on which time was given",
        "sessions.csv   one row a session",
        "summary.json   every figure of the report",
        "fhir.json      the same for a practice system that reads FHIR R4, if it was asked for",
    ]
    if names.shown:
        lines += [
            "journals/      the logs as they were written, one file a session",
            "diary.jsonl    what the household said (all of it), when there is something",
            "plan.toml      the plan in use, when there is one",
            "course.ics     the days of the course, for a calendar (not with --since)",
        ]
    else:
        lines += ["", "Names, notes, logs, diary and plan were left out as was asked."]
    lines += [
        "manifest.json  every file with its SHA-256, signed by the device",
        "",
        "Check it: coach verify FOLDER  (--key KEY: did this very device sign it?)",
        "",
        "Seconds are coached, not measured. Nothing in here is advice; assessment and plan",
        "are the vet's.",
        "",
        "Columns, units by UCUM:",
    ]
    for name, columns in ((SPOTS, SPOT_COLUMNS), (SESSIONS, SESSION_COLUMNS)):
        lines += ["", name]
        for column in columns:
            unit = f" [{column.unit}]" if column.unit else ""
            lines.append(f"  {column.name}{unit}: {column.meaning}")
    return "\n".join(lines) + "\n"
