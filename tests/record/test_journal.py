"""The journal on a real disk: what a line promises, who may open it, what a failing disk does."""

import errno
import json
import os
import re
import signal
import socket
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from coach.journal.disk import Disk, held_by
from coach.journal.journal import (
    Journal,
    JournalBusy,
    JournalError,
    JournalUnreadable,
    journal_files,
    read_journal,
)
from tests.record.conftest import MakeJournal
from tests.worlds import Clock, QuickDisk, header_for, spots_for

HEADER = header_for(spots_for([10]))
CLOCK = Clock()


def opened(folder: Path, disk: Disk | None = None) -> Journal:
    return Journal.create(folder, header=HEADER, stamp=CLOCK.stamp, disk=disk or QuickDisk())


def test_a_line_has_all_its_fields_and_is_there_when_append_returns(folder: Path) -> None:
    journal = opened(folder, Disk())
    journal.append("notice", {"what": "no_sound_device"})
    # Read while it is still open: nothing waits in a buffer.
    first, second = (json.loads(line) for line in journal.path.read_bytes().splitlines())
    journal.close()
    assert list(first) == ["v", "seq", "mono_ns", "boot", "wall", "trust", "kind", "data", "sum"]
    assert (first["v"], first["seq"], first["kind"]) == (1, 1, "session_opened")
    session = first["data"].pop("session")
    assert re.fullmatch("[0-9a-f]{32}", session)
    assert first["data"] == {**HEADER, "number": 1, "after": None}
    assert (second["seq"], second["data"]) == (2, {"what": "no_sound_device"})
    assert (second["boot"], second["trust"]) == ("boot-one", "synchronised")
    assert second["mono_ns"] == CLOCK.now_ns


def test_folder_and_file_are_the_owners_alone(folder: Path) -> None:
    journal = opened(folder)
    journal.close()
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert stat.S_IMODE(journal.path.stat().st_mode) == 0o600


def test_sessions_are_numbered_in_the_order_of_their_opening_whatever_the_clock_says(
    folder: Path,
) -> None:
    walls = ["2025-03-01T19:00:00+01:00", "1970-01-01T01:00:05+01:00", "2025-02-01T19:00:00+01:00"]
    for wall in walls:
        stamp = Clock(wall=wall).stamp
        Journal.create(folder, header=HEADER, stamp=stamp, disk=QuickDisk()).close()
    assert [path.name for path in journal_files(folder)] == [
        "000001-20250301T190000-demo-r1.jsonl",
        "000002-19700101T010005-demo-r1.jsonl",
        "000003-20250201T190000-demo-r1.jsonl",
    ]


def test_each_journal_names_the_last_sum_of_the_one_before(folder: Path) -> None:
    first = opened(folder)
    first.append("notice", {"what": "x"})
    first.close()
    second = opened(folder)
    second.close()
    (line,) = read_journal(second.path).lines
    assert line["data"]["after"] == {
        "journal": first.path.name,
        "sum": read_journal(first.path).last_sum,
    }


@pytest.mark.parametrize("payload", [{"x": float("nan")}, {"x": object()}, {"x": "\ud800"}])
def test_what_is_no_json_is_refused_and_nothing_is_written(
    folder: Path, payload: dict[str, Any]
) -> None:
    journal = opened(folder)
    before = journal.path.read_bytes()
    with pytest.raises((ValueError, TypeError)):
        journal.append("notice", payload)
    assert journal.path.read_bytes() == before
    journal.append("notice", {"what": "still works"})
    journal.close()
    assert len(read_journal(journal.path).lines) == 2


@pytest.mark.parametrize(
    "header",
    [
        {},
        {"plan": {"id": "x", "revision": 1}, "dog": {"name": "Pip"}},
        {"plan": {"id": "../x", "revision": 1, "digest": "a"}, "dog": {"name": "Pip"}},
        {"plan": {"id": "x", "revision": 1, "digest": "a"}, "dog": {"name": ""}},
        {"plan": {"id": "x", "revision": "1", "digest": "a"}, "dog": {"name": "Pip"}},
    ],
)
def test_a_header_that_binds_no_plan_and_dog_is_refused(
    folder: Path, header: dict[str, Any]
) -> None:
    with pytest.raises(ValueError, match="header"):
        Journal.create(folder, header=header, stamp=CLOCK.stamp)
    assert journal_files(folder) == []


def test_nothing_can_be_written_after_the_closing_record(make_journal: MakeJournal) -> None:
    journal = opened(make_journal().parent)
    journal.finish({"given_ns": [0]})
    size = journal.path.stat().st_size
    with pytest.raises(ValueError, match="closed"):
        journal.append("notice", {"what": "afterthought"})
    with pytest.raises(ValueError, match="closed"):
        journal.finish({"given_ns": [0]})
    assert journal.path.stat().st_size == size
    journal.close()


