"""A screen's keys, each press of which is done once, however the key bounces or repeats."""

from collections.abc import Callable

from coach.units import NS_PER_S
from coach.voice.key_input import REPEAT_NS, Presses, Verdict


class OnePress:
    """Hands each press on once, with the time at which the key went down.

    Args:
        do: does what a key asks that went down then.
        mono_ns: monotonic time.
        later: calls a function after so many seconds, as the timers of screens do.
    """

    def __init__(
        self,
        do: Callable[[str, int], None],
        *,
        mono_ns: Callable[[], int],
        later: Callable[[float, Callable[[], None]], object],
    ) -> None:
        self._do = do
        self._mono_ns = mono_ns
        self._later = later
        self._armed = False
        self.anew()

    def anew(self) -> None:
        """Something else is asked from now on: a key that is still down means nothing to it."""
        self._since_ns = self._mono_ns()
        self._keys: dict[str, Presses] = {}
        self._waiting: tuple[str, int] | None = None

    @property
    def waits(self) -> bool:
        """Whether a key has arrived of which nobody knows yet if it is held down."""
        return self._waiting is not None

    def press(self, key: str, *, pairs: bool = False) -> Verdict:
        """``key`` arrived. What only counts if the key is not held down is done by a timer.

        ``pairs``: a second press soon after the first is one of its own, not a bounce.
        """
        if self._waiting is not None and self._waiting[0] != key:
            self._settle()
        now_ns = self._mono_ns()
        verdict = self._of(key).press(now_ns, pairs=pairs)
        self._waiting = (key, now_ns) if verdict == "wait" else None
        if verdict == "press":
            self._do(key, now_ns)
        elif verdict == "wait":
            self._arm()
        return verdict

    def urgent(self, key: str) -> bool:
        """``key`` arrived, whose caller does it at once, repeats and all: whether it is new.

        What waits is forgotten: nothing that was pressed before a stop may come after it.
        """
        self._forget()
        now_ns = self._mono_ns()
        verdict = self._of(key).press(now_ns)
        if verdict == "wait":
            self._waiting = (key, now_ns)
            self._forget()
        return verdict == "press"

    def beat(self) -> None:
        """Do what has waited long enough."""
        if self._waiting is not None and self._mono_ns() - self._waiting[1] >= REPEAT_NS:
            self._settle()

    def _arm(self) -> None:
        if not self._armed:
            self._armed = True
            self._later(REPEAT_NS / NS_PER_S, self._rung)

    def _rung(self) -> None:
        self._armed = False
        self.beat()
        if self._waiting is not None:
            self._arm()

    def _settle(self) -> None:
        """What waits was a press."""
        waiting = self._waiting
        self._forget()
        if waiting is not None:
            self._do(*waiting)

    def _forget(self) -> None:
        if self._waiting is not None:
            key, at_ns = self._waiting
            self._of(key).due(at_ns + REPEAT_NS)
            self._waiting = None

    def _of(self, key: str) -> Presses:
        return self._keys.setdefault(key, Presses(self._since_ns))
