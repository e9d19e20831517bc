"""The readiness round as time passes: what is said when, and an owner who goes away. Pure.

Time comes in as integer ns. Every method gives back the sentences that are to be said.
"""

from dataclasses import dataclass

from coach.language import _
from coach.session import commands as cmd
from coach.session.readiness import Answer, Prompt, Round, all_ready, waiting
from coach.units import NS_PER_S

# An owner who has not answered for so long has gone to look for the eyewear. Common practice,
# no source.
AWAY_NS = 60 * NS_PER_S
# A question has been read after so long: 240 words a minute, slow reading by eye (from memory).
WORD_NS = NS_PER_S // 4
LEAST_READ_NS = 12 * NS_PER_S // 10
MOST_READ_NS = 5 * NS_PER_S // 2


def read_ns(prompt: Prompt) -> int:
    """How long a question is there before a key answers it: a row of presses answers nothing."""
    return min(MOST_READ_NS, max(LEAST_READ_NS, WORD_NS * len(prompt.lines[0].split())))


@dataclass(slots=True)
class Preparing:
    """A round that is being asked. ``round`` is where it stands, ``away``: nobody answers."""

    round: Round
    away: bool = False
    _asked: Prompt | None = None
    _since_ns: int = 0

    @property
    def asks(self) -> bool:
        """Whether something is still to be asked. Until then nothing may start."""
        return not self.round.verdict

    def tick(self, now_ns: int) -> tuple[str, ...]:
        """Ask what has not been asked yet, and tell once that the coach waits."""
        prompt = self.round.prompt
        if prompt is None:
            return ()
        if prompt != self._asked:
            self._asked, self._since_ns, self.away = prompt, now_ns, False
            return prompt.said
        if not self.away and now_ns - self._since_ns >= AWAY_NS:
            self.away = True
            return (waiting(),)
        return ()

    def deadline_ns(self, now_ns: int) -> int | None:
        """When :meth:`tick` has something to say; None if never."""
        if not self.asks or self.away:
            return None
        return max(now_ns, self._since_ns + AWAY_NS) if self._asked is not None else now_ns

    def one_key(self) -> Answer | None:
        """What the one big key answers; None where it calls back to an owner who was away, and
        where nothing is preset."""
        prompt = self.round.prompt
        if self.away or prompt is None:
            self._asked, self.away = None, False
            return None
        return prompt.options[0].answer if prompt.preset else None

    def go_to(self, following: Round, now_ns: int) -> tuple[str, ...]:
        """Go on to ``following``, the round after an answer that has been written down."""
        self.round = following
        if following.verdict == "go":
            return (all_ready(),)
        if following.verdict == "stop":
            return following.why_not
        if following.told:
            self._since_ns, self.away = now_ns, False
            prompt = following.prompt
            return (following.told, *(() if prompt is None else prompt.keys))
        return self.tick(now_ns)

    def command(self, command: cmd.Command, now_ns: int) -> tuple[str, ...]:
        """``Back`` or ``Say`` while the round is asked.

        Raises ValueError with a sentence for the owner for every other command.
        """
        prompt = self.round.prompt
        if isinstance(command, cmd.Back):
            self.round = self.round.back()
            return self.tick(now_ns)
        if isinstance(command, cmd.Say) and prompt is not None:
            self._since_ns, self.away = now_ns, False
            return prompt.said_again
        raise ValueError(_("the questions come first"))
