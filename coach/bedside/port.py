"""What the screens need of whoever runs a session. The runner, a floor above, fits it."""

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from coach.record.session_length import Foretold
from coach.session.commands import Command
from coach.session.questions import Answer, Asking
from coach.session.readiness import Answer as RoundAnswer
from coach.session.view import View


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What the owner must see before the first spot: whose plan this is.

    Attributes:
        plan_id: the plan's own name.
        revision: of the plan, from 1.
        prescriber: who ordered it.
        laser: the laser as the prescriber calls it.
        laser_class: as printed on the laser, for instance ``3B``.
        note: the prescriber's words about the whole plan, or "".
        speed: session time runs so many times as fast as the clock on the wall (rehearsals).
        foretold: how long the session will take, in session time.
        remarks: what else is worth a look before the start, one line each.
        phone: whom to phone when something is wrong, by the plan, or "".
        phrases: what may be said instead of pressing a key, those that mean the same together.
    """

    plan_id: str
    revision: int
    prescriber: str
    laser: str
    laser_class: str
    note: str = ""
    speed: int = 1
    foretold: Foretold | None = None
    remarks: tuple[str, ...] = ()
    phrases: tuple[tuple[str, ...], ...] = ()
    phone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """What the owner sees afterwards: what was given and missed, and where it is written."""

    lines: tuple[str, ...]
    journal: Path


class Session(Protocol):
    """A running session as the screens drive it."""

    @property
    def changes(self) -> int:
        """Another number whenever something was done or told; time alone does not change it."""

    @property
    def poll_s(self) -> float | None:
        """How often to :meth:`tick` for the sake of what may be heard; None for never."""

    def view(self) -> View:
        """What to show now."""

    def tick(self) -> None:
        """Do what is due."""

    def do(self, command: Command) -> str | None:
        """Do what the owner asked; a short sentence if that cannot be done now."""

    def press(self) -> str | None:
        """The one big key; a short sentence if it means nothing now."""

    def answer(self, answer: RoundAnswer, line: str = "") -> str | None:
        """An answer in the readiness round; a short sentence if it fits no question.

        ``line``: the point that is answered, where a page has several.
        """

    def signs(self, seen: tuple[str, ...]) -> None:
        """The signs of a dog that is not happy, all that are marked now."""

    def went_wrong(self, what: str = "") -> bool:
        """Something went wrong: stop and be silent at once; ``what`` once it is known.

        Whether the log of the session has it: not when it had been closed before.
        """

    def tell(self, *sentences: str) -> None:
        """Say ``sentences`` after what is being said; nothing of the session waits for them."""

    def next_deadline_s(self) -> float | None:
        """Seconds by the clock on the wall until :meth:`tick` has something to do."""

    def opening(self) -> Opening:
        """Whose plan this is."""

    def ending(self) -> Ending:
        """What was given. Asked once the session is over."""


class Afterwards(Protocol):
    """What is asked about a session once it is over, and who keeps the answers."""

    def asking(self) -> Asking:
        """What is still to be asked."""

    def keep(self, question: str, answer: Answer) -> str:
        """Keep an answer at once; "" when it is kept, else a sentence for the owner."""

    def closing(self) -> tuple[str, ...]:
        """What the owner should know at the end, with what was answered so far."""
