"""Where handovers lie in a folder, whether they have changed, and their bytes. Guarded reading.

A handover is a folder with ``summary.json``, a zip file, or one that is sealed to the practice.
Links are not followed and what is no ordinary file is not opened.
"""

import datetime
import os
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from coach.handover import outside
from coach.handover.folder import SPOTS, SUMMARY
from coach.practice.reading import FILES
from coach.practice.sealed import LARGEST_BYTES, SEALED, unsealed

# Deeper than a folder of the practice with a folder a dog nobody needs to look.
DEEPEST = 3
ZIP = ".zip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A handover: its ``name`` in the list, its path, and by what a change is seen."""

    name: str
    path: Path
    state: str
    came_ns: int

    @property
    def came(self) -> datetime.datetime:
        """When its file was written here."""
        return datetime.datetime.fromtimestamp(self.came_ns / 1e9, tz=datetime.UTC)


def places_in(folder: Path, remarks: list[str]) -> Iterator[Place]:
    """Every handover in ``folder`` and deeper; itself too. What cannot be entered is told.

    Raises OSError where ``folder`` itself cannot be read.
    """
    yield from _look(folder, "", 0, remarks)


def _look(folder: Path, name: str, depth: int, remarks: list[str]) -> Iterator[Place]:
    try:
        with os.scandir(folder) as entries:
            inner = sorted(entries, key=lambda entry: entry.name)
    except OSError as error:
        if depth == 0:
            raise
        remarks.append(f"{folder}: left out: {error.strerror}")
        return
    files = {entry.name: entry for entry in inner if entry.name in FILES}
    if SUMMARY in files:
        try:
            yield _place(folder, name or folder.name, files)
        except OSError as error:
            remarks.append(f"{folder}: left out: {error.strerror}")
        return
    if depth == DEEPEST:
        return
    for entry in inner:
        if entry.is_symlink() or entry.name.startswith("."):
            continue
        below = f"{name}/{entry.name}" if name else entry.name
        if entry.is_dir(follow_symlinks=False):
            yield from _look(folder / entry.name, below, depth + 1, remarks)
        elif _is_packed(entry.name) and entry.is_file(follow_symlinks=False):
            yield _place(folder / entry.name, below, {entry.name: entry})


def _place(path: Path, name: str, files: Mapping[str, "os.DirEntry[str]"]) -> Place:
    states, newest = [], 0
    for file in sorted(files):
        at = files[file].stat(follow_symlinks=False)
        states.append(f"{file[0]}{at.st_size}.{at.st_mtime_ns}.{at.st_ino}")
        newest = max(newest, at.st_mtime_ns)
    return Place(name=name, path=path, state=" ".join(states), came_ns=newest)


def spots_of(place: Place) -> bytes | None:
    """The table of spots, for a registry; None where there is none. Raises outside.NotRead."""
    if not _is_packed(place.path.name):
        return _files_in(place.path, (SPOTS,)).get(SPOTS)
    return _unpacked(place.path, (), (SPOTS,)).get(SPOTS)


def bytes_of(place: Place) -> dict[str, bytes]:
    """The files of a handover that the list reads, by name. Raises outside.NotRead."""
    if not _is_packed(place.path.name):
        return _files_in(place.path)
    rest = [file for file in FILES if file != SUMMARY]
    return _unpacked(place.path, (SUMMARY,), rest)


def _is_packed(name: str) -> bool:
    return name.lower().endswith((ZIP, SEALED))


def _unpacked(path: Path, only: Sequence[str], if_there: Sequence[str]) -> dict[str, bytes]:
    """Files out of a zip file, sealed or not; they lie in a private folder for a moment."""
    with tempfile.TemporaryDirectory(prefix="caseload-") as name:
        folder = Path(name) / "handover"
        folder.mkdir()
        packed = path
        if path.suffix.lower() == SEALED:
            packed = Path(name) / "opened.zip"
            packed.write_bytes(unsealed(outside.read_file(path, most=LARGEST_BYTES)))
        outside.unpack(packed, folder, only=only, if_there=if_there)
        return _files_in(folder, (*only, *if_there))


def _files_in(folder: Path, names: Sequence[str] = FILES) -> dict[str, bytes]:
    found = {}
    for file in names:
        try:
            found[file] = outside.read_file(folder / file)
        except FileNotFoundError:
            continue
        except outside.NotRead as error:
            raise outside.NotRead(f"{file}: {error}") from error
    return found
