"""Homes with many sessions: real journals of an invented dog, written without waiting.

Sessions come from the real machine with a seeded owner who now and then skips a spot or stops
early; what was given is counted here, apart from the record, from the moments of the holds.
"""

import datetime
import random
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.journal.journal_lines import CLOSED, GENESIS, OPENED, Stamp, encode
from coach.plan.spots import Spot
from coach.session import commands as cmd
from coach.session.events import Event
from coach.session.machine import OVER, Machine, Options
from coach.units import NS_PER_S
from tests.sim.people import Truth
from tests.worlds import header_for, spots_for

FIRST = datetime.datetime(2015, 1, 1, 19, tzinfo=datetime.timezone(datetime.timedelta(hours=1)))
KINDS = 16


@dataclass(frozen=True)
class Evening:
    """One way in which a session went: its events, and nanoseconds given on each spot."""

    spots: tuple[Spot, ...]
    events: tuple[Event, ...]
    given_ns: tuple[int, ...]


def evening(seed: int, hold_s: Sequence[int]) -> Evening:
    """A whole session; every seed but 0 skips a spot, and one in four is stopped early."""
    dice = random.Random(seed)
    spots = spots_for(hold_s, move_s=3)
    machine = Machine(spots, Options())
    skipped = dice.randrange(len(spots)) if seed else None
    stops = dice.randrange(1, len(spots)) if seed % 4 == 1 else None
    truth = Truth([0] * len(spots))
    now_ns = NS_PER_S
    events = list(machine.do(cmd.Start(), now_ns).events)
    while machine.phase not in OVER:
        deadline_ns = machine.next_deadline(now_ns)
        assert deadline_ns is not None
        now_ns = deadline_ns
        found = list(machine.tick(now_ns).events)
        at = machine.sitting.index
        if at == stops and machine.phase not in OVER:
            found += machine.do(cmd.Stop("no_time"), now_ns).events
        elif at == skipped and machine.phase not in OVER:
            skipped = None
            found += machine.do(cmd.Skip("sore"), now_ns).events
        events += found
    truth.told(events)
    return Evening(spots, tuple(events), tuple(truth.held_ns))


def write_session(
    folder: Path,
    number: int,
    one: Evening,
    *,
    begins: datetime.datetime,
    revision: int = 1,
    power_uw: int = 500_000,
    closed: bool = True,
    trust: Any = "synchronised",
    dog: str = "Pip",
    plan_id: str = "demo",
    digest: str = "ab" * 32,
) -> Path:
    """The journal of one session, as the coach would have written it."""
    header = header_for(one.spots, power_uw=power_uw)
    header["plan"] = {**header["plan"], "id": plan_id, "revision": revision, "digest": digest}
    header["dog"] = {**header["dog"], "name": dog}
    lines: list[tuple[str, dict[str, Any], int]] = [(OPENED, header, 0)]
    lines += [(event.kind, event.payload(), event.at_ns) for event in one.events]
    if closed:
        planned = [spot.hold_ns for spot in one.spots]
        totals = {"finished": True, "given_ns": list(one.given_ns), "planned_ns": planned}
        lines.append((CLOSED, totals, one.events[-1].at_ns))
    content, total = b"", GENESIS
    parts = []
    for seq, (kind, data, at_ns) in enumerate(lines, start=1):
        wall = begins + datetime.timedelta(microseconds=at_ns // 1000)
        stamp = Stamp(
            mono_ns=at_ns,
            boot_id=f"boot-{number}",
            wall=wall.isoformat(timespec="milliseconds"),
            trust=trust,
        )
        line, total = encode(seq=seq, stamp=stamp, kind=kind, data=data, previous=total)
        parts.append(line)
    content = b"".join(parts)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{number:06d}-{begins:%Y%m%dT%H%M%S}-{plan_id}-r{revision}.jsonl"
    path.write_bytes(content)
    return path


def write_home(
    folder: Path, sessions: int, *, hold_s: Sequence[int] = (4, 3, 2, 2), first: int = 1
) -> list[Evening]:
    """So many daily sessions, a new plan every half year; returns what went on in each."""
    kinds = [evening(seed, hold_s) for seed in range(KINDS)]
    went = [kinds[number % KINDS] for number in range(first, first + sessions)]
    for number, one in enumerate(went, start=first):
        begins = FIRST + datetime.timedelta(days=number)
        plan_id, revision = f"demo-{number // 180}", 1 + number % 180 // 90
        write_session(folder, number, one, begins=begins, plan_id=plan_id, revision=revision)
    return went
