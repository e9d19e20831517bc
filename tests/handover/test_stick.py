"""Onto a stick: a real FAT file system where the machine allows, and one that fails on purpose."""

import errno
import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from coach.appliance.drives import Drive, DriveTrouble, borrowed, drives, let_go, mounted
from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.copy_verified import Calls, NotCarried, carry
from coach.journal.signing import DeviceKey
from tests.handover.dogs import session

pytestmark = pytest.mark.usefixtures("plain_report")

# As lsblk of util-linux 2.38 prints it (its man page names the columns): a card for the system, a
# stick in two parts, one of them mounted. Makers and names are invented.
LSBLK = {
    "blockdevices": [
        {
            "path": "/dev/mmcblk0", "label": None, "model": None, "size": 31914983424,
            "fstype": None, "rm": False, "hotplug": False, "mountpoints": [None],
            "type": "disk", "ro": False, "tran": None,
            "children": [
                {
                    "path": "/dev/mmcblk0p2", "label": "rootfs", "model": None, "size": 31640000000,
                    "fstype": "ext4", "rm": False, "hotplug": False, "mountpoints": ["/"],
                    "type": "part", "ro": False, "tran": None,
                }
            ],
        },
        {
            "path": "/dev/sda", "label": None, "model": "Invented Stick ", "size": 8004304896,
            "fstype": None, "rm": True, "hotplug": True, "mountpoints": [None],
            "type": "disk", "ro": False, "tran": "usb",
            "children": [
                {
                    "path": "/dev/sda1", "label": "VET 🐕", "model": None, "size": 8000000000,
                    "fstype": "vfat", "rm": True, "hotplug": True,
                    "mountpoints": [None, "/media/pi/VET"],
                    "type": "part", "ro": False, "tran": None,
                },
                {
                    "path": "/dev/sda2", "label": None, "model": None, "size": 500000000,
                    "fstype": "exfat", "rm": True, "hotplug": True, "mountpoints": [None],
                    "type": "part", "ro": True, "tran": None,
                },
            ],
        },
    ]
}  # fmt: skip


def test_sticks_are_found_by_name_and_size_and_the_system_s_card_is_not() -> None:
    found = drives(lambda _: json.dumps(LSBLK))
    assert [(d.name, d.size_text, d.folder, d.read_only) for d in found] == [
        ("VET 🐕", "8 GB", Path("/media/pi/VET"), False),
        ("Invented Stick", "500 MB", None, True),
    ]


def test_a_stick_that_nobody_mounted_is_mounted_and_let_go() -> None:
    said: list[list[str]] = []
    state = json.loads(json.dumps(LSBLK))

    def call(command: object) -> str:
        words = [str(word) for word in command]  # type: ignore[attr-defined]
        said.append(words)
        if words[:2] == ["udisksctl", "mount"]:
            state["blockdevices"][1]["children"][1]["mountpoints"] = ["/media/x"]
        return json.dumps(state)

    drive = drives(call)[1]
    assert mounted(drive, call).folder == Path("/media/x")
    let_go(drive, call)
    unmount = ["udisksctl", "unmount", "--no-user-interaction", "-b", "/dev/sda2"]
    assert said[-1] == unmount
    said.clear()
    with borrowed(drive, call) as folder:
        assert folder == Path("/media/x")
        assert unmount not in said
    assert said.count(unmount) == 1
    with pytest.raises(NotCarried), borrowed(drive, call):
        raise NotCarried("full")
    assert said.count(unmount) == 2
    theirs = drives(call)[0]
    with borrowed(theirs, call) as folder:
        assert folder == theirs.folder
    assert said.count(unmount) == 2


@pytest.mark.parametrize("text", ["", "[]", '{"blockdevices": [{}]}', "\0"])
def test_what_is_not_understood_is_told(text: str) -> None:
    with pytest.raises(DriveTrouble, match="not understood"):
        drives(lambda _: text)


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """A folder as a handover has them."""
    folder = tmp_path / "pip-2026-11-10-to-2026-11-20"
    (folder / "journals").mkdir(parents=True)
    (folder / "report.pdf").write_bytes(os.urandom(1_200_000))
    (folder / "journals" / "000001-20261110T190000-demo-r1.jsonl").write_bytes(b"x" * 5000)
    (folder / "empty.csv").write_bytes(b"")
    return folder


def tree(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()
    }


# Ways to a FAT file system on this machine: make it, mount it (the kernel, else by FUSE).
WAYS = (
    (["mkfs.vfat", "-n", "VET"], ["mount"]),
    (["mkfs.exfat", "-L", "VET"], ["mount"]),
    (["mkfs.exfat", "-L", "VET"], ["mount.exfat-fuse"]),
)


@pytest.fixture
def fat(tmp_path: Path) -> Iterator[Path]:
    """A real FAT or exFAT file system of 16 MB; skipped where none can be mounted."""
    image, folder = tmp_path / "stick.img", tmp_path / "stick"
    folder.mkdir()
    device = ""

    def works(*command: str | Path) -> bool:
        return subprocess.run(command, capture_output=True, timeout=60).returncode == 0

    for make, mount in WAYS:
        if os.geteuid() != 0 or shutil.which(make[0]) is None or shutil.which(mount[0]) is None:
            continue
        image.write_bytes(b"")
        os.truncate(image, 16 << 20)
        looped = subprocess.run(["losetup", "--find", "--show", image], capture_output=True)
        device = looped.stdout.decode().strip()
        if device and works(*make, device) and works(*mount, device, folder):
            break
        if device:
            works("losetup", "--detach", device)
    else:
        pytest.skip("no FAT can be mounted here: not root, no kernel driver, or no tools for it")
    try:
        yield folder
    finally:
        works("umount", folder)
        works("losetup", "--detach", device)


