"""How this computer is set up, as ``coach selfcheck`` judges it."""

from pathlib import Path

import pytest

from coach.appliance import setup_checks as checks
from coach.appliance.checks import Finding
from coach.appliance.system_probe import network_states, temperatures


@pytest.mark.parametrize(
    ("finding", "level", "words"),
    [
        (checks.settings([], volume_percent=80), "fine", "80 percent"),
        (checks.settings([], volume_percent=0), "trouble", "volume 0"),
        (checks.settings(["x.toml:3: rate_wpm"], volume_percent=80), "trouble", "rate_wpm"),
        (checks.home("/srv/coach", absolute=True, is_file=False), "fine", "/srv/coach"),
        (checks.home("coach", absolute=False, is_file=False), "trouble", "relative"),
        (checks.home("/etc/passwd", absolute=True, is_file=True), "trouble", "a file"),
        (checks.strays("juniper", ["notes.txt", "x"]), "remark", "notes.txt and 1 more"),
        (checks.network({"eth0": "down", "wlan0": "up"}), "fine", "wlan0"),
        (checks.network({"eth0": "down"}), "remark", "not connected: eth0"),
        (checks.network({}), "remark", "none"),
        (checks.temperature([48_000, 51_500]), "fine", "52 degrees"),
        (checks.temperature([72_000]), "remark", "72 degrees"),
        (checks.temperature([83_100]), "trouble", "83 degrees"),
        (checks.temperature([]), "unknown", "does not tell"),
        (checks.starts_by_itself({}, lingers=False, user_units=False), "fine", "by hand"),
        (
            checks.starts_by_itself({"a.timer": "active"}, lingers=False, user_units=True),
            "trouble",
            "after a login",
        ),
        (
            checks.starts_by_itself({"k.service": "failed"}, lingers=True, user_units=False),
            "trouble",
            "k.service failed",
        ),
        (checks.sticks(udisks=False), "remark", "udisks"),
    ],
)
def test_each_finding_says_what_was_found_and_how_bad_it_is(
    finding: Finding, level: str, words: str
) -> None:
    assert finding.level == level
    assert words in finding.found
    if level == "trouble":
        assert finding.matters
        assert finding.to_do


def test_where_there_is_nothing_to_say_nothing_is_said() -> None:
    assert checks.home(None, absolute=True, is_file=False) is None
    assert checks.strays("juniper", []) is None


def test_the_kernel_is_read_where_it_tells_and_its_silence_is_no_fault(tmp_path: Path) -> None:
    # Names and forms as in the kernel's documentation of sysfs-class-net and sysfs-class-thermal.
    for name, state in {"lo": "unknown", "eth0": "down", "wlan0": "up"}.items():
        folder = tmp_path / "sys/class/net" / name
        folder.mkdir(parents=True)
        (folder / "operstate").write_text(f"{state}\n")
    zone = tmp_path / "sys/class/thermal/thermal_zone0"
    zone.mkdir(parents=True)
    (zone / "temp").write_text("48312\n")
    assert network_states(root=tmp_path) == {"eth0": "down", "wlan0": "up"}
    assert temperatures(root=tmp_path) == [48_312]
    assert network_states(root=tmp_path / "empty") == {}
    assert temperatures(root=tmp_path / "empty") == []
