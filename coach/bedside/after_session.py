"""After a session: what is still to be asked about it, each answer into the diary at once."""

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.bedside.flow import Flow, ask, tell
from coach.journal.diary import DiaryError, read_diary, write_entry
from coach.journal.diary_entries import AfterSession, answers_of
from coach.journal.disk import DISK, Disk
from coach.journal.journal import JournalError, journal_files, read_journal
from coach.journal.journal_lines import Stamp
from coach.language import _
from coach.plan.model import Plan
from coach.record.after_questions import (
    after_entry,
    after_questions,
    next_lines,
    vet_signs,
    vet_signs_due,
)
from coach.record.dog_course import read_course
from coach.record.tally import SessionTally, TallyError, tally_of
from coach.session.questions import Answer, Asking

# Reasons of a stop that say nothing about why.
UNSAID = frozenset({"asked", "closed"})


@dataclass(slots=True, kw_only=True)
class SessionAfter:
    """The questions about the session in ``journal`` of the dog with ``folder``.

    ``plan`` is None when the plan is no longer at hand: then nothing is said about the next
    session. ``kept`` is where what the journals come down to is kept.
    """

    folder: Path
    dog: str
    journal: Path
    stamp: Callable[[], Stamp]
    plan: Plan | None = None
    by: str = ""
    kept: Path | None = None
    disk: Disk = DISK
    _closed: SessionTally | None = None

    @property
    def session(self) -> str:
        """Its name in the diary."""
        return self.journal.stem

    def answered(self) -> AfterSession:
        """What the diary has about it."""
        found = answers_of(read_diary(self.folder).entries)
        return found.get(self.session, AfterSession(session=self.session))

    def asking(self) -> Asking:
        """What is still to be asked; nothing about a session in which nothing began."""
        if not self.began():
            return Asking(questions=())
        return after_questions(self.dog, stopped=self.unsaid(), answered=self.answered())

    def began(self) -> bool:
        """Whether anything began in it that can be asked about."""
        tally = self._tally()
        return tally is not None and tally.state != "not_begun"

    def unsaid(self) -> bool:
        """Whether it was stopped and its log does not say why."""
        tally = self._tally()
        return tally is not None and tally.state == "stopped" and tally.reason in UNSAID

    def keep(self, question: str, answer: Answer) -> str:
        """Write one answer down; "" when it is on the disk, else a sentence for the owner."""
        try:
            entry = after_entry(self.session, question, answer, by=self.by)
            write_entry(self.folder, entry, dog=self.dog, stamp=self.stamp, disk=self.disk)
        except DiaryError as error:
            return _("This could not be written down: {why}").format(why=error)
        return ""

    def closing(self) -> tuple[str, ...]:
        """When the next session may be, and for which signs to phone the vet."""
        lines: list[str] = []
        tally = self._tally()
        if tally is not None and tally.state != "not_begun":
            lines += self._next(tally)
        answered = self.answered()
        reason = answered.stop_reason or (None if tally is None else tally.reason)
        answers: dict[str, Any] = {**answered.model_dump(), "stop_reason": reason}
        if vet_signs_due(answers, first=self._first()):
            lines += vet_signs(self.dog)
        return tuple(lines)

    def _next(self, tally: SessionTally) -> tuple[str, ...]:
        """The next session, by the calendar of the course and the gap that the plan keeps."""
        if self.plan is None:
            return ()
        calendar = read_course(self.plan, self.folder, kept=self.kept)
        following = calendar.next
        return next_lines(
            due=None if following is None else following.day,
            not_before=calendar.not_before,
            over=bool(calendar.dues) and following is None,
            gap_hours=self.plan.limits.least_hours_between,
            now=datetime.datetime.fromisoformat(tally.ended_wall),
            trusted=tally.trust != "unknown",
        )

    def _first(self) -> bool:
        """Whether no other session of this dog ever began."""
        return not any(
            (tally := _tally_in(path)) is not None and tally.state != "not_begun"
            for path in reversed(journal_files(self.journal.parent))
            if path != self.journal
        )

    def _tally(self) -> SessionTally | None:
        # A closed log does not change, and the owner waits for the screen after a stop.
        if self._closed is None:
            tally = _tally_in(self.journal)
            if tally is None or not tally.closed:
                return tally
            self._closed = tally
        return self._closed


def _tally_in(path: Path) -> SessionTally | None:
    try:
        return tally_of(read_journal(path).lines)
    except (JournalError, TallyError):
        # A stick that was pulled out, a damaged log: said by tally and verify.
        return None


def answered_later(session: SessionAfter) -> Flow[None]:
    """Ask what is still open about a session that is over, and tell what follows from it."""
    yield from ask(session.asking(), title=session.dog, keep=session.keep)
    yield from tell(*session.closing(), title=session.dog)
