"""What the session machine works with: phases, options, all that it knows, what it gives back."""

from dataclasses import dataclass, replace
from enum import Enum
from typing import Literal

from coach.body.position import Position
from coach.body.regions import Side
from coach.language import N_
from coach.plan.care import Reminders
from coach.session import events as ev
from coach.session.cues import Cue
from coach.units import NS_PER_S

Advance = Literal["auto", "wait"]


class Phase(Enum):
    """Where the session stands."""

    READY = "ready"
    MOVING = "moving"
    HOLDING = "holding"
    PAUSED = "paused"
    FINISHED = "finished"
    STOPPED = "stopped"


OVER = frozenset({Phase.FINISHED, Phase.STOPPED})


NOT_NOW = {
    Phase.READY: N_("that is not possible before the session has begun"),
    Phase.MOVING: N_("that is not possible on the way to a spot"),
    Phase.HOLDING: N_("that is not possible while a spot is held"),
    Phase.PAUSED: N_("that is not possible while the session is paused"),
    Phase.FINISHED: N_("that is not possible after the session has finished"),
    Phase.STOPPED: N_("that is not possible after the session was stopped"),
}


class NotNow(Exception):  # noqa: N818  (it is an answer to the owner, not a failure)
    """The command means nothing in this phase. Nothing has changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How the session is run.

    Attributes:
        advance: ``auto`` moves on by itself, ``wait`` waits for the one key at each spot.
        laser_button: the owner starts the laser at each spot by a button on it.
        repeats_allowed: how often a spot may be given again, by the plan.
        heartbeat_ns: how often a hold is written down while it runs.
        lead_ns: a hold started by hand begins this much later, with its tone.
        patience_ns: how long the coach waits for the key before a hold until it pauses.
        owner_sits: side of the dog where the owner sits, or None if that was not said.
        tips: what is said once more on the way to a spot, by its index.
        reminders: how much the screen says about technique.
    """

    advance: Advance = "auto"
    laser_button: bool = False
    repeats_allowed: int = 1
    heartbeat_ns: int = NS_PER_S
    lead_ns: int = 0
    patience_ns: int = 10 * 60 * NS_PER_S
    owner_sits: Side | None = None
    tips: tuple[tuple[int, str], ...] = ()
    reminders: Reminders = "full"

    def tip(self, index: int) -> str:
        """What is said on the way to the spot ``index``, or ""."""
        return dict(self.tips).get(index, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """All that the machine knows. ``given_ns`` excludes the hold that is running.

    ``lies`` is how the dog lay for the last hold, None before the first one and after a cut.
    ``turning`` means that a turn has been asked for and no hold has followed yet, so that
    nobody knows how far it came. ``answer_ns`` is when the coach will have waited long enough for
    the key.
    """

    phase: Phase
    index: int
    given_ns: tuple[int, ...]
    granted_ns: tuple[int, ...]
    repeats: tuple[int, ...]
    skipped: frozenset[int]
    now_ns: int
    since_ns: int = 0
    until_ns: int | None = None
    beat_ns: int | None = None
    resume: Phase | None = None
    came_from: int | None = None
    lies: Position | None = None
    turning: bool = False
    answer_ns: int | None = None

    @property
    def left_ns(self) -> int:
        """Granted but not yet banked on the current spot."""
        return self.granted_ns[self.index] - self.given_ns[self.index]

    @property
    def following(self) -> int | None:
        """The next spot that has something left and was not left out, or None."""
        for index in range(self.index + 1, len(self.given_ns)):
            if self.given_ns[index] < self.granted_ns[index] and index not in self.skipped:
                return index
        return None

    def halted(self, phase: Phase, *, resume: Phase | None = None) -> "Sitting":
        """In ``phase``, with nothing running and nothing due."""
        return replace(
            self, phase=phase, until_ns=None, beat_ns=None, answer_ns=None, resume=resume
        )

    def held_ns(self, now_ns: int) -> int:
        """Given in the hold that is running."""
        if self.phase is not Phase.HOLDING or self.until_ns is None:
            return 0
        return max(0, min(now_ns, self.until_ns) - self.since_ns)


@dataclass(frozen=True, slots=True)
class Step:
    """What came of a command or a tick.

    ``interrupts`` means: whatever is being said or was lined up no longer holds.
    """

    events: tuple[ev.Event, ...] = ()
    cues: tuple[Cue, ...] = ()
    interrupts: bool = False

    def __add__(self, other: "Step") -> "Step":
        kept = () if other.interrupts else self.cues
        return Step(
            self.events + other.events, kept + other.cues, self.interrupts or other.interrupts
        )


NOTHING = Step()
Result = tuple[Sitting, Step]


def with_value(values: tuple[int, ...], index: int, value: int) -> tuple[int, ...]:
    """``values`` with another one at ``index``."""
    return (*values[:index], value, *values[index + 1 :])
