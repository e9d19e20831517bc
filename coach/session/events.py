"""What happened in a session. The journal keeps these; everything else reads them.

``at_ns`` is the moment by the session's monotonic clock. A hold ends at its deadline, so the
``at_ns`` of its end can lie a little before the moment at which the line is written.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, ClassVar, Literal, get_args

from coach.session.commands import PAUSE_REASONS, SKIP_REASONS, STOP_REASONS

HoldEndWhy = Literal["complete", "paused", "skipped", "again", "back", "stopped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Base of all events: a moment, ns by the session's monotonic clock."""

    kind: ClassVar[str]
    at_ns: int

    def __post_init__(self) -> None:
        for name in ("at_ns", "spot", "left_ns", "given_ns"):
            value = getattr(self, name, 0)
            if not isinstance(value, int) or value < 0:
                raise ValueError(f"{self.kind}: {name} must be a whole number >= 0, not {value!r}")
        allowed = _REASONS.get(self.kind)
        if allowed is not None and self.reason not in allowed:  # type: ignore[attr-defined]
            raise ValueError(f"{self.kind}: unknown reason {self.reason!r}")  # type: ignore[attr-defined]

    def payload(self) -> dict[str, Any]:
        """The event's own fields, as plain JSON values."""
        return {each.name: getattr(self, each.name) for each in fields(self)}


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionStarted(Event):
    """The owner said go; the first move begins."""

    kind: ClassVar[str] = "session_started"


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveStarted(Event):
    """On the way to a spot. ``until_ns`` is None when the coach waits for a key."""

    kind: ClassVar[str] = "move_started"
    spot: int
    until_ns: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldStarted(Event):
    """The head is said to be on the spot; ``left_ns`` are still to be given."""

    kind: ClassVar[str] = "hold_started"
    spot: int
    left_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Heartbeat(Event):
    """Still holding; ``given_ns`` since this hold started. All that a pulled plug may lose."""

    kind: ClassVar[str] = "heartbeat"
    spot: int
    given_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldEnded(Event):
    """The hold is over; ``given_ns`` since it started, and why it ended."""

    kind: ClassVar[str] = "hold_ended"
    spot: int
    given_ns: int
    reason: HoldEndWhy


@dataclass(frozen=True, slots=True, kw_only=True)
class Paused(Event):
    """Nothing is counted until the session is carried on."""

    kind: ClassVar[str] = "paused"
    spot: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedOn(Event):
    """The pause is over."""

    kind: ClassVar[str] = "carried_on"
    spot: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotSkipped(Event):
    """The rest of this spot is left out."""

    kind: ClassVar[str] = "spot_skipped"
    spot: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotAgain(Event):
    """The owner asked for the whole spot once more, on top of what it had."""

    kind: ClassVar[str] = "spot_again"
    spot: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WentBack(Event):
    """The owner returned to an earlier spot."""

    kind: ClassVar[str] = "went_back"
    spot: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionStopped(Event):
    """Ended before the last spot."""

    kind: ClassVar[str] = "session_stopped"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionFinished(Event):
    """Every spot was offered."""

    kind: ClassVar[str] = "session_finished"


_REASONS: Mapping[str, tuple[str, ...]] = {
    "hold_ended": get_args(HoldEndWhy),
    "paused": PAUSE_REASONS,
    "spot_skipped": SKIP_REASONS,
    "session_stopped": STOP_REASONS,
}

EVENT_KINDS: Mapping[str, type[Event]] = {
    event.kind: event
    for event in (
        SessionStarted,
        MoveStarted,
        HoldStarted,
        Heartbeat,
        HoldEnded,
        Paused,
        CarriedOn,
        SpotSkipped,
        SpotAgain,
        WentBack,
        SessionStopped,
        SessionFinished,
    )
}
