"""A disk that is really full and one that really turns read-only, on a small tmpfs.

Needs the right to mount; where that is missing these are skipped, and the fault-injecting disk
of test_journal.py and of the simulator is all there is.
"""

import errno
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from coach.journal.disk import Disk, free_bytes
from coach.journal.journal import Journal, JournalError, read_journal
from tests.worlds import Clock, header_for, spots_for

CLOCK = Clock()


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 32 KiB."""
    place = tmp_path / "small disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=32k", "coach-test", str(place)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        pytest.skip("mounting a tmpfs is not allowed here")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def opened(folder: Path) -> Journal:
    return Journal.create(
        folder, header=header_for(spots_for([10])), stamp=CLOCK.stamp, disk=Disk()
    )


def again(journal: Journal) -> Journal:
    return Journal.reopen(
        journal.path, kind="session_resumed", data={"why": "room again"}, stamp=CLOCK.stamp
    )


def fill(journal: Journal) -> int:
    """Append until it fails; the number of lines that went in."""
    count = 0
    with pytest.raises(JournalError) as failed:  # noqa: PT012  (the loop is what fails)
        while count < 10_000:
            journal.append("notice", {"what": f"number {count}", "text": "x" * 100})
            count += 1
    assert failed.value.errno == errno.ENOSPC
    return count


def test_a_full_disk_loses_no_line_and_goes_on_when_there_is_room(small_disk: Path) -> None:
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"x" * 8192)
    journal = opened(small_disk / "dog")
    count = fill(journal)
    reading = read_journal(journal.path)
    assert len(reading.lines) == count + 1
    assert reading.damage is None
    assert free_bytes(small_disk) < 4096
    journal.close()
    with pytest.raises(JournalError):
        again(journal)
    ballast.unlink()
    assert free_bytes(small_disk) >= 8192
    journal = again(journal)
    journal.finish({"given_ns": [0]})
    journal.close()
    reading = read_journal(journal.path)
    assert (reading.closed, reading.damage) == (True, None)
    assert len(reading.lines) in (count + 3, count + 4)


def test_a_disk_that_is_full_from_the_start_is_told_and_keeps_no_file(small_disk: Path) -> None:
    (small_disk / "dog").mkdir()
    with (small_disk / "ballast").open("wb", buffering=0) as file, suppress(OSError):
        while file.write(b"x" * 512):
            pass
    assert free_bytes(small_disk) == 0
    with pytest.raises(JournalError) as failed:
        opened(small_disk / "dog")
    assert failed.value.errno == errno.ENOSPC
    assert list((small_disk / "dog").glob("*.jsonl")) == []


def test_a_disk_that_turns_read_only_while_it_is_written(small_disk: Path) -> None:
    journal = opened(small_disk / "dog")
    journal.append("notice", {"what": "before"})
    remount = ["mount", "-o", "remount,ro,size=32k", str(small_disk)]
    # A file that is open for writing keeps a disk writable; a new start meets the read-only one.
    journal.close()
    subprocess.run(remount, check=True)
    with pytest.raises(JournalError) as failed:
        opened(small_disk / "dog")
    assert failed.value.errno == errno.EROFS
    with pytest.raises(JournalError) as failed:
        Journal.reopen(
            journal.path, kind="session_resumed", data={}, stamp=CLOCK.stamp, disk=Disk()
        )
    assert failed.value.errno == errno.EROFS
    assert len(read_journal(journal.path).lines) == 2