def test_a_real_fat_stick_takes_it_whole_and_never_twice_under_one_name(
    fat: Path, source: Path
) -> None:
    assert carry(source, fat) == fat / source.name
    assert carry(source, fat) == fat / f"{source.name}-2"
    (fat / "holiday.bin").write_bytes(bytes(11 << 20))
    with pytest.raises(NotCarried, match=r"the stick has \d+ kB left; \d+ kB are needed"):
        carry(source, fat)
    assert sorted(path.name for path in fat.iterdir()) == [
        "holiday.bin",
        source.name,
        f"{source.name}-2",
    ]
    for path in fat.glob("pip*"):
        assert tree(path) == tree(source)


class Failing(Calls):
    """Fails at the n-th call with an error; with ``lost`` everything after it fails too."""

    def __init__(self, at: int, number: int, *, lost: bool) -> None:
        self.left, self.number, self.lost = at, number, lost

    def _count(self) -> None:
        self.left -= 1
        if self.left == 0 or (self.lost and self.left < 0):
            raise OSError(self.number, os.strerror(self.number))

    def make_folder(self, path: Path) -> None:
        self._count()
        super().make_folder(path)

    def write(self, path: Path, chunks: Iterator[bytes]) -> None:
        def some() -> Iterator[bytes]:
            for chunk in chunks:
                yield chunk
                # Pulled out, or full, in the middle of a file.
                self._count()

        super().write(path, some())

    def sync_folder(self, path: Path) -> None:
        self._count()
        super().sync_folder(path)

    def digest(self, path: Path) -> str:
        self._count()
        return super().digest(path)

    def rename(self, path: Path, name: Path) -> None:
        self._count()
        super().rename(path, name)

    def remove(self, path: Path) -> None:
        if self.lost and self.left <= 0:
            raise OSError(self.number, os.strerror(self.number))
        super().remove(path)


@pytest.mark.parametrize(
    ("number", "lost", "told"),
    [
        (errno.ENOSPC, False, "the stick is full"),
        (errno.EIO, True, "was pulled out"),
    ],
)
def test_wherever_it_fails_no_half_handover_bears_its_name(
    number: int, lost: bool, told: str, source: Path, tmp_path: Path
) -> None:
    told_texts: list[str] = []
    for at in range(1, 40):
        stick = tmp_path / f"stick-{at}"
        stick.mkdir()
        try:
            carry(source, stick, Failing(at, number, lost=lost))
            break
        except NotCarried as error:
            told_texts.append(str(error))
        shown = [path for path in stick.iterdir() if not path.name.startswith(".")]
        # A stick that went after the name was given has the whole of it.
        assert all(tree(path) == tree(source) for path in shown)
        # After a stick that was pulled out the next try works.
        assert tree(carry(source, stick)) == tree(source)
    assert len(told_texts) >= 11
    assert all(told in text for text in told_texts), told_texts


def test_a_stick_that_loses_what_it_names_is_found_out(source: Path, tmp_path: Path) -> None:
    class Losing(Calls):
        def rename(self, path: Path, name: Path) -> None:
            super().rename(path, name)
            if not name.name.startswith("."):
                # A FUSE driver for FAT was seen to do so, without an error.
                shutil.rmtree(name)
                name.mkdir()

    stick = tmp_path / "stick"
    stick.mkdir()
    with pytest.raises(NotCarried, match="reads back otherwise"):
        carry(source, stick, Losing())
    assert list(stick.iterdir()) == []


def test_a_stick_that_forgets_is_found_out(source: Path, tmp_path: Path) -> None:
    class Forgetting(Calls):
        def write(self, path: Path, chunks: Iterator[bytes]) -> None:
            super().write(path, chunks)
            if path.stat().st_size > 4000:
                with path.open("r+b") as stream:
                    stream.seek(2000)
                    stream.write(b"\0")

    stick = tmp_path / "stick"
    stick.mkdir()
    with pytest.raises(NotCarried, match="reads back otherwise"):
        carry(source, stick, Forgetting())
    assert list(stick.iterdir()) == []


def test_the_command_offers_writes_and_says_when_it_is_safe(
    dog: Path,
    key: DeviceKey,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    session(dog, "2026-11-10", key=key)
    stick = tmp_path / "stick"
    stick.mkdir()
    drive = Drive(
        device="/dev/none", name="VET", size_bytes=8 * 10**9, folder=stick, read_only=False
    )
    monkeypatch.setattr("coach.cli.stick.drives", list)
    assert run(["handover", "--stick"]) == Exit.BAD_INPUT
    assert "No stick is plugged in" in capsys.readouterr().err
    monkeypatch.setattr("coach.cli.stick.drives", lambda: [drive, drive])
    monkeypatch.setattr("builtins.input", lambda: "7")
    assert run(["handover", "--stick"]) == Exit.BAD_INPUT
    assert list(stick.iterdir()) == []
    monkeypatch.setattr("builtins.input", lambda: "2")
    assert run(["handover", "--stick", "--zip"]) == Exit.DONE
    out = capsys.readouterr().out
    assert "1: VET, 8 GB" in out
    assert "It is safe to pull the stick out now." in out
    (packed,) = stick.iterdir()
    assert run(["verify", str(packed)]) == Exit.DONE
    monkeypatch.setattr("coach.handover.copy_verified.free_bytes", lambda _: 1000)
    assert run(["handover", "--stick"]) == Exit.NOT_WRITTEN
    assert "the stick has 1 kB left" in capsys.readouterr().err
