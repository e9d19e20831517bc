"""Looks at this computer for ``coach selfcheck``: small files of the kernel, all optional."""

import os
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

ANSWER_WITHIN_S = 5


@dataclass(frozen=True, slots=True)
class Mount:
    """Where a folder lives: the device's number and name, file system, options."""

    device: str
    source: str
    kind: str
    options: frozenset[str]


def text_of(path: Path) -> str:
    """A small file of the kernel without its line end, or "" where there is none."""
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""


def mount_of(folder: Path, *, root: Path = Path("/")) -> Mount | None:
    """The mount in which ``folder`` is, or its nearest parent that there is; proc(5), mountinfo."""
    there = next((place for place in (folder, *folder.parents) if place.exists()), Path("/"))
    real = there.resolve()
    best: tuple[int, Mount] | None = None
    for line in text_of(root / "proc/self/mountinfo").splitlines():
        left, _, right = line.partition(" - ")
        words, after = left.split(), right.split()
        if len(words) < 6 or len(after) < 3:
            continue
        point = Path(words[4].replace("\\040", " "))
        if real != point and point not in real.parents:
            continue
        # The last of those that are mounted on the same place lies on top.
        if best is None or len(point.parts) >= best[0]:
            options = frozenset((words[5] + "," + after[2]).split(","))
            best = (len(point.parts), Mount(words[2], after[1], after[0], options))
    return None if best is None else best[1]


def file_system_errors(mount: Mount, *, root: Path = Path("/")) -> int | None:
    """How many errors ext4 has counted on it, over all boots; None where it does not say."""
    name = Path(os.path.realpath(mount.source)).name
    told = text_of(root / "sys/fs/ext4" / name / "errors_count")
    return int(told) if told.isdigit() else None


def card_age(mount: Mount, *, root: Path = Path("/")) -> tuple[str, str]:
    """``life_time`` and ``pre_eol_info`` of the card, each "" where it does not tell."""
    block = root / "sys/dev/block" / mount.device
    for folder in (block / "device", block / ".." / "device"):
        if (folder / "life_time").exists():
            return text_of(folder / "life_time"), text_of(folder / "pre_eol_info")
    return "", ""


def under_voltage(*, root: Path = Path("/")) -> str:
    """``1`` or ``0`` as the board's voltage monitor says, or ""."""
    for folder in sorted((root / "sys/class/hwmon").glob("hwmon*")):
        if text_of(folder / "name") == "rpi_volt":
            return text_of(folder / "in0_lcrit_alarm")
    return ""


def throttled() -> str:
    """What the board's firmware tool answers, or ""."""
    tool = shutil.which("vcgencmd")
    if tool is None:
        return ""
    try:
        done = subprocess.run(  # noqa: S603  (found on PATH by a fixed name)
            [tool, "get_throttled"],
            capture_output=True,
            text=True,
            check=False,
            timeout=ANSWER_WITHIN_S,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout if done.returncode == 0 else ""


def network_states(*, root: Path = Path("/")) -> dict[str, str]:
    """Each network interface but the loopback and its operstate (sysfs-class-net)."""
    folder = root / "sys/class/net"
    names = sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []
    return {name: text_of(folder / name / "operstate") for name in names if name != "lo"}


def temperatures(*, root: Path = Path("/")) -> list[int]:
    """Thousandths of a degree Celsius of each thermal zone (sysfs-class-thermal)."""
    zones = sorted((root / "sys/class/thermal").glob("thermal_zone*/temp"))
    texts = [text_of(zone) for zone in zones]
    return [int(text) for text in texts if text.lstrip("-").isdigit()]


def unit_states(names: Sequence[tuple[str, str]]) -> dict[str, str]:
    """``is-active`` of the units (scope, name) that are enabled; those that are not are left out.

    Nothing where there is no service manager.
    """
    states: dict[str, str] = {}
    for scope, name in names:
        told = [_systemctl(scope, verb, name) for verb in ("is-enabled", "is-active")]
        if told[0] == "enabled":
            states[name] = told[1]
    return states


def _systemctl(scope: str, verb: str, name: str) -> str:
    found = shutil.which("systemctl")
    if found is None:
        return ""
    try:
        done = subprocess.run(  # noqa: S603  (our own fixed words)
            [found, f"--{scope}", verb, name],
            check=False,
            capture_output=True,
            text=True,
            timeout=ANSWER_WITHIN_S,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout.strip()
