"""``coach selfcheck``: what is made of what the kernel, the board and the card tell.

The forms of the kernel's files are those of proc(5), ALSA's and the input subsystem's
documentation, from memory; other sources beside each case.
"""

import json
import os
import subprocess
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from pydantic import TypeAdapter

from coach.appliance import checks, system_probe
from coach.appliance.checks import SelfcheckJson
from coach.appliance.display import Display
from coach.cli.exits import Exit
from coach.journal.journal import Journal
from coach.paths import journal_folder
from coach.session.machine import Options
from tests.screens.thin import BIG_HIPS, LONG_BACK
from tests.worlds import Clock, QuickDisk, header_for, spots_for

TWO_CARDS = """\
 0 [vc4hdmi        ]: vc4-hdmi - vc4-hdmi
                      vc4-hdmi
 1 [Headphones     ]: bcm2835_headpho - bcm2835 Headphones
                      bcm2835 Headphones
"""
PANEL = """\
I: Bus=0018 Vendor=0416 Product=038f Version=1060
N: Name="Goodix Capacitive TouchScreen"
H: Handlers=mouse0 event0
B: PROP=2
B: EV=b
B: ABS=2658000 3

I: Bus=0003 Vendor=1a2c Product=0e24 Version=0110
N: Name="USB foot switch"
H: Handlers=sysrq kbd leds event1
B: EV=120013
"""
# The same axes as a 64-bit kernel writes them: one word.
MULTITOUCH = PANEL.replace("ABS=2658000 3", "ABS=265800000000003")


@pytest.mark.parametrize(
    ("finding", "level", "words"),
    [
        (checks.sound("sound_device_ok", TWO_CARDS[:82], ""), "fine", "vc4-hdmi"),
        (checks.sound("sound_device_ok", TWO_CARDS, ""), "remark", "2 sound cards"),
        (checks.sound("no_sound_device", "", ""), "trouble", "no sound card"),
        (checks.sound("", TWO_CARDS, ""), "trouble", "no answer"),
        (checks.sound("sound_device_ok", TWO_CARDS, "no engine"), "trouble", "no engine"),
        (checks.microphone(""), "remark", "none"),
        (checks.microphone("01-00: USB Audio : USB Audio : capture 1"), "fine", "USB Audio"),
        (
            checks.microphone("01-00: USB Audio : USB Audio : capture 1"),
            "fine",
            "not tried",
        ),
        (
            checks.microphone("01-00: USB Audio : USB Audio : capture 1", trial="tried on"),
            "fine",
            "USB Audio; tried on",
        ),
        (checks.microphone("00-00: bcm2835 : bcm2835 : playback 8"), "remark", "none"),
        (checks.clock("synchronised", "2026-11-25 19:00", "CET"), "fine", "network"),
        (checks.clock("rtc", "2026-11-25 19:00", "CET"), "fine", "battery"),
        (checks.clock("unknown", "1970-01-01 00:00", "UTC"), "remark", "1970"),
        # hwmon: in0_lcrit_alarm; firmware flags: bits 0 and 16 under-voltage, 2 and 18 slowed.
        (checks.power(alarm="", throttled=""), "unknown", "not tell"),
        (checks.power(alarm="0", throttled=""), "fine", "voltage is fine"),
        (checks.power(alarm="1", throttled=""), "trouble", "is too low"),
        (checks.power(alarm="0", throttled="throttled=0x50005"), "trouble", "is too low"),
        (checks.power(alarm="0", throttled="throttled=0x50000"), "trouble", "was too low"),
        (checks.power(alarm="", throttled="throttled=0x40000"), "remark", "heat"),
        (checks.power(alarm="", throttled="throttled=0x0"), "fine", "fine"),
        # JEDEC eMMC 5.0: 0x01 up to 10 % used, 0x0B beyond its life; end of life 2 warns, 3 urges.
        (checks.wear(errors=0, life="0x01 0x02", spare="0x01"), "fine", "20 %"),
        (checks.wear(errors=0, life="0x0a 0x02", spare="0x01"), "remark", "100 %"),
        (checks.wear(errors=0, life="0x0b 0x02", spare="0x01"), "trouble", "used"),
        (checks.wear(errors=0, life="0x01 0x01", spare="0x03"), "trouble", "used"),
        (checks.wear(errors=3, life="", spare=""), "trouble", "3 errors"),
        (checks.wear(errors=None, life="", spare=""), "unknown", "not tell"),
        (checks.keys(PANEL, pressed=None, means=""), "fine", "USB foot switch, Goodix Capacitive"),
        (checks.keys(MULTITOUCH, pressed=None, means=""), "fine", "TouchScreen (touch)"),
        (checks.keys(PANEL, pressed="space", means="one_key"), "fine", "space means one_key"),
        (checks.keys(PANEL, pressed="", means=""), "trouble", "nothing was pressed"),
        (
            checks.keys('N: Name="Power"\nH: Handlers=event0', pressed=None, means=""),
            "remark",
            "no",
        ),
    ],
)
def test_what_is_found(finding: checks.Finding, level: str, words: str) -> None:
    assert finding.level == level
    assert words in finding.found
    if level == "trouble":
        assert finding.matters
        assert finding.to_do


def test_a_panel_without_multitouch_is_no_touch_panel() -> None:
    single = PANEL.replace("ABS=2658000 3", "ABS=3")
    assert "touch)" not in checks.keys(single, pressed=None, means="").found


