"""Every choice by one key alone: two presses in a row open them, each press steps, waiting takes.

The first choice is to leave everything as it is, so that an owner who pressed twice by mistake
loses nothing. Pure but for the clock that is handed in.
"""

from collections.abc import Callable, Iterable

from coach.language import _
from coach.screens.key_bar_layout import Tap
from coach.units import NS_PER_S

# So soon after the last press is the second of two. Common practice, no source.
TWICE_NS = 12 * NS_PER_S // 10
DWELL_NS = 3 * NS_PER_S
LEFT_OUT = frozenset({"look", "picture"})


class Stepping:
    """The choices that are being stepped through, if any."""

    def __init__(self, mono_ns: Callable[[], int]) -> None:
        self._mono_ns = mono_ns
        self._pressed_ns: int | None = None
        self._choices: tuple[tuple[str, str], ...] = ()
        self._at = 0
        self._since_ns = 0

    def twice(self, at_ns: int) -> bool:
        """Whether the press that came at ``at_ns`` is the second of two in a row."""
        before_ns, self._pressed_ns = self._pressed_ns, at_ns
        return before_ns is not None and at_ns - before_ns < TWICE_NS

    def open(self, taps: Iterable[Tap]) -> None:
        """Offer ``taps``, after the choice to leave all as it is."""
        choices = [(tap.id, tap.label) for tap in taps if tap.id not in LEFT_OUT]
        self._choices = (("", _("change nothing")), *choices)
        self._at, self._since_ns = 0, self._mono_ns()

    def close(self) -> None:
        """Offer nothing any more; what was pressed before is not in a row with what follows."""
        self._choices = ()
        self._pressed_ns = None

    def step(self) -> str:
        """On to the next choice; its words, or "" when none are offered."""
        if not self._choices:
            return ""
        self._at = (self._at + 1) % len(self._choices)
        self._since_ns = self._pressed_ns = self._mono_ns()
        return self._choices[self._at][1]

    def due(self) -> str:
        """The id of the choice on which the key has stayed long enough, once; else ""."""
        if not self._choices or self._mono_ns() - self._since_ns < DWELL_NS:
            return ""
        chosen = self._choices[self._at][0]
        self.close()
        return chosen

    @property
    def told(self) -> tuple[str, ...]:
        """What is shown meanwhile; () when nothing is offered."""
        if not self._choices:
            return ()
        left_s = -(-(DWELL_NS - (self._mono_ns() - self._since_ns)) // NS_PER_S)
        return (
            _("{choice}? Wait {seconds} s for yes. SPACE: another choice.").format(
                choice=self._choices[self._at][1].upper(), seconds=max(0, left_s)
            ),
        )
