"""Who takes part in a simulated evening: a voice that nobody hears, and the truth."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from coach.session import events as ev


class SilentVoice:
    """Nobody listens; the runner needs somebody to talk to."""

    def poll(self) -> list[Any]:
        return []

    def say(self, text: str, **_: Any) -> None:
        pass

    def silence(self) -> None:
        pass

    def close(self) -> None:
        pass


@dataclass
class Truth:
    """What the owner was told: which spot is held, since when, at most until when."""

    held_ns: list[int]
    holding: tuple[int, int, int] | None = None

    def told(self, events: Sequence[ev.Event]) -> None:
        for event in events:
            if isinstance(event, ev.HoldStarted):
                self.holding = (event.spot, event.at_ns, event.at_ns + event.left_ns)
            elif isinstance(event, ev.HoldEnded):
                self.lift(event.at_ns)

    def lift(self, now_ns: int) -> None:
        """The head comes off the spot."""
        if self.holding is not None:
            spot, since_ns, until_ns = self.holding
            self.held_ns[spot] += max(0, min(now_ns, until_ns) - since_ns)
            self.holding = None
