"""What comes in: an inbox folder (mail attachments, a synced folder) is looked through.

Each new handover is verified and filed by dog into the practice's folder; whatever is wrong with it
is told, and it stays where it came. Nothing in the inbox is moved, changed or removed: what has
been dealt with is known by its SHA-256 in ``inbox.jsonl`` beside the handovers.
"""

import datetime
import email
import email.policy
import hashlib
import json
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath

from coach import paths
from coach.handover import outside
from coach.handover.folder import MANIFEST, SUMMARY, sync_folder
from coach.handover.recheck import recheck
from coach.practice.call_text import shown
from coach.practice.sealed import SEALED, unsealed

TAKEN = "inbox.jsonl"
MAIL = ".eml"
ZIP = ".zip"
LETTERS_OF_KEY = 8
MOST_MAIL_BYTES = 128 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A handover that came: ``filed`` is where it lies now, None where it is not filed."""

    source: str
    dog: str
    filed: Path | None
    told: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Piece:
    """A file or folder in the inbox, or an attachment of a mail in it (``content``)."""

    source: str
    path: Path
    content: bytes | None = None


class Inbox:
    """Looks through ``inbox`` for handovers and files them in ``folder``."""

    def __init__(self, inbox: Path, folder: Path) -> None:
        self.inbox = inbox
        self.folder = folder
        self._known = _taken(folder)
        self._before: dict[str, tuple[int, int]] = {}

    def look(self, now: datetime.datetime, *, settled: bool = False) -> list[Arrival]:
        """File what is new. Raises OSError where the inbox or the folder is not to be had.

        A file that has changed since the last look is left for the next one: it may still be on
        its way. ``settled``: nothing is being written there.
        """
        found: list[Arrival] = []
        for path in sorted(self.inbox.iterdir()):
            if path.name.startswith(".") or path.is_symlink() or not _is_meant(path):
                continue
            size = _size(path)
            if not settled and self._before.get(path.name) != size:
                self._before[path.name] = size
                continue
            for piece in self._pieces(path, found):
                arrival = self._take(piece, now)
                if arrival is not None:
                    found.append(arrival)
        return found

    def _pieces(self, path: Path, found: list[Arrival]) -> Iterator[_Piece]:
        if path.suffix.lower() != MAIL:
            yield _Piece(path.name, path)
            return
        try:
            mail = email.message_from_bytes(
                outside.read_file(path, most=MOST_MAIL_BYTES), policy=email.policy.default
            )
            for part in mail.walk():
                name = PurePath(part.get_filename() or "").name
                if name.lower().endswith((ZIP, SEALED)):
                    content = part.get_payload(decode=True)
                    if isinstance(content, bytes):
                        yield _Piece(f"{path.name}: {name}", Path(name), content)
        except (outside.NotRead, LookupError, ValueError) as error:
            digest = f"mail {path.name} {_size(path)}"
            if digest not in self._known:
                self._known.add(digest)
                told = (f"the mail cannot be read: {error}",)
                found.append(Arrival(source=path.name, dog="", filed=None, told=told))

    def _take(self, piece: _Piece, now: datetime.datetime) -> Arrival | None:
        """Verify and file one; None where that was done before."""
        try:
            digest = _digest(piece)
        except (outside.NotRead, FileNotFoundError) as error:
            digest = f"unreadable {piece.source} {error}"
            if digest in self._known:
                return None
            self._known.add(digest)
            return Arrival(source=piece.source, dog="", filed=None, told=(str(error),))
        if digest in self._known:
            return None
        self._known.add(digest)
        with tempfile.TemporaryDirectory(prefix="inbox-") as name:
            arrival = self._checked(piece, Path(name), digest)
        line = {
            "sha256": digest,
            "source": piece.source,
            "at": now.isoformat(timespec="seconds"),
            "filed": None
            if arrival.filed is None
            else arrival.filed.relative_to(self.folder).as_posix(),
            "told": list(arrival.told),
        }
        _append(self.folder / TAKEN, line)
        return arrival

    def _checked(self, piece: _Piece, private: Path, digest: str) -> Arrival:
        try:
            place = _opened(piece, private)
            result = recheck(place)
            with outside.opened(place) as inside:
                summary = outside.read_json(inside / SUMMARY)
            dog, key = str(summary["dog"]["name"]), str(summary["record"]["public_key"] or "")
        except (outside.NotRead, FileNotFoundError, KeyError, TypeError) as error:
            told = (f"is no handover that can be read: {error}",)
            return Arrival(source=piece.source, dog="", filed=None, told=told)
        if not result.good:
            return Arrival(source=piece.source, dog=dog, filed=None, told=result.findings)
        home = paths.dog_folder(dog).name or "dog"
        to = self.folder / f"{home}-{key[:LETTERS_OF_KEY]}"
        filed = _filed(piece, to, digest)
        return Arrival(source=piece.source, dog=dog, filed=filed, told=result.remarks)


def _is_meant(path: Path) -> bool:
    if path.is_dir():
        return (path / MANIFEST).exists() or (path / SUMMARY).exists()
    return path.suffix.lower() in (ZIP, SEALED, MAIL)


def _size(path: Path) -> tuple[int, int]:
    """By what a file that is still being written is known."""
    every = [path, *path.rglob("*")] if path.is_dir() else [path]
    told = [one.lstat() for one in every]
    return sum(one.st_size for one in told), max(one.st_mtime_ns for one in told)


def _digest(piece: _Piece) -> str:
    if piece.content is not None:
        return hashlib.sha256(piece.content).hexdigest()
    if piece.path.is_dir():
        files: Mapping[str, str] = {
            one.relative_to(piece.path).as_posix(): hashlib.sha256(
                outside.read_file(one)
            ).hexdigest()
            for one in sorted(piece.path.rglob("*"))
            if not one.is_dir()
        }
        return hashlib.sha256(json.dumps(files, sort_keys=True).encode()).hexdigest()
    return hashlib.sha256(outside.read_file(piece.path, most=MOST_MAIL_BYTES)).hexdigest()


def _opened(piece: _Piece, private: Path) -> Path:
    """The handover as a folder or zip file that can be checked."""
    if piece.content is None and piece.path.suffix.lower() != SEALED:
        return piece.path
    content = piece.content
    if content is None:
        content = outside.read_file(piece.path, most=MOST_MAIL_BYTES)
    if piece.path.suffix.lower() == SEALED:
        content = unsealed(content)
    place = private / "handover.zip"
    place.write_bytes(content)
    return place


def _filed(piece: _Piece, to: Path, digest: str) -> Path:
    """Copy it, whole or not at all, under its own name; a number where that is taken."""
    to.mkdir(mode=0o700, parents=True, exist_ok=True)
    target = to / piece.path.name
    if target.exists():
        target = to / f"{piece.path.stem}-{digest[:8]}{piece.path.suffix}"
    part = to / f".{target.name}.part"
    shutil.rmtree(part, ignore_errors=True)
    if piece.content is not None:
        part.write_bytes(piece.content)
    elif piece.path.is_dir():
        shutil.copytree(piece.path, part, symlinks=True)
    else:
        shutil.copyfile(piece.path, part)
    part.replace(target)
    sync_folder(to)
    return target


def _taken(folder: Path) -> set[str]:
    try:
        raw = outside.read_file(folder / TAKEN, most=MOST_MAIL_BYTES)
    except FileNotFoundError:
        return set()
    found = set()
    for line in raw.splitlines():
        try:
            found.add(str(outside.json_of(line)["sha256"]))
        except (outside.NotRead, KeyError, TypeError):
            # A line cut in half: that handover is only looked at once more.
            continue
    return found


def _append(path: Path, line: Mapping[str, object]) -> None:
    from coach.practice.calls import append_line

    append_line(path, json.dumps(line, ensure_ascii=False).encode())


def arrival_line(arrival: Arrival) -> str:
    """For people."""
    if arrival.filed is None:
        why = "; ".join(arrival.told[:3])
        dog = f" ({arrival.dog})" if arrival.dog else ""
        return shown(f"{arrival.source}{dog}: NOT FILED: {why}")
    told = f" ({'; '.join(arrival.told)})" if arrival.told else ""
    return shown(f"{arrival.source}: {arrival.dog}, every figure agrees: {arrival.filed}{told}")
