"""Stamps: what the kernel says, and what is made of it."""

import datetime
import re
import time
from pathlib import Path

import pytest

from coach.appliance import clock


def test_a_stamp_dates_itself_with_an_offset_and_names_the_boot() -> None:
    before = datetime.datetime.now().astimezone()
    stamp = clock.stamper(lambda: 42)()
    after = datetime.datetime.now().astimezone()
    assert stamp.mono_ns == 42
    # RFC 3339, with milliseconds and a numeric offset.
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}[+-]\d\d:\d\d", stamp.wall)
    wall = datetime.datetime.fromisoformat(stamp.wall)
    assert before - datetime.timedelta(milliseconds=1) <= wall <= after
    if clock.BOOT_ID.exists():
        assert stamp.boot_id == clock.BOOT_ID.read_text(encoding="ascii").strip()
    assert stamp.trust in ("synchronised", "rtc", "unknown")


def test_the_kernel_answers_whether_its_clock_is_synchronised() -> None:
    assert clock.synchronised() in (True, False)
    assert clock._adjtimex() is not None


@pytest.mark.parametrize(
    ("kernel_state", "flags", "expected"),
    [
        # adjtimex(2): TIME_OK 0 to TIME_WAIT 4 are states of a synchronised clock, TIME_ERROR 5.
        (0, [], "synchronised"),
        (4, ["1"], "synchronised"),
        (5, ["1"], "rtc"),
        (5, ["0", "1"], "rtc"),
        (5, ["0"], "unknown"),
        (5, [], "unknown"),
        (-1, [], "unknown"),
    ],
)
def test_trust(
    kernel_state: int,
    flags: list[str],
    expected: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(clock, "_adjtimex", lambda: lambda _: kernel_state)
    monkeypatch.setattr(clock, "CLOCKS", tmp_path / "rtc")
    for number, flag in enumerate(flags):
        folder = tmp_path / "rtc" / f"rtc{number}"
        folder.mkdir(parents=True)
        (folder / "hctosys").write_text(f"{flag}\n", encoding="ascii")
    assert clock.trust() == expected


def test_without_the_call_or_the_folders_nothing_is_trusted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "_adjtimex", lambda: None)
    monkeypatch.setattr(clock, "CLOCKS", tmp_path / "nothing")
    assert clock.trust() == "unknown"


def test_two_stamps_of_one_boot_agree_on_it() -> None:
    stamp = clock.stamper(time.monotonic_ns)
    assert stamp().boot_id == stamp().boot_id
