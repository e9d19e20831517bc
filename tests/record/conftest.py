"""A small real journal, written by a real machine through the real journal."""

from collections.abc import Callable
from pathlib import Path

import pytest

from coach.journal.disk import Disk
from coach.journal.journal import Journal
from coach.session import commands as cmd
from coach.session.machine import Machine, Options
from coach.units import NS_PER_S
from tests.worlds import Clock, QuickDisk, header_for, spots_for

MakeJournal = Callable[..., Path]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A dog's folder with a name that needs care."""
    return tmp_path / "Prinz Otto 🐕"


@pytest.fixture
def make_journal(folder: Path) -> MakeJournal:
    """Writes one whole short session and returns its path."""

    def make(
        *,
        closed: bool = True,
        hold_s: tuple[int, ...] = (3, 2),
        disk: Disk | None = None,
        key: object = None,
        wall: str = "2025-01-01T19:00:00.000+01:00",
    ) -> Path:
        clock = Clock(wall=wall)
        machine = Machine(spots_for(hold_s, move_s=3), Options())
        journal = Journal.create(
            folder,
            header=header_for(machine.spots),
            stamp=clock.stamp,
            disk=disk or QuickDisk(),
        )
        try:
            events = machine.do(cmd.Start(), clock.now_ns).events
            while True:
                for event in events:
                    journal.append(event.kind, event.payload())
                deadline_ns = machine.next_deadline(clock.now_ns)
                if deadline_ns is None:
                    break
                clock.now_ns = deadline_ns
                events = machine.tick(clock.now_ns).events
            if closed:
                totals = {"given_ns": list(machine.sitting.given_ns)}
                journal.finish(totals, signer=key)  # type: ignore[arg-type]
        finally:
            journal.close()
        assert sum(machine.sitting.given_ns) == sum(hold_s) * NS_PER_S
        return journal.path

    return make
