"""Files that are no journals: each is told apart, none is read into memory whole."""

import os
from pathlib import Path

import pytest

from coach.journal.journal import JournalUnreadable, read_journal
from tests.record.conftest import MakeJournal


def test_bad_files_are_told_apart(tmp_path: Path, make_journal: MakeJournal) -> None:
    good = make_journal().read_bytes()
    first = good.splitlines(keepends=True)[0]
    loop = tmp_path / "000009-loop.jsonl"
    loop.symlink_to(loop)
    fifo = tmp_path / "000010-fifo.jsonl"
    os.mkfifo(fifo)
    cases: list[tuple[bytes | Path, str]] = [
        (tmp_path / "missing.jsonl", "No such file"),
        (tmp_path, "directory"),
        (loop, "symbolic links"),
        (fifo, "not an ordinary file"),
        (b"", "an empty file"),
        (b"\n", "something else"),
        (bytes(range(256)) * 40, "something else"),
        (b"{" * 100_000, "something else"),
        (b'{"v":1}\n', "something else"),
        (b"[plan]\nid = 'x'\n", "something else"),
        (first.replace(b'"v":1', b'"v":2', 1), "schema 2"),
        (first[:100], "cut while it was written"),
        (b"".join(good.splitlines(keepends=True)[1:]), "kind 'session_started'"),
    ]
    for number, (what, found) in enumerate(cases):
        path = what if isinstance(what, Path) else tmp_path / f"case-{number}.jsonl"
        if isinstance(what, bytes):
            path.write_bytes(what)
        with pytest.raises(JournalUnreadable) as refused:
            read_journal(path)
        assert found in str(refused.value)
        assert str(path) in str(refused.value)
        assert refused.value.allowed


def test_a_gigabyte_without_a_line_end_is_refused_without_reading_it(tmp_path: Path) -> None:
    path = tmp_path / "000001-huge.jsonl"
    with path.open("wb") as file:
        file.truncate(1 << 30)
    with pytest.raises(JournalUnreadable, match="something else"):
        read_journal(path)


def test_a_gigabyte_of_zeros_after_good_lines_is_a_torn_tail(make_journal: MakeJournal) -> None:
    path = make_journal(closed=False)
    lines = len(read_journal(path).lines)
    with path.open("r+b") as file:
        file.truncate(1 << 26)
    reading = read_journal(path)
    assert len(reading.lines) == lines
    assert reading.torn is not None
    assert reading.remarks
