"""A dog's course on the calendar, from its plan and the sessions it had."""

import datetime
import os
from collections.abc import Collection, Iterable
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from coach.journal.diary import read_diary
from coach.journal.diary_entries import Correction
from coach.journal.journal import JournalUnreadable
from coach.plan.calendar import Calendar, Given, due_dates
from coach.plan.model import Plan
from coach.record.adherence import Adherence, adherence
from coach.record.corrected_session import read_amended
from coach.record.session_length import Between
from coach.record.session_row import Brief, as_corrected
from coach.record.summary_cache import summary_of
from coach.record.tally import TallyError

LOCALTIME = Path("/etc/localtime")


def local_zone() -> datetime.tzinfo:
    """The zone of this computer with its changes of summer time, as far as it is known."""
    name = os.environ.get("TZ", "").removeprefix(":")
    try:
        if name:
            return ZoneInfo(name)
        with LOCALTIME.open("rb") as told:
            return ZoneInfo.from_file(told)
    except (OSError, ValueError, ZoneInfoNotFoundError):
        # The offset that holds now is better than none.
        return datetime.datetime.now().astimezone().tzinfo or datetime.UTC


def given_of(brief: Brief) -> Given:
    """A session as the calendar needs it."""
    return Given(
        number=brief.number,
        plan_id=brief.plan_id,
        plan_revision=brief.plan_revision,
        began=datetime.datetime.fromisoformat(brief.opened_wall),
        ended=datetime.datetime.fromisoformat(brief.light_wall) if brief.light_trusted else None,
        trusted=brief.trust != "unknown",
        share=None if brief.damage else brief.share,
        complete=not brief.damage and brief.share == 1,
    )


def course_of(
    plan: Plan,
    briefs: Iterable[Brief],
    corrections: Iterable[Correction],
    *,
    journals: Path,
    today: datetime.date,
    zone: datetime.tzinfo,
) -> Calendar:
    """The calendar of ``plan`` after the sessions of its dog and what was corrected of them.

    The journals of corrected sessions are read once more, in the folder ``journals``.
    """
    changed = {one.session for one in corrections if one.what != "note"}
    mine = (brief for brief in briefs if brief.dog == plan.dog.name and brief.matters)
    as_it_was = (_corrected(brief, changed, journals) for brief in mine)
    given = [given_of(brief) for brief in as_it_was if brief is not None and brief.matters]
    return due_dates(plan, None, given, today, zone)


def _corrected(brief: Brief, changed: Collection[str], journals: Path) -> Brief | None:
    """``brief`` after its corrections; None when it was not this dog's."""
    if Path(brief.name).stem not in changed:
        return brief
    try:
        one = read_amended(journals / brief.name).corrected
    except (JournalUnreadable, TallyError):
        # It changed since the summary was made, which is told where the summary is made.
        return brief
    return None if one is None else as_corrected(brief, one)


def read_pace(folder: Path, dog: str, *, kept: Path | None) -> list[Between]:
    """The time between the holds of the dog's sessions, in their order, the latest of them."""
    blocks = summary_of(folder / "journals", kept=kept).blocks
    return [
        Between(brief.between_planned_ns, brief.between_ns)
        for block in blocks[-2:]
        for brief in block.briefs
        if brief.dog == dog and brief.between_planned_ns
    ]


def read_course(plan: Plan, folder: Path, *, kept: Path | None) -> Calendar:
    """The same from the dog's ``folder``, now."""
    zone = local_zone()
    return course_of(
        plan,
        summary_of(folder / "journals", kept=kept).briefs,
        [one for one in read_diary(folder, Correction).entries if isinstance(one, Correction)],
        journals=folder / "journals",
        today=datetime.datetime.now(zone).date(),
        zone=zone,
    )


def figures_of(plan: Plan, calendar: Calendar) -> Adherence:
    """How the sessions went against the days, with the windows of the plan."""
    hours = plan.calendar.window_hours
    return adherence(
        calendar,
        window_days=plan.calendar.window_days,
        window=None if hours is None else datetime.timedelta(hours=float(hours)),
    )