# The lock


def test_a_second_start_is_refused_and_told_who_holds_the_folder(folder: Path) -> None:
    journal = opened(folder)
    with pytest.raises(JournalBusy) as refused:
        opened(folder)
    assert refused.value.who.pid == os.getpid()
    assert refused.value.who.host == socket.gethostname()
    assert refused.value.who.since == CLOCK.wall
    assert str(os.getpid()) in str(refused.value)
    assert len(journal_files(folder)) == 1
    journal.close()
    opened(folder).close()


def test_the_lock_of_a_killed_process_is_free(folder: Path) -> None:
    code = (
        "import sys, pathlib, os\nsys.path.insert(0, os.getcwd())\n"
        "from tests.record.test_journal import opened\n"
        "journal = opened(pathlib.Path(sys.argv[1]))\nprint('open', flush=True)\ninput()"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    )
    with child:
        assert child.stdout is not None
        assert child.stdout.readline() == "open\n"
        with pytest.raises(JournalBusy) as refused:
            opened(folder)
        assert refused.value.who.pid == child.pid
        holder = held_by(folder)
        assert holder is not None
        assert holder.pid == child.pid
        child.send_signal(signal.SIGKILL)
    assert held_by(folder) is None
    opened(folder).close()


def test_nobody_holds_a_folder_that_is_not_there(tmp_path: Path) -> None:
    assert held_by(tmp_path / "no such dog") is None


# A disk that fails


class FailingDisk(QuickDisk):
    """Writes at most ``room`` bytes, then fails with ``error``; may fail to sync instead."""

    def __init__(
        self, room: int, error: int = errno.ENOSPC, *, sync_fails: bool = False, step: int = 1 << 20
    ) -> None:
        self.room = room
        self.error = error
        self.sync_fails = sync_fails
        self.step = step

    def write(self, fd: int, data: bytes) -> int:
        fits = min(len(data), self.room, self.step)
        if fits == 0:
            raise OSError(self.error, os.strerror(self.error))
        self.room -= fits
        return super().write(fd, data[:fits])

    def sync(self, fd: int) -> None:
        if self.sync_fails:
            raise OSError(errno.EIO, os.strerror(errno.EIO))


def test_short_writes_are_finished(folder: Path) -> None:
    journal = opened(folder, FailingDisk(1 << 20, step=7))
    journal.append("notice", {"what": "x"})
    journal.close()
    reading = read_journal(journal.path)
    assert (len(reading.lines), reading.torn, reading.damage) == (2, None, None)


@pytest.mark.parametrize("room", [0, 1, 50, 200])
def test_a_disk_full_before_the_first_line_leaves_no_file(folder: Path, room: int) -> None:
    with pytest.raises(JournalError) as failed:
        opened(folder, FailingDisk(room))
    assert failed.value.errno == errno.ENOSPC
    assert failed.value.path.parent == folder
    assert journal_files(folder) == []
    opened(folder).close()


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EIO, errno.EROFS])
@pytest.mark.parametrize("room", [0, 1, 100])
def test_a_line_that_did_not_fit_is_never_counted_and_nothing_follows_it(
    folder: Path, room: int, error: int
) -> None:
    disk = FailingDisk(1 << 20, error)
    journal = opened(folder, disk)
    journal.append("notice", {"what": "before"})
    disk.room = room
    with pytest.raises(JournalError) as failed:
        journal.append("notice", {"what": "lost"})
    assert failed.value.errno == error
    assert failed.value.path == journal.path
    assert str(failed.value) == f"{journal.path}: {os.strerror(error)}"
    disk.room = 1 << 20
    with pytest.raises(JournalError):
        journal.append("notice", {"what": "after"})
    journal.close()
    reading = read_journal(journal.path)
    assert [line["data"].get("what") for line in reading.lines] == [None, "before"]
    assert (reading.torn is not None) == (room > 0)
    assert reading.damage is None


def again(path: Path, disk: Disk) -> Journal:
    return Journal.reopen(
        path, kind="session_resumed", data={"why": "room again"}, stamp=Clock().stamp, disk=disk
    )


