"""The course of a dog from its journals and its diary: sums after what was corrected. Reads only,
but for the summary that it keeps (:mod:`coach.record.summary_cache`)."""

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from coach.journal.diary import DiaryReading, read_diary
from coach.journal.diary_entries import Correction, FunctionScore
from coach.journal.journal import JournalUnreadable
from coach.record.corrected_session import read_amended
from coach.record.course_tally import Sums
from coach.record.session_row import Brief, as_corrected
from coach.record.summary_cache import Summary, summary_of
from coach.record.tally import TallyError


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """All sessions of a dog together.

    Attributes:
        dog: whose.
        sums: after the corrections.
        briefs: the sessions that count, with what was given after the corrections.
        corrected: sessions that were corrected, by what; the ones taken out are
            ``not_this_dog``.
        not_counted: sessions that were rehearsed or never begun.
        diary: scores and corrections of the household.
        summary: the sessions as logged.
        remarks: what people should know about the files.
    """

    dog: str
    sums: Sums
    briefs: tuple[Brief, ...]
    corrected: Counter[str]
    not_counted: int
    diary: DiaryReading
    summary: Summary
    remarks: tuple[str, ...]


def read_whole(journals: Path, dog: str, *, kept: Path | None) -> Whole:
    """The course of ``dog`` in the folder ``journals``, which lies beside its diary."""
    summary = summary_of(journals, kept=kept)
    diary = read_diary(journals.parent, Correction, FunctionScore)
    sums = summary.sums(dog)
    briefs = {brief.name: brief for brief in summary.counted(dog)}
    remarks = [*summary.remarks(dog), *diary.remarks]
    corrected: Counter[str] = Counter()
    for stem, whats in _corrections(diary).items():
        name = f"{stem}.jsonl"
        brief = briefs.get(name)
        if brief is None:
            remarks.append(f"{journals / name}: corrected, but not among the sessions that count")
            continue
        try:
            one = read_amended(journals / name)
        except (JournalUnreadable, TallyError) as error:
            remarks.append(str(error))
            continue
        corrected.update(whats)
        remarks += [remark for remark in one.remarks if remark not in remarks]
        sums.put(one.logged, -1)
        if one.corrected is None:
            del briefs[name]
            continue
        sums.put(one.corrected)
        briefs[name] = as_corrected(brief, one.corrected)
    return Whole(
        dog=dog,
        sums=sums,
        briefs=tuple(briefs.values()),
        corrected=corrected,
        not_counted=sum(brief.dog == dog and not brief.counts(dog) for brief in summary.briefs),
        diary=diary,
        summary=summary,
        remarks=tuple(remarks),
    )


def _corrections(diary: DiaryReading) -> dict[str, set[str]]:
    """What was corrected about each session; notes change nothing."""
    found: dict[str, set[str]] = {}
    for entry in diary.entries:
        if isinstance(entry, Correction) and entry.what != "note":
            found.setdefault(entry.session, set()).add(entry.what)
    return found