@pytest.mark.parametrize(
    ("shown", "terminal", "kind", "encoding", "level"),
    [
        ([Display("DSI-1", 800, 480)], None, "", "utf-8", "fine"),
        ([], (80, 24), "xterm-256color", "UTF-8", "fine"),
        ([], (59, 24), "foot", "utf-8", "trouble"),
        ([], (80, 19), "foot", "utf-8", "trouble"),
        ([], (80, 24), "foot", "ANSI_X3.4-1968", "trouble"),
        ([], (80, 25), "linux", "utf-8", "remark"),
        ([], None, "", "utf-8", "remark"),
    ],
)
def test_the_screen(
    shown: list[Display],
    terminal: tuple[int, int] | None,
    kind: str,
    encoding: str,
    level: str,
) -> None:
    assert checks.screen(shown, terminal=terminal, kind=kind, encoding=encoding).level == level


@pytest.mark.parametrize(
    ("kind", "options", "free_mb", "level"),
    [
        ("ext4", "rw,relatime", 5000, "fine"),
        ("ext4", "rw,noatime,commit=60", 5000, "fine"),
        # ext4(5): barriers off, and data written after its metadata.
        ("ext4", "rw,nobarrier", 5000, "trouble"),
        ("ext4", "rw,barrier=0", 5000, "trouble"),
        ("ext4", "rw,data=writeback", 5000, "trouble"),
        ("ext4", "ro,relatime", 5000, "trouble"),
        ("ext4", "rw", 10, "trouble"),
        ("overlay", "rw", 5000, "trouble"),
        ("tmpfs", "rw", 5000, "trouble"),
        ("vfat", "rw", 5000, "remark"),
    ],
)
def test_the_disk(kind: str, options: str, free_mb: int, level: str) -> None:
    found = checks.disk(kind, options.split(","), free_bytes=free_mb * 10**6, folder="/data")
    assert found.level == level


def test_the_mount_of_a_folder_is_the_innermost_and_the_topmost(tmp_path: Path) -> None:
    data = tmp_path / "my data"
    data.mkdir()
    told = tmp_path / "proc/self/mountinfo"
    told.parent.mkdir(parents=True)
    point = str(data).replace(" ", "\\040")
    told.write_text(
        "22 1 179:2 / / ro,relatime shared:1 - ext4 /dev/root ro,errors=remount-ro\n"
        f"30 22 8:1 / {point} rw,noatime - vfat /dev/sda1 rw\n"
        f"31 30 179:3 / {point} rw,noatime shared:5 - ext4 /dev/mmcblk0p3 rw,data=ordered\n"
        "40 22 0:5 / /else rw - tmpfs tmpfs rw\n"
    )
    mount = system_probe.mount_of(data / "not" / "yet", root=tmp_path)
    assert mount is not None
    assert (mount.device, mount.kind, mount.source) == ("179:3", "ext4", "/dev/mmcblk0p3")
    assert mount.options == {"rw", "noatime", "data=ordered"}
    outside = system_probe.mount_of(Path("/"), root=tmp_path)
    assert outside is not None
    assert "ro" in outside.options

    errors = tmp_path / "sys/fs/ext4/mmcblk0p3/errors_count"
    errors.parent.mkdir(parents=True)
    errors.write_text("2\n")
    assert system_probe.file_system_errors(mount, root=tmp_path) == 2
    assert system_probe.file_system_errors(outside, root=tmp_path) is None
    card = tmp_path / "sys/dev/block/mmcblk0"
    (card / "device").mkdir(parents=True)
    (card / "mmcblk0p3").mkdir()
    (tmp_path / "sys/dev/block/179:3").symlink_to(card / "mmcblk0p3")
    (card / "device/life_time").write_text("0x02 0x01\n")
    (card / "device/pre_eol_info").write_text("0x01\n")
    assert system_probe.card_age(mount, root=tmp_path) == ("0x02 0x01", "0x01")


def test_the_voltage_is_read_where_the_board_tells_it(tmp_path: Path) -> None:
    assert system_probe.under_voltage(root=tmp_path) == ""
    for number, name in enumerate(("cpu_thermal", "rpi_volt")):
        folder = tmp_path / f"sys/class/hwmon/hwmon{number}"
        folder.mkdir(parents=True)
        (folder / "name").write_text(f"{name}\n")
        (folder / "in0_lcrit_alarm").write_text(f"{number}\n")
    assert system_probe.under_voltage(root=tmp_path) == "1"


def checked(*words: str) -> tuple[int, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "coach", "selfcheck", "--json", *words],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        env={**os.environ, "PATH": "/usr/bin:/bin"},
    )
    assert done.stderr == ""
    return done.returncode, json.loads(done.stdout)


@pytest.mark.long
def test_the_whole_of_it_on_this_computer_with_one_dog_well_and_one_not(own_world: Path) -> None:
    for name, plan in (("juniper", LONG_BACK), ("moss", BIG_HIPS)):
        folder = own_world / "state/dogs" / name
        folder.mkdir(parents=True)
        (folder / "plan.toml").write_bytes(plan.read_bytes())
    spots = spots_for([5, 5])
    journal = Journal.create(
        journal_folder("moss", rehearsal=False),
        header=header_for(spots, Options()),
        stamp=Clock().stamp,
        disk=QuickDisk(),
    )
    journal.close()
    text = journal.path.read_text(encoding="utf-8")
    journal.path.write_text(text.replace("Pip", "Pop"), encoding="utf-8")

    code, told = checked()
    schema = json.loads((files("coach.appliance") / "selfcheck.schema.json").read_text("utf-8"))
    assert schema == TypeAdapter(SelfcheckJson).json_schema()
    jsonschema.validate(told, schema)
    levels = {one["topic"]: one["level"] for one in told["findings"]}
    assert levels["plan of juniper"] == levels["logs of juniper"] == "fine"
    assert levels["logs of moss"] == "trouble"
    assert {"sound", "microphone", "screen", "clock", "disk", "card", "power", "keys"} <= set(
        levels
    )
    assert (code, told["ready"]) == (Exit.NOT_READY, False)
