"""What the owner can ask of the session machine. Keys, pedal and spoken words all end here."""

from dataclasses import dataclass
from typing import Literal, get_args

PauseReason = Literal["asked", "dog_moved", "contact_lost", "dog_unhappy", "no_answer"]
SkipReason = Literal["asked", "sore", "out_of_reach", "dog_objects", "lump_or_wound"]
StopReason = Literal[
    "asked", "dog_unhappy", "hot_skin", "no_time", "closed", "not_ready", "went_wrong"
]

PAUSE_REASONS: tuple[str, ...] = get_args(PauseReason)
SKIP_REASONS: tuple[str, ...] = get_args(SkipReason)
STOP_REASONS: tuple[str, ...] = get_args(StopReason)


@dataclass(frozen=True, slots=True)
class Start:
    """Everything is ready: begin with the first spot."""


@dataclass(frozen=True, slots=True)
class Go:
    """The head is in place: end the move now."""


@dataclass(frozen=True, slots=True)
class Pause:
    """Stop counting at once."""

    reason: PauseReason = "asked"

    def __post_init__(self) -> None:
        _check(self.reason, PAUSE_REASONS)


@dataclass(frozen=True, slots=True)
class CarryOn:
    """The head is back on the spot: count the seconds that are left."""


@dataclass(frozen=True, slots=True)
class Skip:
    """Leave this spot as it is and go to the next."""

    reason: SkipReason = "asked"

    def __post_init__(self) -> None:
        _check(self.reason, SKIP_REASONS)


@dataclass(frozen=True, slots=True)
class Again:
    """Give this spot once more from the beginning."""


@dataclass(frozen=True, slots=True)
class Back:
    """Return to the spot before."""


@dataclass(frozen=True, slots=True)
class Say:
    """Repeat where we are and how long is left."""


@dataclass(frozen=True, slots=True)
class Stop:
    """End the session now."""

    reason: StopReason = "asked"

    def __post_init__(self) -> None:
        _check(self.reason, STOP_REASONS)


Command = Start | Go | Pause | CarryOn | Skip | Again | Back | Say | Stop


def _check(reason: str, allowed: tuple[str, ...]) -> None:
    if reason not in allowed:
        raise ValueError(f"reason {reason!r}: allowed are {', '.join(allowed)}")
