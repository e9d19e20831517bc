"""What the files of the record refuse, and what they name then: file, line, what was found."""

import errno
import hashlib
import os
from pathlib import Path

import pytest

from coach.journal import journal
from coach.journal.disk import held_by
from coach.journal.journal import (
    Journal,
    JournalError,
    JournalUnreadable,
    journal_files,
    journal_names,
    number_of,
    read_journal,
    scan_journal,
)
from coach.journal.repair import repair
from coach.record import summary_cache
from tests.homes import write_home
from tests.record.conftest import MakeJournal
from tests.worlds import Clock, QuickDisk, header_for, spots_for

HEADER = header_for(spots_for([10]))
STAMP = Clock().stamp


class FailingDisk(QuickDisk):
    """Fails at the calls in ``fails``, as a disk that is only to be read."""

    def __init__(self, *fails: str) -> None:
        self.fails = fails

    def _try(self, call: str) -> None:
        if call in self.fails:
            raise OSError(errno.EROFS, "only to be read")

    def create(self, path: Path) -> int:
        self._try("create")
        return super().create(path)

    def reopen(self, path: Path) -> int:
        self._try("reopen")
        return super().reopen(path)

    def write(self, fd: int, data: bytes) -> int:
        self._try("write")
        return 0 if "write nothing" in self.fails else super().write(fd, data)

    def sync(self, fd: int) -> None:
        self._try("sync")

    def sync_folder(self, folder: Path) -> None:
        self._try("sync_folder")

    def lock(self, folder: Path, since: str) -> int:
        self._try("lock")
        return super().lock(folder, since)


def names(error: JournalError, path: Path, number: int) -> bool:
    """Whether ``error`` names the file and what the operating system said."""
    return error.path == path and error.errno == number and str(error).startswith(f"{path}: ")


# Journals that cannot be opened or written


@pytest.mark.parametrize("call", ["create", "write", "sync", "sync_folder", "lock"])
def test_a_session_that_cannot_be_opened_names_its_place_and_leaves_nothing(
    folder: Path, call: str
) -> None:
    folder.mkdir()
    with pytest.raises(JournalError) as failed:
        Journal.create(folder, header=HEADER, stamp=STAMP, disk=FailingDisk(call))
    place = folder if call == "lock" else folder / "000001-20250101T190000-demo-r1.jsonl"
    assert names(failed.value, place, errno.EROFS)
    assert "only to be read" in str(failed.value)
    assert journal_files(folder) == []
    assert held_by(folder) is None


@pytest.mark.parametrize("call", ["reopen", "write", "sync", "lock"])
def test_a_session_that_cannot_be_gone_on_with_names_its_file_and_frees_the_folder(
    make_journal: MakeJournal, call: str
) -> None:
    path = make_journal(closed=False)
    with pytest.raises(JournalError) as failed:
        Journal.reopen(path, kind="session_resumed", data={}, stamp=STAMP, disk=FailingDisk(call))
    assert names(failed.value, path.parent if call == "lock" else path, errno.EROFS)
    assert held_by(path.parent) is None


def test_only_two_kinds_of_lines_go_on_with_a_session(make_journal: MakeJournal) -> None:
    path = make_journal(closed=False)
    before = path.read_bytes()
    with pytest.raises(ValueError, match="'notice': allowed are session_cut_off, session_resumed"):
        Journal.reopen(path, kind="notice", data={}, stamp=STAMP, disk=QuickDisk())
    assert path.read_bytes() == before


def test_a_disk_that_takes_no_byte_has_failed(folder: Path) -> None:
    faulty = FailingDisk()
    opened = Journal.create(folder, header=HEADER, stamp=STAMP, disk=faulty)
    faulty.fails = ("write nothing",)
    with pytest.raises(JournalError, match="nothing was written") as failed:
        opened.append("notice", {"what": "x"})
    assert names(failed.value, opened.path, errno.EIO)
    faulty.fails = ()
    with pytest.raises(JournalError, match="nothing was written") as failed:
        opened.append("notice", {})
    assert names(failed.value, opened.path, errno.EIO)
    with pytest.raises(JournalError, match="nothing was written") as failed:
        opened.finish({"given_ns": [0]})
    assert names(failed.value, opened.path, errno.EIO)
    opened.close()
    opened.close()
    assert len(read_journal(opened.path).lines) == 1


