"""A dog's folder as weeks of sessions leave it. Dog, people and laser are invented."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from coach.journal.diary import write_entry
from coach.journal.diary_entries import Entry
from coach.journal.journal import Journal
from coach.journal.signing import DeviceKey
from coach.plan.spots import Spot
from coach.session import commands as cmd
from coach.session.machine import Machine, Options
from coach.units import NS_PER_S
from tests.worlds import Clock, QuickDisk, header_for, spots_for

# Holds of the usual session: left 1, right 1, left 2, right 2 of an invented lower back.
HOLDS_S = (30, 30, 40, 40)
PLAN = (Path(__file__).parent.parent.parent / "plans" / "demo-long-back.toml").read_text()


def wall(day: str, time: str = "19:00:00") -> str:
    """RFC 3339 in winter time of Berlin."""
    return f"{day}T{time}.000+01:00"


def session(
    folder: Path,
    day: str,
    *,
    dog: str = "Pip",
    key: DeviceKey | None = None,
    spots: Sequence[Spot] | None = None,
    stop_after: int | None = None,
    close: bool = True,
    helper: str = "",
    signals: Sequence[Mapping[str, Any]] = (),
    news: Sequence[Mapping[str, Any]] = (),
    header: Mapping[str, Any] | None = None,
    trust: str = "synchronised",
    commands: Sequence[tuple[int, cmd.Command]] = (),
) -> Path:
    """Hold a session through the real machine and journal; ``stop_after`` so many spots.

    ``commands`` are given so many seconds after the start.
    """
    machine = Machine(spots or spots_for(HOLDS_S, move_s=3), Options())
    clock = Clock(wall=wall(day), trust=trust)  # type: ignore[arg-type]
    head = header_for(machine.spots)
    head["dog"] = {"name": dog, "weight_kg": "7.5"}
    head |= header or {}
    journal = Journal.create(folder / "journals", header=head, stamp=clock.stamp, disk=QuickDisk())
    try:
        if helper:
            journal.append("helper", {"name": helper})
        for new in news:
            journal.append("whats_new", new)
        for seen in signals:
            journal.append("signals_seen", seen)
        began_ns = clock.now_ns
        step = machine.do(cmd.Start(), clock.now_ns)
        ended, left = 0, list(commands)
        while True:
            for event in step.events:
                journal.append(event.kind, event.payload())
                ended += event.kind == "hold_ended"
            if stop_after is not None and ended >= stop_after:
                stopped = machine.do(cmd.Stop(reason="dog_unhappy"), clock.now_ns)
                for event in stopped.events:
                    journal.append(event.kind, event.payload())
                break
            deadline_ns = machine.next_deadline(clock.now_ns)
            if deadline_ns is None:
                break
            if left and began_ns + left[0][0] * NS_PER_S <= deadline_ns:
                at_s, command = left.pop(0)
                clock.now_ns = began_ns + at_s * NS_PER_S
                step = machine.do(command, clock.now_ns)
                continue
            clock.now_ns = deadline_ns
            step = machine.tick(clock.now_ns)
        if close:
            journal.finish({"given_ns": list(machine.sitting.given_ns)}, signer=key)
    finally:
        journal.close()
    return journal.path


def said(folder: Path, *entries: Entry, dog: str = "Pip", day: str = "2026-11-20") -> None:
    """Write entries in the diary."""
    clock = Clock(wall=wall(day, "20:00:00"))
    for entry in entries:
        write_entry(folder, entry, dog=dog, stamp=clock.stamp, disk=QuickDisk())
