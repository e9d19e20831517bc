"""What the journals of a dog come down to, kept beside them so that not all are read each time.

``dogs/NAME/summary/000128.json`` holds the sessions numbered 128 to 255 (:class:`Brief`) and their
sums (:class:`coach.record.course_tally.Sums`), each decoded only when it is asked for. It is
derived and never trusted over the journals:

* Whenever it is used, every journal's name, size and time of change must be those it was made
  from. A block of which any of them changed, or which cannot be read, or which another release
  made, is made anew from the journals; a journal that is new is read and added.
* The newest journal is only kept when it is closed: until then it may grow.
* ``check`` reads the journals themselves and compares. What it finds to differ is made anew.

Deleting the folder costs nothing but time.
"""

import hashlib
import json
import os
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from coach import __version__
from coach.journal.disk import DISK, Disk
from coach.journal.journal import (
    JournalUnreadable,
    journal_names,
    read_journal,
    refused_repairs,
)
from coach.journal.session_order import Opening, copies, opening_of
from coach.record.course_tally import Sums
from coach.record.session_row import Brief, brief_of
from coach.record.tally import TallyError, tally_of

FORMAT = 5
BLOCK = 128


class Unread(NamedTuple):
    """A journal that no session can be had from. ``why`` comes after its path."""

    name: str
    number: int
    why: str
    nothing_begun: bool


State = tuple[int, int]


class Lit(NamedTuple):
    """How many sessions of one plan file matter for the next start, and the last one's number."""

    dog: str
    plan_id: str
    plan_revision: int
    plan_digest: str
    sessions: int
    number: int


class Block:
    """The sessions of one block.

    ``files`` are the journals it was made from (size, mtime_ns), ``unread`` those of them that
    cannot be read, ``lit`` what a start needs to know of the others, ``dogs`` whose they are,
    with "" when one is damaged, ``origins`` by name which session it is and the number that it
    states (0: none).
    """

    __slots__ = ("_briefs", "_raw", "_sums", "dogs", "files", "lit", "origins", "unread")

    def __init__(self) -> None:
        self.files: dict[str, State] = {}
        self.unread: list[Unread] = []
        self.lit: list[Lit] = []
        self.dogs: list[str] = []
        self.origins: dict[str, tuple[str, int]] = {}
        self._briefs: list[Brief] = []
        self._sums: dict[str, Sums] = {}
        # What is not decoded until somebody asks for it: sessions, sums.
        self._raw: list[bytes | None] = [None, None]

    @classmethod
    def of_lines(cls, lines: Sequence[bytes]) -> "Block":
        """What :meth:`lines` gave. ValueError or TypeError for others."""
        files, unread, lit, dogs, origins, *raw = lines
        block = cls()
        block.files = {name: (size, at_ns) for name, (size, at_ns) in json.loads(files).items()}
        block.unread = [Unread._make(row) for row in json.loads(unread)]
        block.lit = [Lit._make(row) for row in json.loads(lit)]
        block.dogs = json.loads(dogs)
        block.origins = {name: (one, stated) for name, (one, stated) in json.loads(origins).items()}
        block._raw[:] = raw
        return block

    def lines(self) -> list[bytes]:
        """Everything, as lines of JSON."""
        sums = {dog: sums.rows() for dog, sums in sorted(self.sums.items())}
        parts = (
            self.files,
            self.unread,
            self.lit,
            self.dogs,
            self.origins,
            self.briefs,
            sums,
        )
        return [_json(part) for part in parts]

    def put(
        self,
        name: str,
        state: State,
        found: "Brief | Unread",
        sums: Sums,
        origin: tuple[str, int] | None,
    ) -> None:
        """Add a journal that was read."""
        self.files[name] = state
        if origin is not None:
            self.origins[name] = origin
        if isinstance(found, Unread):
            self.unread.append(found)
            return
        self.briefs.append(found)
        self.briefs.sort(key=lambda brief: brief.number)
        if found.dog in self.sums:
            self.sums[found.dog].add(sums)
        else:
            self.sums[found.dog] = sums
        damaged = {""} if found.damage else set()
        self.dogs = sorted({found.dog, *damaged, *self.dogs})
        counts = Counter(_plan(brief) for brief in self.briefs if brief.matters)
        last = {_plan(brief): brief.number for brief in self.briefs if brief.matters}
        self.lit = [Lit(*plan, count, last[plan]) for plan, count in counts.items()]

    @property
    def briefs(self) -> list[Brief]:
        """Its sessions by number."""
        raw, self._raw[0] = self._raw[0], None
        if raw is not None:
            self._briefs = [Brief._make(row) for row in json.loads(raw)]
        return self._briefs

    @property
    def sums(self) -> dict[str, Sums]:
        """The sums of the sessions that count, by dog."""
        raw, self._raw[1] = self._raw[1], None
        if raw is not None:
            self._sums = {dog: Sums.of_rows(rows) for dog, rows in json.loads(raw).items()}
        return self._sums