def test_a_failed_sync_is_told_as_an_error_of_the_disk(folder: Path) -> None:
    faulty = FailingDisk()
    opened = Journal.create(folder, header=HEADER, stamp=STAMP, disk=faulty)
    faulty.fails = ("sync",)
    with pytest.raises(JournalError, match="only to be read"):
        opened.append("notice", {"what": "perhaps"})
    with pytest.raises(JournalError, match="only to be read") as failed:
        opened.append("notice", {"what": "after"})
    assert names(failed.value, opened.path, errno.EIO)
    opened.close()


def test_the_line_end_that_is_lacking_is_added_once(make_journal: MakeJournal) -> None:
    path = make_journal()
    whole = path.read_bytes()
    path.write_bytes(whole[:-1])
    assert "lacks its line end" in read_journal(path).remarks[0]
    for call in ("reopen", "write", "sync", "lock"):
        with pytest.raises(JournalError) as failed:
            Journal.end_last_line(path, stamp=STAMP, disk=FailingDisk(call))
        assert names(failed.value, path.parent if call == "lock" else path, errno.EROFS)
        assert held_by(path.parent) is None
        path.write_bytes(whole[:-1])
    for _ in range(2):
        Journal.end_last_line(path, stamp=STAMP, disk=QuickDisk())
        assert path.read_bytes() == whole
    assert read_journal(path).remarks == ()


# Files that are no journals


@pytest.mark.parametrize(
    ("content", "line", "found", "nothing_begun"),
    [
        (b"", None, "an empty file", True),
        (b'{"v":1,"seq":1,"mo', 1, "a first line that was cut while it was written", True),
        (b'{"v":1,"seq":1,"mo\n', 1, "something else", False),
        (b"cat", 1, "something else", False),
        (b'{"v":2,"kind":"session_opened"}\n', 1, "schema 2", False),
        (b'{"v":1,"kind":"diary_opened"}\n', 1, "a line of kind 'diary_opened'", False),
    ],
)
def test_what_is_no_journal_is_named_with_what_was_found(
    tmp_path: Path, content: bytes, line: int | None, found: str, nothing_begun: bool
) -> None:
    path = tmp_path / "000001-x.jsonl"
    path.write_bytes(content)
    with pytest.raises(JournalUnreadable) as refused:
        read_journal(path)
    error = refused.value
    assert (error.path, error.line, error.found, error.errno) == (path, line, found, None)
    assert error.nothing_begun is nothing_begun
    place = path if line is None else f"{path}:{line}"
    assert str(error) == f"{place}: found {found}; allowed: {error.allowed}"
    assert any(word in error.allowed for word in ("journal", "schema 1", "session_opened"))


def test_a_file_that_is_not_there_or_no_file_is_named(tmp_path: Path) -> None:
    missing, fifo = tmp_path / "missing.jsonl", tmp_path / "fifo.jsonl"
    os.mkfifo(fifo)
    for path, why in ((missing, "No such file"), (tmp_path, ""), (fifo, "not an ordinary file")):
        with pytest.raises(JournalUnreadable, match=f"a file that cannot be read: {why}") as told:
            read_journal(path)
        assert (told.value.path, told.value.line) == (path, None)


