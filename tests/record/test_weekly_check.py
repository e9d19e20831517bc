"""Bit rot is found without anybody asking: a quiet look at all logs, at most weekly."""

import datetime
import os
from pathlib import Path

import pytest

from coach.appliance.clock import stamper
from coach.bedside.dog_facts import home_of
from coach.cli import run
from coach.cli.exits import Exit
from coach.journal.disk import DISK
from coach.journal.journal import log_files
from coach.journal.signing import DeviceKey, device_key
from coach.paths import device_key_file, dog_folder
from coach.record.summary_cache import summary_of
from coach.record.weekly_check import NAME, check_weekly, checked
from tests.handover.dogs import PLAN, session
from tests.homes import write_home
from tests.record.test_order import DAYS

MONDAY = datetime.date(2026, 11, 23)
WEEK = datetime.timedelta(days=7)


@pytest.fixture
def key(own_world: Path) -> DeviceKey:
    return device_key(device_key_file())


@pytest.fixture
def logs(own_world: Path, key: DeviceKey) -> list[Path]:
    folder = dog_folder("Pip")
    folder.mkdir(parents=True)
    (folder / "plan.toml").write_text(PLAN.replace('"Juniper"', '"Pip"'))
    return [session(folder, day, key=key) for day in DAYS]


def rot(path: Path) -> None:
    """One bit, and size and time as before: what a disk does."""
    told = path.stat()
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    path.write_bytes(raw)
    os.utime(path, ns=(told.st_atime_ns, told.st_mtime_ns))


def odd(folder: Path) -> tuple[str, ...]:
    zone = datetime.timezone(datetime.timedelta(hours=1))
    return tuple(home_of(folder, stamper(lambda: 0)(), zone).facts.odd)


def test_bit_rot_is_told_on_home_after_the_next_look(logs: list[Path], key: DeviceKey) -> None:
    folder = logs[0].parents[1]
    assert check_weekly(folder, today=MONDAY, key=key.public_key) == checked(folder)
    assert checked(folder) is not None
    assert odd(folder) == ()
    rot(logs[1])
    # Not before a week has gone by, and the kept summary does not see it.
    assert check_weekly(folder, today=MONDAY + WEEK / 2, key=key.public_key) is None
    assert odd(folder) == ()
    found = check_weekly(folder, today=MONDAY + WEEK, key=key.public_key)
    assert found is not None
    # The log itself, and the one that names its closing sum.
    assert logs[1].name in found.wrong
    assert logs[1].name in odd(folder)
    kept = summary_of(logs[0].parent, kept=folder / "summary")
    assert any("damaged" in remark for remark in kept.remarks("Pip"))


def test_it_keeps_away_from_a_running_session_and_damaged_notes(
    logs: list[Path], key: DeviceKey
) -> None:
    folder = logs[0].parents[1]
    lock = DISK.lock(logs[0].parent, "now")
    assert check_weekly(folder, today=MONDAY, key=None) is None
    DISK.close(lock)
    (folder / NAME).write_bytes(b"[" * 5000)
    assert checked(folder) is None
    assert check_weekly(folder, today=MONDAY, key=None) is not None
    # A clock that was wrong by years does not put the next look off for years.
    assert check_weekly(folder, today=MONDAY - 500 * WEEK, key=None) is not None


def test_the_timer_of_the_reminder_looks_silently(
    logs: list[Path], capsys: pytest.CaptureFixture[str]
) -> None:
    rot(logs[2])
    run(["remind"])
    before = capsys.readouterr()
    assert logs[2].name not in before.out + before.err
    told = checked(logs[0].parents[1])
    assert told is not None
    assert logs[2].name in told.wrong
    assert run(["verify"]) == Exit.NOT_WHOLE


def test_a_service_that_may_not_be_nice_looks_all_the_same(
    logs: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(_: int) -> int:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "nice", refused)
    run(["remind"])
    assert checked(logs[0].parents[1]) is not None


@pytest.mark.long
def test_one_bad_log_among_ten_years_of_them(own_world: Path) -> None:
    folder = dog_folder("Pip")
    went = write_home(folder / "journals", 3650)
    paths = log_files(folder / "journals")
    kept = folder / "summary"
    whole = summary_of(folder / "journals", kept=kept)
    assert len(whole.counted("Pip")) == len(went) == 3650
    rot(paths[1825])
    assert len(summary_of(folder / "journals", kept=kept).counted("Pip")) == 3650
    found = check_weekly(folder, today=MONDAY, key=None)
    assert found is not None
    assert found.wrong == (paths[1825].name,)
    after = summary_of(folder / "journals", kept=kept)
    assert len(after.counted("Pip")) >= 3649
    told = [remark for remark in after.remarks("Pip") if paths[1825].name in remark]
    assert len(told) == 1
