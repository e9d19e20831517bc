"""What all of one evening has in common, and the wish for a session and how it ended."""

import datetime
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from coach.appliance.clock import stamper
from coach.bedside.speech import Speech
from coach.journal.journal_lines import Stamp

Outcome = Literal[
    "done", "ended_early", "bad_input", "not_allowed", "busy", "not_written", "nothing"
]


def local_now() -> datetime.datetime:
    """The clock on the wall."""
    return datetime.datetime.now().astimezone()


@dataclass(slots=True, kw_only=True)
class Evening:
    """One evening.

    Attributes:
        speech: the one voice.
        attended: whether somebody is there who can answer; else nothing is asked.
        listens: whether spoken words are obeyed.
        version: of the program, for the journal.
        notes: what the owner must be told and has not been yet.
        driver_says: what the driver itself will say in a session, to be rendered ahead.
        mono_ns, wall: the clocks.
    """

    speech: Speech = field(default_factory=lambda: Speech(silent=True))
    attended: bool = True
    listens: bool = False
    version: str = ""
    notes: list[str] = field(default_factory=list)
    driver_says: Callable[[], Sequence[str]] = tuple
    mono_ns: Callable[[], int] = time.monotonic_ns
    wall: Callable[[], datetime.datetime] = local_now

    @property
    def stamp(self) -> Callable[[], Stamp]:
        """Stamps by the clocks of this computer."""
        return stamper(self.mono_ns)

    def today(self) -> datetime.date:
        """The local date."""
        return self.wall().date()

    def take_notes(self) -> tuple[str, ...]:
        """What has to be told; from now on it counts as told."""
        taken, self.notes = tuple(self.notes), []
        return taken


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionWish:
    """What kind of session is wished.

    Attributes:
        plan: the plan file; None for the dog's own.
        dog: the dog that is meant, by name; None when nobody said.
        rehearsal: with the laser off, never counted.
        listen: obey spoken words; None as the settings say.
        advance: go on by itself or by hand; None as the plan says.
        minutes: what fits into so many; None for all.
        owner_sits: the dog's side where the owner sits; None as the plan says.
        carry_on: carry on with a session that was cut off, or close it; None asks.
        by: who treats.
        because: why it starts where the plan leaves that to the owner; "" asks.
        lesson: meet the places first; None at the first rehearsal with the dog.
        speed: so many times as fast.
        questions: whether the readiness round is gone through.
    """

    plan: Path | None = None
    dog: str | None = None
    rehearsal: bool = False
    listen: bool | None = None
    advance: Literal["auto", "wait"] | None = None
    minutes: int | None = None
    owner_sits: Literal["left", "right"] | None = None
    carry_on: bool | None = None
    by: str = ""
    because: str = ""
    lesson: bool | None = None
    speed: int = 1
    questions: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a flow ended: in what way, why where it did not begin, and the journal if there is one.

    ``aloud`` is the part of ``problem`` that is worth speaking.
    """

    outcome: Outcome
    problem: str = ""
    aloud: str = ""
    journal: Path | None = None


class NotStarted(Exception):  # noqa: N818  (an answer to the owner, not a failure)
    """Nothing is started: why, and in what way."""

    def __init__(
        self, problem: str = "", *, outcome: Outcome = "not_allowed", aloud: str = ""
    ) -> None:
        super().__init__(problem)
        self.outcome: Outcome = outcome
        self.problem = problem
        self.aloud = aloud
