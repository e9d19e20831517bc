"""A disk that can fail at every write: crash, fill up, break, write short, lie about syncing."""

import errno
import os
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from coach.journal.disk import Disk

FAULTS = (
    "crash before write",
    "crash in write",
    "crash after write",
    "crash in sync",
    "disk full",
    "I/O error in write",
    "I/O error in sync",
    "short writes",
    "sync that lies",
    "slow sync",
)


class PulledPlug(BaseException):
    """The process ends here. Nothing may catch it."""


@dataclass(slots=True)
class Fault:
    """Strike at the write or sync with this number, counted from the start of this life."""

    kind: str
    at: int
    # A full disk stays full for so many calls.
    calls: int = 1


@dataclass
class SimDisk(Disk):
    """Real files below; what is not synced may be gone after a power cut."""

    dice: random.Random
    faults: list[Fault] = field(default_factory=list)
    struck: Counter[str] = field(default_factory=Counter)
    dead: bool = False
    calls: int = 0
    # What happens while the disk takes its time.
    waits: Callable[[], None] = lambda: None
    fds: set[int] = field(default_factory=set)
    paths: dict[int, Path] = field(default_factory=dict)
    safe: dict[Path, int] = field(default_factory=dict)

    def _strikes(self, *kinds: str) -> str:
        if self.dead:
            raise PulledPlug
        for fault in self.faults:
            if fault.kind in kinds and fault.at <= self.calls < fault.at + fault.calls:
                self.struck[fault.kind] += 1
                return fault.kind
        return ""

    def _die(self) -> None:
        self.dead = True
        raise PulledPlug

    def lock(self, folder: Path, since: str) -> int:
        fd = super().lock(folder, since)
        self.fds.add(fd)
        return fd

    def create(self, path: Path) -> int:
        return self._opened(super().create(path), path)

    def reopen(self, path: Path) -> int:
        return self._opened(super().reopen(path), path)

    def _opened(self, fd: int, path: Path) -> int:
        self.fds.add(fd)
        self.paths[fd] = path
        self.safe.setdefault(path, path.stat().st_size)
        return fd

    def write(self, fd: int, data: bytes) -> int:
        self.calls += 1
        match self._strikes(*FAULTS[:3], *FAULTS[4:6], FAULTS[7]):
            case "crash before write":
                self._die()
            case "crash in write":
                os.write(fd, data[: self.dice.randint(0, len(data) - 1)])
                self._die()
            case "crash after write":
                os.write(fd, data)
                self._die()
            case "disk full":
                return self._some(fd, data, errno.ENOSPC)
            case "I/O error in write":
                return self._some(fd, data, errno.EIO)
            case "short writes" if len(data) > 1:
                return os.write(fd, data[: self.dice.randrange(1, len(data))])
        return os.write(fd, data)

    def _some(self, fd: int, data: bytes, error: int) -> int:
        fits = self.dice.choice([0, 0, 1, len(data) // 2, len(data) - 1])
        if fits == 0 or len(data) == 1:
            raise OSError(error, os.strerror(error))
        # The rest of this line fails at the next call.
        self.faults.append(
            Fault("disk full" if error == errno.ENOSPC else "I/O error in write", self.calls + 1)
        )
        return os.write(fd, data[:fits])

    def sync(self, fd: int) -> None:
        match self._strikes("crash in sync", "I/O error in sync", "sync that lies", "slow sync"):
            case "slow sync":
                self.waits()
            case "crash in sync":
                self._die()
            case "I/O error in sync":
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            case "sync that lies":
                return
        path = self.paths[fd]
        self.safe[path] = path.stat().st_size

    def sync_folder(self, folder: Path) -> None:
        if self.dead:
            raise PulledPlug

    def remove(self, path: Path) -> None:
        if self.dead:
            raise PulledPlug
        super().remove(path)

    def close(self, fd: int) -> None:
        if self.dead:
            raise PulledPlug
        self.fds.discard(fd)
        super().close(fd)

    def bury(self, *, power_cut: bool) -> int:
        """The process is gone; after a power cut so is some of what was not synced.

        Returns how many synced-or-not bytes were lost.
        """
        self.dead = True
        for fd in self.fds:
            os.close(fd)
        self.fds.clear()
        lost = 0
        if power_cut:
            for path, safe in self.safe.items():
                size = path.stat().st_size if path.exists() else 0
                if size > safe:
                    keep = self.dice.randint(safe, size)
                    lost += size - keep
                    os.truncate(path, keep)
        return lost