@dataclass(frozen=True, slots=True)
class Summary:
    """The journals of ``folder`` in blocks, in the order of their number."""

    folder: Path
    blocks: tuple[Block, ...]

    @property
    def briefs(self) -> list[Brief]:
        """Every session that could be read, of whatever dog, rehearsed or not."""
        return [brief for block in self.blocks for brief in block.briefs]

    @property
    def unread(self) -> list[Unread]:
        """Every journal that could not."""
        return [unread for block in self.blocks for unread in block.unread]

    def counted(self, dog: str) -> list[Brief]:
        """The sessions of ``dog`` that count."""
        return [brief for brief in self.briefs if brief.counts(dog)]

    def sums(self, dog: str) -> Sums:
        """The sums over the sessions of ``dog`` that count."""
        whole = Sums()
        for block in self.blocks:
            found = block.sums.get(dog)
            if found is not None:
                whole.add(found)
        return whole

    def remarks(self, dog: str) -> list[str]:
        """What people should know about the files, by the order of the sessions."""
        found = [(one.number, f"{self.folder / one.name}{one.why}") for one in self.unread]
        found += [
            (_number(name), f"{self.folder / name}: repaired, but it does not count: {why}")
            for name, why in refused_repairs(self.folder).items()
        ]
        odd = (block for block in self.blocks if block.dogs not in ([], [dog]))
        for brief in (brief for block in odd for brief in block.briefs):
            path = self.folder / brief.name
            if brief.dog != dog:
                told = f"{path}: a session of {brief.dog}, not of {dog}; not counted"
                found.append((brief.number, told))
            elif brief.damage:
                found.append((brief.number, f"{path}: damaged: {brief.damage}"))
        return [text for _, text in sorted(found)]


