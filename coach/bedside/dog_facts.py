"""What is known of a dog at this moment, for the home screen. Reads only, but for the summary."""

import datetime
import tomllib
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from coach.bedside.home_status import Facts
from coach.bedside.interrupted_session import find_unfinished, moment_at
from coach.bedside.permission import needed_bytes
from coach.bedside.score_questions import score_due
from coach.journal.diary import DiaryReading, read_diary
from coach.journal.diary_entries import AfterSession, Correction, FunctionScore, answers_of
from coach.journal.disk import free_bytes, held_by
from coach.journal.journal_lines import Stamp
from coach.paths import JOURNALS, SUMMARY, dog_folder, state_folder
from coach.plan.files import PlanFile, load_plan
from coach.plan.problems import PlanProblems
from coach.plan.spots import spots_of
from coach.record.dog_course import course_of, local_zone
from coach.record.past_sessions import earlier_in
from coach.record.session_row import Brief
from coach.record.stop_rules import reasons_not_to_start
from coach.record.summary_cache import Summary, summary_of
from coach.record.weekly_check import Checked, checked
from coach.session.machine import Options
from coach.session.start_rules import Moment, Start, limits_of, may_carry_on, may_start

# Fields that are held against today's date.
BY_THE_CLOCK = frozenset({"plan.valid_until", "dog.measured_on"})


@dataclass(frozen=True, slots=True)
class Home:
    """A dog's folder, its plan if that can be used, and what is known."""

    folder: Path
    plan_file: PlanFile | None
    facts: Facts


def home_of(folder: Path, stamp: Stamp, zone: datetime.tzinfo) -> Home:
    """The dog with ``folder`` at the moment of ``stamp``; ``zone`` is that of its calendar."""
    now = moment_at(stamp)
    today = now.wall.astimezone(zone).date()
    path = folder / "plan.toml"
    plan_file, problem = _plan(path, today)
    journals = folder / JOURNALS
    summary = summary_of(journals, kept=folder / SUMMARY)
    diary = read_diary(folder, Correction, FunctionScore, AfterSession)
    name = diary.dog or folder.name
    if plan_file is not None:
        name = plan_file.plan.dog.name
    elif summary.blocks and any(summary.blocks[-1].dogs):
        name = summary.blocks[-1].dogs[-1]
    holder = held_by(journals)
    last = _last(summary, name)
    facts = Facts(
        dog=name,
        plan=path.exists(),
        plan_problem=problem,
        trusted=now.trusted,
        running="" if holder is None else str(holder),
        last=last,
        newer_unread=any(
            one.number > (last.number if last else 0)
            for one in summary.unread
            if not one.nothing_begun
        ),
        odd=tuple(_odd(summary, checked(folder))),
    )
    if plan_file is not None and dog_folder(name).name != folder.name:
        # As `coach session` refuses it: two plans of one dog, or a plan that was put elsewhere.
        wrong = f"it is for {name}, but lies in the folder {folder.name}"
        return Home(folder, None, replace(facts, dog=folder.name, plan_problem=wrong))
    if plan_file is not None:
        facts = _with_plan(facts, plan_file, folder, summary, diary, now, zone)
    return Home(folder, plan_file, facts)


def _with_plan(
    facts: Facts,
    plan_file: PlanFile,
    folder: Path,
    summary: Summary,
    diary: DiaryReading,
    now: Moment,
    zone: datetime.tzinfo,
) -> Facts:
    plan = plan_file.plan
    today = now.wall.astimezone(zone).date()
    start = Start(
        dog=plan.dog.name,
        chosen_dog=None,
        plan_id=plan.about.id,
        plan_revision=plan.about.revision,
        plan_digest=plan_file.digest,
        free_bytes=free_bytes(folder),
        needed_bytes=needed_bytes(spots_of(plan), Options()),
        stop_rules=reasons_not_to_start(plan, answers_of(diary.entries), today=today),
    )
    past = earlier_in(summary, plan.dog.name).past
    corrections = [entry for entry in diary.entries if isinstance(entry, Correction)]
    said = [(datetime.datetime.fromisoformat(told.wall).date(), told.entry) for told in diary.told]
    return replace(
        facts,
        cut_off="" if facts.running else _cut_off(plan_file, folder / JOURNALS, now),
        calendar=course_of(
            plan,
            _of_plan(summary, plan.about.id),
            corrections,
            journals=folder / JOURNALS,
            today=today,
            zone=zone,
        ),
        reasons=may_start(start, past=past, limits=limits_of(plan), now=now),
        score_due=score_due(said, every_days=plan.scores.every_days, today=today),
    )


def _cut_off(plan_file: PlanFile, journals: Path, now: Moment) -> str:
    """When the session that may still be carried on was cut off, or ""."""
    before = find_unfinished(journals)
    if before is None or not before.can_carry_on:
        return ""
    within_s = plan_file.plan.limits.carry_on_minutes * 60
    reason = may_carry_on(ended=before.ended, now=now, within_s=within_s)
    late = reason is not None and not reason.owner_may
    if late or before.header["plan"]["digest"] != plan_file.digest:
        return ""
    return before.tally.ended_wall[11:16]


def _plan(path: Path, today: datetime.date) -> tuple[PlanFile | None, str]:
    """The plan, also one that has run out; else what is wrong with it."""
    if not path.exists():
        return None, ""
    try:
        return load_plan(path, today=today), ""
    except PlanProblems as problems:
        if {one.field for one in problems.problems} <= BY_THE_CLOCK:
            with suppress(PlanProblems, OSError, ValueError, KeyError, TypeError):
                # Only its dates against today's: the guard tells these, and whether the clock
                # can be trusted at all.
                told = tomllib.loads(path.read_text(encoding="utf-8"))
                return load_plan(path, today=told["plan"]["valid_until"]), ""
        first, *more = problems.problems
        line = "" if first.line is None else f"line {first.line}, "
        told_of = f"{line}{first.field}: found {first.found}; allowed: {first.allowed}"
        return None, told_of + (f" (and {len(more)} more)" if more else "")


def _of_plan(summary: Summary, plan_id: str) -> list[Brief]:
    """The sessions under a plan, and the newest ones under others."""
    blocks = summary.blocks
    wanted = [b for b in blocks[:-2] if any(lit.plan_id == plan_id for lit in b.lit)]
    return [brief for block in (*wanted, *blocks[-2:]) for brief in block.briefs]


def _last(summary: Summary, dog: str) -> Brief | None:
    newest_first = (b for block in reversed(summary.blocks) for b in reversed(block.briefs))
    return next((brief for brief in newest_first if brief.counts(dog)), None)


def _odd(summary: Summary, last: Checked | None) -> list[str]:
    unread = [one.name for one in summary.unread if not one.nothing_begun]
    damaged = [block for block in summary.blocks if "" in block.dogs]
    found = unread + [b.name for block in damaged for b in block.briefs if b.damage]
    found += [] if last is None else last.wrong
    return list(dict.fromkeys(found))


def homes(stamp: Stamp) -> list[Home]:
    """Every dog at the moment of ``stamp``, in the order of their folders."""
    folders = sorted(path for path in (state_folder() / "dogs").glob("*") if path.is_dir())
    return [home_of(folder, stamp, local_zone()) for folder in folders]
