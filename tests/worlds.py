"""Shared by tests: small invented sessions, a clock that obeys, journals without waiting."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coach.body.regions import Side
from coach.journal.disk import Disk
from coach.journal.journal_lines import Stamp, Trust
from coach.plan.spots import Spot
from coach.session.events import Event
from coach.session.machine import Options
from coach.units import NS_PER_S

SIDES: tuple[Side, ...] = ("left", "right")


def spots_for(hold_s: Sequence[int | float], *, move_s: int = 8) -> tuple[Spot, ...]:
    """Spots down an invented lower back, one for each hold."""
    return tuple(
        Spot(
            index=index,
            region="lumbar",
            side=SIDES[index % 2],
            aspect=None,
            number=index // 2 + 1,
            of=(len(hold_s) + 1) // 2,
            hold_ns=round(seconds * NS_PER_S),
            move_ns=move_s * NS_PER_S,
        )
        for index, seconds in enumerate(hold_s)
    )


def header_for(
    spots: Sequence[Spot],
    options: Options | None = None,
    *,
    power_uw: int = 500_000,
    beam_area_um2: int | None = 100_000_000,
    rehearsal: bool = False,
) -> dict[str, Any]:
    """A header as a session writes it. Dog, people and laser are invented."""
    options = options or Options()
    return {
        "program": "0.0.0",
        "plan": {"id": "demo", "revision": 1, "digest": "ab" * 32, "prescriber": "Dr. Invented"},
        "dog": {"name": "Pip", "weight_kg": "7.5"},
        "rehearsal": rehearsal,
        "laser": {
            "label": "invented laser",
            "wavelength_nm": ["905"],
            "mean_power_uw": power_uw,
            "beam_area_um2": beam_area_um2,
        },
        "spots": [
            {
                "index": spot.index,
                "region": spot.region,
                "side": spot.side,
                "aspect": spot.aspect,
                "number": spot.number,
                "of": spot.of,
                "hold_ns": spot.hold_ns,
                "move_ns": spot.move_ns,
                "settle": spot.settle,
                "note": spot.note,
            }
            for spot in spots
        ],
        "options": {
            "advance": options.advance,
            "laser_button": options.laser_button,
            "repeats_allowed": options.repeats_allowed,
        },
    }


@dataclass(slots=True)
class Clock:
    """A clock that only moves when told to; ``stamp`` is what a journal asks for."""

    now_ns: int = 1_000 * NS_PER_S
    boot_id: str = "boot-one"
    wall: str = "2025-01-01T19:00:00.000+01:00"
    trust: Trust = "synchronised"

    def stamp(self) -> Stamp:
        return Stamp(mono_ns=self.now_ns, boot_id=self.boot_id, wall=self.wall, trust=self.trust)


class QuickDisk(Disk):
    """The real calls without the waits for the platter; what is tested is not the platter."""

    def sync(self, fd: int) -> None:
        pass

    def sync_folder(self, folder: Path) -> None:
        pass


@dataclass(slots=True)
class Lines:
    """Events as the decoded lines of a journal would hold them, without a file."""

    header: dict[str, Any]
    lines: list[dict[str, Any]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.add("session_opened", self.header)

    def add(self, kind: str, data: dict[str, Any]) -> None:
        self.lines.append(
            {
                "v": 1,
                "seq": len(self.lines) + 1,
                "mono_ns": data.get("at_ns", 0),
                "boot": "boot-one",
                "wall": f"2025-01-01T19:00:{len(self.lines) % 60:02d}.000+01:00",
                "trust": "synchronised",
                "kind": kind,
                "data": data,
            }
        )

    def add_events(self, events: Iterable[Event]) -> None:
        for event in events:
            self.add(event.kind, event.payload())
