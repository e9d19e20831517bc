"""Every choice by one key alone: two presses in a row open them, each press steps, waiting takes.

The first choice is to leave everything as it is, so that an owner who pressed twice by mistake
loses nothing. Pure but for the clock that is handed in.

In a pause the first press starts nothing at once: it waits :data:`PAIR_NS` for a second one.

* No second press: the session is carried on.
* A second press in time: nothing is started, and the choices are open.
* A second press that comes later, up to :data:`TWICE_NS` after the first: the session, which had
  just been carried on, is paused again, and the choices are open.
* A third press, and each one after it, is the next choice; waiting :data:`DWELL_NS` takes it.

A key that is held down is one press. Stop by its own key never waits.
"""

from collections.abc import Callable, Iterable

from coach.language import _
from coach.screens.key_bar_layout import Tap
from coach.units import NS_PER_S

# So soon after the last press is the second of two. Common practice, no source.
TWICE_NS = 12 * NS_PER_S // 10
# So long a press in a pause waits for a second one. Longer than two taps of a slow hand are apart,
# short enough to wait for with the head on the spot. Common practice, no source.
PAIR_NS = 7 * NS_PER_S // 10
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
        self._first_ns: int | None = None
        self._carried_on = False

    def first(self, at_ns: int) -> None:
        """A press in a pause: it waits for a second one."""
        self._first_ns = at_ns

    @property
    def pairs(self) -> bool:
        """Whether a press waits for a second one."""
        return self._first_ns is not None

    @property
    def due_ns(self) -> int | None:
        """When a press has waited long enough for a second one; None where none waits."""
        return None if self._first_ns is None else self._first_ns + PAIR_NS

    def alone(self) -> bool:
        """Whether the press that waited stayed alone: carry on now. True once."""
        if self.due_ns is None or self._mono_ns() < self.due_ns:
            return False
        self._first_ns = None
        self._carried_on = True
        return True

    def too_late(self) -> bool:
        """Whether the press before has just carried on: the second of two came late. Once."""
        carried_on, self._carried_on = self._carried_on, False
        return carried_on

    def twice(self, at_ns: int) -> bool:
        """Whether the press that came at ``at_ns`` is the second of two in a row."""
        before_ns, self._pressed_ns = self._pressed_ns, at_ns
        return before_ns is not None and at_ns - before_ns < TWICE_NS

    def open(self, taps: Iterable[Tap], *, as_it_is: bool = True) -> None:
        """Offer ``taps``, after the choice to leave all ``as_it_is`` where there is one."""
        self._first_ns, self._carried_on = None, False
        choices = [(tap.id, tap.label) for tap in taps if tap.id not in LEFT_OUT]
        self._choices = (*((("", _("leave as it is")),) if as_it_is else ()), *choices)
        self._at, self._since_ns = 0, self._mono_ns()

    def close(self) -> None:
        """Offer nothing any more; what was pressed before is not in a row with what follows."""
        self._choices = ()
        self._pressed_ns = self._first_ns = None
        self._carried_on = False

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
        if self.pairs:
            return (_("Going on. Press again now for all choices."),)
        if not self._choices:
            return ()
        left_s = -(-(DWELL_NS - (self._mono_ns() - self._since_ns)) // NS_PER_S)
        return (
            _("{choice}? Wait {seconds} s to choose it. SPACE: next choice.").format(
                choice=self._choices[self._at][1].upper(), seconds=max(0, left_s)
            ),
        )
