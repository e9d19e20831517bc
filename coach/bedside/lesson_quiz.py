"""The questions at the end of a lesson; how many were known goes into the diary."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from coach.bedside.lesson_pages import lesson_done, teach_back
from coach.journal.diary import DiaryError, read_diary, write_entry
from coach.journal.diary_entries import LessonDone
from coach.journal.journal_lines import Stamp
from coach.language import _
from coach.session.questions import Answer, Asking


@dataclass(slots=True, kw_only=True)
class Teaching:
    """The lesson with the dog that has ``folder``. ``answers`` are the first ones given."""

    folder: Path
    dog: str
    stamp: Callable[[], Stamp]
    by: str = ""
    answers: dict[str, Answer] = field(default_factory=dict)

    def had(self) -> bool:
        """Whether a lesson was gone through before."""
        return any(isinstance(entry, LessonDone) for entry in read_diary(self.folder).entries)

    def asking(self) -> Asking:
        """The questions."""
        return teach_back(self.dog)

    def keep(self, question: str, answer: Answer) -> str:
        """Keep the first answer to each question."""
        self.answers.setdefault(question, answer)
        return ""

    def finish(self) -> str:
        """Write the lesson down; "" when it is written or nothing was answered."""
        entry = lesson_done(self.answers, by=self.by)
        if entry is None:
            return ""
        try:
            write_entry(self.folder, entry, dog=self.dog, stamp=self.stamp)
        except DiaryError as error:
            return _("This could not be written down: {why}").format(why=error)
        return ""
