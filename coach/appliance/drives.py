"""Sticks that are plugged in: found by lsblk, mounted and let go by udisks where nobody else does.

``lsblk`` (util-linux) is on every Debian; ``udisksctl`` (udisks2) mounts a stick without root and
is only asked when the desktop has not mounted it. Without them no stick is found, and that is told.
"""

import json
import subprocess
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.shown import plain

COLUMNS = "PATH,LABEL,MODEL,SIZE,FSTYPE,RM,HOTPLUG,MOUNTPOINTS,TYPE,RO,TRAN"
# A stick that hangs must not hold up the owner for ever.
WAIT_S = 30
_NOT_FOR_FILES = frozenset({"swap", "crypto_LUKS", "LVM2_member", "linux_raid_member", "squashfs"})

Call = Callable[[Sequence[str]], str]


class DriveTrouble(Exception):  # noqa: N818  (told to the owner)
    """A stick cannot be found, mounted or let go; the message says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """A file system on something removable. ``name`` is its label, else what the maker calls it.

    ``folder`` is where it is mounted, or None.
    """

    device: str
    name: str
    size_bytes: int
    folder: Path | None
    read_only: bool

    @property
    def size_text(self) -> str:
        """The size as it is printed on a stick: powers of ten."""
        for unit, size in (("TB", 10**12), ("GB", 10**9), ("MB", 10**6)):
            if self.size_bytes >= size:
                text = f"{self.size_bytes / size:.1f}"
                return f"{text.removesuffix('.0')} {unit}"
        return f"{self.size_bytes} B"


def call(command: Sequence[str]) -> str:
    """Run a system tool and give what it prints. Raises DriveTrouble."""
    try:
        # A fixed tool of the system; its arguments are device paths that the kernel names.
        done = subprocess.run(  # noqa: S603
            command, capture_output=True, text=True, timeout=WAIT_S, check=False
        )
    except FileNotFoundError as error:
        raise DriveTrouble(f"{command[0]} is not installed on this computer") from error
    except subprocess.TimeoutExpired as error:
        raise DriveTrouble(f"{command[0]} did not answer within {WAIT_S} s") from error
    if done.returncode != 0:
        raise DriveTrouble(f"{command[0]}: {done.stderr.strip() or 'it failed'}")
    return done.stdout


def drives(call: Call = call) -> list[Drive]:
    """Every file system on a removable drive. Raises DriveTrouble."""
    text = call(["lsblk", "--json", "--bytes", "--output", COLUMNS])
    try:
        found = json.loads(text)["blockdevices"]
        return [drive for disk in found for drive in _drives(disk, removable=False, model="")]
    except (ValueError, KeyError, TypeError) as error:
        raise DriveTrouble(f"lsblk said something that is not understood: {error!r}") from error


def mounted(drive: Drive, call: Call = call) -> Drive:
    """``drive`` with its folder, mounted now if it was not. Raises DriveTrouble."""
    if drive.folder is not None:
        return drive
    call(["udisksctl", "mount", "--no-user-interaction", "-b", drive.device])
    for now in drives(call):
        if now.device == drive.device and now.folder is not None:
            return now
    raise DriveTrouble(f"{drive.name}: mounted, but nobody knows where")


def let_go(drive: Drive, call: Call = call) -> None:
    """Unmount a stick that :func:`mounted` mounted. Raises DriveTrouble."""
    call(["udisksctl", "unmount", "--no-user-interaction", "-b", drive.device])


@contextmanager
def borrowed(drive: Drive, call: Call = call) -> Iterator[Path]:
    """The folder of a stick; let go of at the end if nobody else had mounted it.

    Raises DriveTrouble.
    """
    folder = mounted(drive, call).folder
    if folder is None:
        raise DriveTrouble(f"{drive.name}: not mounted")
    try:
        yield folder
    except BaseException:
        # What went wrong is told by the caller; a stick that is gone cannot be let go.
        if drive.folder is None:
            with suppress(DriveTrouble):
                let_go(drive, call)
        raise
    if drive.folder is None:
        let_go(drive, call)


def _drives(entry: dict[str, Any], *, removable: bool, model: str) -> list[Drive]:
    removable = removable or bool(entry["rm"] or entry["hotplug"] or entry["tran"] == "usb")
    model = str(entry["model"] or model).strip()
    found = [
        drive
        for child in entry.get("children", ())
        for drive in _drives(child, removable=removable, model=model)
    ]
    kind = entry["fstype"]
    if removable and kind and kind not in _NOT_FOR_FILES and entry["type"] in ("disk", "part"):
        folders = [Path(folder) for folder in entry["mountpoints"] if folder]
        found.append(
            Drive(
                device=entry["path"],
                name=plain(str(entry["label"] or model or entry["path"])).strip(),
                size_bytes=int(entry["size"] or 0),
                folder=folders[0] if folders else None,
                read_only=bool(entry["ro"]),
            )
        )
    return found