@pytest.mark.parametrize("room", [0, 1, 100, -1])
def test_when_there_is_space_again_the_remains_are_set_aside_and_writing_goes_on(
    folder: Path, room: int
) -> None:
    disk = FailingDisk(1 << 20)
    journal = opened(folder, disk)
    if room == -1:
        # All of the next line fits but its line end: it is on the disk, whole.
        lines = journal.path.read_bytes()
        journal.append("notice", {"what": "lost"})
        room = len(journal.path.read_bytes()) - len(lines) - 1
        whole = 2
    else:
        whole = 1
    disk.room = room
    with pytest.raises(JournalError):
        journal.append("notice", {"what": "lost"})
    journal.close()
    with pytest.raises(JournalError):
        again(journal.path, disk)
    disk.room = 1 << 20
    journal = again(journal.path, disk)
    journal.append("notice", {"what": "after"})
    journal.close()
    reading = read_journal(journal.path)
    assert reading.damage is None
    kinds = [line["kind"] for line in reading.lines]
    assert kinds[:1] + kinds[-2:] == ["session_opened", "session_resumed", "notice"]
    assert len(kinds) - 3 in (whole - 1, whole)


def test_after_a_failed_sync_nothing_is_written_any_more(folder: Path) -> None:
    disk = FailingDisk(1 << 20)
    journal = opened(folder, disk)
    disk.sync_fails = True
    with pytest.raises(JournalError) as failed:
        journal.append("notice", {"what": "perhaps"})
    assert failed.value.errno == errno.EIO
    disk.sync_fails = False
    size = journal.path.stat().st_size
    with pytest.raises(JournalError):
        journal.append("notice", {"what": "after"})
    assert journal.path.stat().st_size == size
    journal.close()


def test_a_read_only_place_is_an_error_with_its_number(tmp_path: Path) -> None:
    with pytest.raises(JournalError) as failed:
        opened(Path("/proc/no-dog-lives-here"))
    assert failed.value.errno in (errno.ENOENT, errno.EACCES, errno.EROFS)


# Going on after a cut


@pytest.mark.parametrize("kept", [0, 1, 40, -1])
def test_a_torn_line_is_told_kept_and_followed_by_the_session(
    make_journal: MakeJournal, kept: int
) -> None:
    path = make_journal(closed=False)
    raw = path.read_bytes()
    *whole, last = raw.splitlines(keepends=True)
    fragment = last[:kept] if kept >= 0 else last[:-2]
    path.write_bytes(b"".join(whole) + fragment)
    assert (read_journal(path).torn is not None) == bool(fragment)

    journal = Journal.reopen(
        path, kind="session_resumed", data={"why": "restart"}, stamp=CLOCK.stamp, disk=QuickDisk()
    )
    journal.append("notice", {"what": "after"})
    journal.close()
    reading = read_journal(path)
    assert reading.damage is None
    assert [torn.size for torn in reading.set_aside] == ([len(fragment)] if fragment else [])
    assert fragment in path.read_bytes()
    assert [line["kind"] for line in reading.lines[len(whole) :]] == ["session_resumed", "notice"]


def test_torn_again_and_again_the_session_still_goes_on(make_journal: MakeJournal) -> None:
    path = make_journal(closed=False)
    count = len(read_journal(path).lines)
    for fragment in (b'{"v":1,"se', b'{"v', b"\n", b'{"v":1,"seq":9', b"\n\n"):
        with path.open("ab") as file:
            file.write(fragment)
        assert read_journal(path).damage is None
    journal = Journal.reopen(
        path, kind="session_cut_off", data={}, stamp=CLOCK.stamp, disk=QuickDisk()
    )
    journal.finish({"given_ns": [3_000_000_000, 2_000_000_000]})
    journal.close()
    reading = read_journal(path)
    assert (len(reading.lines), reading.damage, reading.closed) == (count + 2, None, True)


def test_a_fragment_that_was_changed_after_it_was_told_is_damage(
    make_journal: MakeJournal,
) -> None:
    path = make_journal(closed=False)
    with path.open("ab") as file:
        file.write(b'{"v":1,"seq')
    Journal.reopen(
        path, kind="session_resumed", data={}, stamp=CLOCK.stamp, disk=QuickDisk()
    ).close()
    assert read_journal(path).damage is None
    path.write_bytes(path.read_bytes().replace(b'{"v":1,"seq\n', b'{"v":1,"sEq\n'))
    assert read_journal(path).damage is not None


def test_a_closed_or_damaged_journal_is_not_gone_on_with(make_journal: MakeJournal) -> None:
    closed = make_journal()
    with pytest.raises(JournalUnreadable, match="closed session"):
        Journal.reopen(closed, kind="session_resumed", data={}, stamp=CLOCK.stamp)
    damaged = make_journal(closed=False)
    damaged.write_bytes(damaged.read_bytes().replace(b'"spot":0', b'"spot":1', 1))
    before = damaged.read_bytes()
    with pytest.raises(JournalUnreadable, match="line 3"):
        Journal.reopen(damaged, kind="session_resumed", data={}, stamp=CLOCK.stamp)
    assert damaged.read_bytes() == before
    # Neither left the folder locked.
    make_journal()