def test_a_journal_that_would_fill_the_memory_is_refused(
    make_journal: MakeJournal, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make_journal()
    monkeypatch.setattr(journal, "MOST_BYTES", path.stat().st_size)
    assert scan_journal(path, []).damage is None
    monkeypatch.setattr(journal, "MOST_BYTES", path.stat().st_size - 1)
    with pytest.raises(JournalUnreadable, match="0 MiB of lines") as refused:
        scan_journal(path, [])
    assert refused.value.path == path
    # Who keeps no line needs no memory.
    assert scan_journal(path).damage is None


def test_of_a_journal_that_was_repaired_only_the_last_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # What such a file must hold is tested elsewhere.
    monkeypatch.setattr("coach.journal.journal.repair_problem", lambda _: "")
    for name in (
        "000002-b.jsonl",
        "000001-a.jsonl",
        "000001-a-repaired-2.jsonl",
        "000001-a-repaired-10.jsonl",
        "1000000-c.jsonl",
        "000003-c-repaired-1.jsonl",
        "12-short.jsonl",
        "abcdef-x.jsonl",
        "000004-x.json",
        ".lock",
    ):
        (tmp_path / name).touch()
    found = journal_names(tmp_path)
    assert found == [
        "000001-a-repaired-10.jsonl",
        "000002-b.jsonl",
        "000003-c-repaired-1.jsonl",
        "1000000-c.jsonl",
    ]
    assert [number_of(Path(name)) for name in found] == [1, 2, 3, 1000000]
    assert journal_names(tmp_path / "nobody") == []
    with pytest.raises(ValueError, match=r"cat\.jsonl: not the name of a journal"):
        number_of(Path("cat.jsonl"))


# Repair and the summary


def test_repair_names_what_it_cannot_do(make_journal: MakeJournal) -> None:
    path = make_journal()
    whole = path.read_bytes()
    with pytest.raises(JournalUnreadable, match="found no damage; allowed: a damaged") as refused:
        repair(path)
    assert refused.value.path == path
    path.write_bytes(whole.replace(b'"Pip"', b'"Pup"'))
    with pytest.raises(
        JournalUnreadable, match="a damaged first line; allowed: a first"
    ) as refused:
        repair(path)
    assert refused.value.path == path
    path.write_bytes(whole.replace(b'"spot":0', b'"spot":1', 1))
    for call in ("create", "write", "sync", "sync_folder"):
        with pytest.raises(JournalError, match="only to be read") as failed:
            repair(path, disk=FailingDisk(call))
        assert names(failed.value, path, errno.EROFS)
        if call != "sync_folder":
            assert list(path.parent.glob("*-repaired-*")) == []
    for found in path.parent.glob("*-repaired-*"):
        found.unlink()
    first = repair(path, disk=QuickDisk())
    assert first.path.name == f"{path.stem}-repaired-1.jsonl"
    assert repair(path, disk=QuickDisk()).path.name == f"{path.stem}-repaired-2.jsonl"
    count = len(whole.splitlines())
    assert first.left_out == (3,)
    assert first.kept == (1, 2, *range(4, count + 1))
    told = read_journal(first.path).lines[0]["data"]["repaired_from"]
    assert told == {
        "journal": path.name,
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "kept": count - 1,
        "left_out": [3],
    }


def test_a_summary_that_lies_is_found_behind_others_that_are_only_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(summary_cache, "BLOCK", 4)
    folder, kept = tmp_path / "journals", tmp_path / "kept"
    write_home(folder, 11)
    summary_cache.summary_of(folder, kept=kept)
    assert [path.name for path in sorted(kept.iterdir())] == [
        "000000.json",
        "000004.json",
        "000008.json",
    ]
    files = journal_files(folder)
    files[0].write_bytes(files[0].read_bytes() + b"x")
    (kept / "000004.json").write_bytes(b"no block")
    (kept / "notes.json").write_bytes(b"no block either")
    told = files[-1].stat()
    files[-1].write_bytes(files[-1].read_bytes().replace(b'"Pip"', b'"Pup"'))
    os.utime(files[-1], ns=(told.st_atime_ns, told.st_mtime_ns))
    (wrong,) = summary_cache.check(folder, kept)
    assert wrong.startswith(f"{kept / '000008.json'}: ")
    assert not (kept / "000008.json").exists()
    assert (kept / "000000.json").exists()


def test_a_summary_says_why_a_journal_could_not_be_read(make_journal: MakeJournal) -> None:
    path = make_journal()
    path.write_bytes(b"")
    told = summary_cache.summary_of(path.parent).remarks("Pip")
    assert told == [f"{path}: found an empty file; allowed: a session journal"]
