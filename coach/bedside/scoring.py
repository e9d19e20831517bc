"""How the dog is doing: asks by the plan's rhythm and writes the scores into the diary."""

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from coach.bedside.flow import Flow, ask
from coach.bedside.score_questions import (
    named,
    naming_questions,
    score_due,
    score_entry,
    score_questions,
)
from coach.journal.diary import DiaryError, read_diary, write_entry
from coach.journal.diary_entries import Entry, FunctionScore, activities_of
from coach.journal.disk import DISK, Disk
from coach.journal.journal_lines import Stamp
from coach.language import _
from coach.plan.model import Scores
from coach.session.questions import Answer, Asking


@dataclass(slots=True, kw_only=True)
class Scoring:
    """The scores of the dog with ``folder``; ``wishes`` is the plan's table ``[scores]``."""

    folder: Path
    dog: str
    stamp: Callable[[], Stamp]
    wishes: Scores = field(default_factory=Scores)
    by: str = ""
    disk: Disk = DISK

    def due(self, today: datetime.date) -> bool:
        """Whether the plan asks for a score today."""
        said = [
            (datetime.datetime.fromisoformat(told.wall).date(), told.entry)
            for told in read_diary(self.folder, FunctionScore).told
        ]
        return score_due(said, every_days=self.wishes.every_days, today=today)

    @property
    def activities(self) -> tuple[str, ...]:
        """What is asked about: what the plan names, else what the household named last."""
        return tuple(self.wishes.activities or activities_of(read_diary(self.folder).entries))

    def round(self) -> "ScoreRound":
        """The scores, to be asked now."""
        return ScoreRound(scoring=self, activities=self.activities)

    def naming(self) -> "NamingRound":
        """The activities, to be named."""
        return NamingRound(scoring=self)

    def write(self, entry: Entry) -> str:
        """Into the diary; "" when it is there, else a sentence for the owner."""
        try:
            write_entry(self.folder, entry, dog=self.dog, stamp=self.stamp, disk=self.disk)
        except DiaryError as error:
            return _("This could not be written down: {why}").format(why=error)
        return ""


@dataclass(slots=True, kw_only=True)
class ScoreRound:
    """One round of scores. They are one entry, written by :meth:`finish`."""

    scoring: Scoring
    activities: tuple[str, ...]
    answers: dict[str, Answer] = field(default_factory=dict)

    def asking(self) -> Asking:
        """The questions. What was answered at other times is not shown."""
        return score_questions(
            self.scoring.dog,
            activities=self.activities,
            instrument=self.scoring.wishes.instrument,
        )

    def keep(self, question: str, answer: Answer) -> str:
        """Keep an answer until the round is over."""
        self.answers[question] = answer
        return ""

    def finish(self) -> str:
        """Write what was answered; "" when it is written or there is nothing to write."""
        entry = score_entry(
            self.answers,
            activities=self.activities,
            instrument=self.scoring.wishes.instrument,
            by=self.scoring.by,
        )
        return "" if entry is None else self.scoring.write(entry)


@dataclass(slots=True, kw_only=True)
class NamingRound:
    """The household names its activities."""

    scoring: Scoring
    answers: dict[str, Answer] = field(default_factory=dict)

    def asking(self) -> Asking:
        """The questions."""
        return naming_questions(self.scoring.dog)

    def keep(self, question: str, answer: Answer) -> str:
        """Keep an answer until the round is over; a second time the same is refused."""
        others = {str(said).casefold() for other, said in self.answers.items() if other != question}
        if str(answer).casefold() in others:
            return _("You have named this one before.")
        self.answers[question] = answer
        return ""

    def finish(self) -> str:
        """Write the names; "" when they are written or there are too few to write."""
        entry = named(self.answers, by=self.scoring.by)
        return "" if entry is None else self.scoring.write(entry)


@dataclass(slots=True, kw_only=True)
class Told:
    """How it went: whether anything was written, why not, and whether too few were named."""

    written: bool = False
    too_few: bool = False
    problem: str = ""

    def lines(self) -> tuple[str, ...]:
        """What the owner reads of it."""
        if self.problem:
            return (self.problem,)
        few = _("Too few to watch: the activities will be asked again next time.")
        done = _("Written down.") if self.written else _("Nothing was written down.")
        return (*((few,) if self.too_few else ()), done)


def scored(scoring: Scoring) -> Flow[Told]:
    """Ask for the activities if none are named yet, then for the scores, and write them."""
    told = Told()
    scores: ScoreRound | None = None
    try:
        if not scoring.activities:
            naming = scoring.naming()
            yield from ask(naming.asking(), title=scoring.dog, keep=naming.keep)
            told.problem = naming.finish()
            told.too_few = bool(naming.answers) and not scoring.activities and not told.problem
        scores = scoring.round()
        yield from ask(scores.asking(), title=scoring.dog, keep=scores.keep)
    finally:
        # Also when nobody is there any more: what was said is said.
        if scores is not None:
            told.written = bool(scores.answers)
            told.problem = told.problem or scores.finish()
    return told