def summary_of(folder: Path, *, kept: Path | None = None, disk: Disk = DISK) -> Summary:
    """The summary of the journals in ``folder``.

    ``kept`` is the folder in which it is kept between times; None reads every journal. A
    summary that cannot be written is made once more the next time.
    """
    names = journal_names(folder)
    place = str(folder)
    grouped: dict[int, dict[str, State]] = {}
    for name in names:
        grouped.setdefault(_number(name) // BLOCK, {})[name] = _state(place, name)
    blocks: list[Block] = []
    for number, files in grouped.items():
        block = None if kept is None else _load(kept, number)
        if block is None or not block.files.items() <= files.items():
            block = Block()
        new = files.keys() - block.files.keys()
        if new:
            growing = _read(folder, block, {name: files[name] for name in new}, last=names[-1])
            if kept is not None:
                # Derived: a disk that is full or only to be read costs time, nothing else.
                with suppress(OSError):
                    _store(kept, number, block, disk)
            if growing is not None:
                block = Block.of_lines(block.lines())
                block.put(*growing)
        blocks.append(block)
    return Summary(folder, tuple(_without_copies(folder, blocks)))


def _without_copies(folder: Path, blocks: Sequence[Block]) -> list[Block]:
    """The blocks, without the sessions that lie there under another name as well."""
    stated = (one for block in blocks for one in block.origins.items())
    copied = copies(
        Opening(
            name=name,
            number=_number(name),
            stated=number or None,
            session=session,
            tells_before=False,
            after_name="",
            after_sum="",
            repaired=False,
        )
        for name, (session, number) in stated
    )
    if not copied:
        return list(blocks)
    kept: list[Block] = []
    for block in blocks:
        anew = block
        if copied.keys() & block.origins.keys():
            anew = Block()
            files = {name: at for name, at in block.files.items() if name not in copied}
            _read(folder, anew, files, last=None)
            for name in sorted(copied.keys() & block.origins.keys()):
                why = f": the same session as {copied[name]}: a copy; not counted"
                anew.unread.append(Unread(name, _number(name), why, nothing_begun=True))
        kept.append(anew)
    return kept


def check(folder: Path, kept: Path) -> list[str]:
    """Read the journals and name every block in ``kept`` that says something else of them.

    Such a block is removed and so made anew the next time. A block whose journals have changed
    since is not wrong, only old: it is made anew anyway.
    """
    wrong: list[str] = []
    for path in sorted(kept.glob("*.json")):
        block = _load(kept, int(path.stem) // BLOCK) if path.stem.isdigit() else None
        if block is None:
            continue
        if any(_state(str(folder), name) != state for name, state in block.files.items()):
            continue
        anew = Block()
        _read(folder, anew, block.files, last=None)
        if anew.lines()[1:] != block.lines()[1:]:
            wrong.append(f"{path}: says something else than the journals; it is made anew")
            path.unlink()
    return wrong


def _number(name: str) -> int:
    """What :func:`coach.journal.journal.number_of` says of the name of a journal."""
    return int(name[: name.index("-")])


def _state(folder: str, name: str) -> State:
    try:
        # Thousands of times at each start: without a path object for each.
        told = os.stat(f"{folder}/{name}")  # noqa: PTH116
    except OSError:
        # Gone since it was listed, or a broken link: told when it is read.
        return (-1, -1)
    return (told.st_size, told.st_mtime_ns)


def _read(
    folder: Path, block: Block, files: Mapping[str, State], *, last: str | None
) -> "_Growing | None":
    """Read journals into ``block``; returns the one called ``last`` apart if it may still grow."""
    growing: _Growing | None = None
    for name, state in sorted(files.items(), key=lambda item: _number(item[0])):
        path, number = folder / name, _number(name)
        found: Brief | Unread
        sums, origin = Sums(), None
        closed = False
        try:
            reading = read_journal(path)
            tally = tally_of(reading.lines)
        except JournalUnreadable as error:
            why = str(error).removeprefix(str(path))
            found = Unread(name, number, why, error.nothing_begun)
        except TallyError as error:
            found = Unread(name, number, f": {error}", nothing_begun=False)
        else:
            damage = "" if reading.damage is None else str(reading.damage)
            opening = opening_of(name, reading.lines[0])
            if not opening.repaired:
                origin = opening.session, opening.stated or 0
            found = brief_of(name, number, tally, reading.lines, damage=damage)
            closed = reading.closed and not reading.unended
            if found.counts(tally.dog):
                sums.put(tally)
        one = _Growing(name, state, found, sums, origin)
        if name == last and not closed:
            growing = one
        else:
            block.put(*one)
    return growing


class _Growing(NamedTuple):
    """One journal that was read."""

    name: str
    state: State
    found: Brief | Unread
    sums: Sums
    origin: tuple[str, int] | None


def _plan(brief: Brief) -> tuple[str, str, int, str]:
    return brief.dog, brief.plan_id, brief.plan_revision, brief.plan_digest


def _path(kept: Path, number: int) -> Path:
    return kept / f"{number * BLOCK:06d}.json"


def _json(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()


def _head(body: bytes) -> bytes:
    made = {"format": FORMAT, "program": __version__, "sum": hashlib.sha256(body).hexdigest()}
    return _json(made)


def _store(kept: Path, number: int, block: Block, disk: Disk) -> None:
    """Replace the file of a block as a whole. Raises OSError."""
    disk.make_folder(kept)
    body = b"\n".join(block.lines()) + b"\n"
    path = _path(kept, number)
    part = path.with_name(f".{path.name}.{os.getpid()}")
    with part.open("wb") as file:
        file.write(_head(body) + b"\n" + body)
        file.flush()
        disk.sync(file.fileno())
    part.replace(path)


def _load(kept: Path, number: int) -> Block | None:
    """The block as it was kept; None where it is not there, not whole, or of another release."""
    try:
        head, body = _path(kept, number).read_bytes().split(b"\n", 1)
        if head != _head(body):
            return None
        return Block.of_lines(body.split(b"\n")[:-1])
    except (OSError, ValueError, TypeError, AttributeError):
        # Whatever is wrong with it: it is made anew from the journals.
        return None
