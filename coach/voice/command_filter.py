"""From what was heard to what is obeyed. Pure.

An utterance has an age: what was said longer than :data:`TOO_OLD_NS` ago is not what the owner
wants now, and is dropped. A stop is never dropped while time is counted: an old one pauses.

A phrase that comes while the coach speaks, or so shortly after that its words still sound in the
room, is not obeyed: it may be the coach itself. Only a phrase that stops is obeyed at any time,
because a stop too many costs a session and a stop too few may cost skin.
"""

from collections import deque
from dataclasses import dataclass, field

from coach.language import N_
from coach.voice.phrases import ACTION_OF, ECHO_NS, NS_PER_S, Utterance, phrase_of

# From the end of a phrase to its report p99 is under 0.9 s on a machine that keeps up (measured on
# x86-64, 2 cores); the rest is for the poll of the session.
TOO_OLD_NS = 3 * NS_PER_S // 2

# A plan can say that each hold waits for a hand; then no word may start one.
STARTS_A_HOLD = frozenset({"go", "carry_on"})

NOT_NOW = N_("Not now.")
USE_THE_KEY = N_("Use the key for that.")
ANSWERS = (NOT_NOW, USE_THE_KEY)


@dataclass(frozen=True, slots=True)
class Heard:
    """A command that was heard.

    Attributes:
        phrase: as it was said.
        action: a key of :data:`coach.voice.phrases.COMMANDS`.
        needs_hand: the plan leaves it to the key.
    """

    phrase: str
    action: str
    needs_hand: bool


@dataclass(slots=True, kw_only=True)
class Obedience:
    """Knows when the coach spoke. ``hand_starts``: the plan lets only a hand start a hold."""

    hand_starts: bool
    _spoke: deque[tuple[int, int]] = field(default_factory=lambda: deque(maxlen=20))

    def spoke(self, begins_ns: int, ends_ns: int) -> None:
        """The coach spoke, or will speak, for so long (monotonic ns)."""
        self._spoke.append((begins_ns, ends_ns))

    def taken(self, utterance: Utterance, now_ns: int, *, counting: bool) -> Heard | None:
        """The command in ``utterance`` at ``now_ns`` (monotonic), or None.

        ``counting``: seconds are being counted, or will be without a hand.
        """
        phrase = phrase_of(utterance.words)
        if phrase is None:
            return None
        action = ACTION_OF[phrase]
        if now_ns - utterance.ends_ns > TOO_OLD_NS:
            return Heard(phrase, "pause", False) if action == "stop" and counting else None
        if action != "stop" and self._over_speech(utterance):
            return None
        return Heard(phrase, action, self.hand_starts and action in STARTS_A_HOLD)

    def _over_speech(self, utterance: Utterance) -> bool:
        return any(
            begins_ns < utterance.ends_ns and utterance.begins_ns < ends_ns + ECHO_NS
            for begins_ns, ends_ns in self._spoke
        )
