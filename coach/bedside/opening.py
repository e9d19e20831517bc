"""Opening the journal of a session: a new one, or the one that was cut off."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from coach.bedside.evening import Evening, NotStarted, SessionWish
from coach.bedside.flow import Flow, ask, tell
from coach.bedside.interrupted_session import (
    Unfinished,
    carry_on,
    close_cut_off,
    find_unfinished,
    moment_at,
)
from coach.bedside.permission import Permission, check_space, permission
from coach.journal.disk import held_by
from coach.journal.journal import Journal, JournalBusy, JournalError
from coach.journal.journal_lines import Signer, Stamp
from coach.language import _
from coach.paths import journal_folder
from coach.plan.files import PlanFile
from coach.plan.spots import Spot, all_ordered, spots_in
from coach.session.machine import Machine, Options
from coach.session.start_questions import (
    CUT_OFF,
    NOTHING,
    YES,
    carry_on_asking,
    cut_off_lines,
    reason_lines,
)
from coach.session.start_rules import may_carry_on
from coach.units import NS_PER_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The session that is to be opened."""

    plan_file: PlanFile
    header: Mapping[str, Any]
    spots: tuple[Spot, ...]
    options: Options
    stamp: Callable[[], Stamp]
    signer: Signer | None = None


def opened(evening: Evening, wish: SessionWish, wanted: Wanted) -> Flow[tuple[Journal, Machine]]:
    """The journal and the machine to go with it.

    Raises JournalBusy, JournalError, NotAllowed when no session may start now, and NotStarted
    when the owner wants none.
    """
    plan_file, stamp, options = wanted.plan_file, wanted.stamp, wanted.options
    folder = journal_folder(plan_file.plan.dog.name, rehearsal=wish.rehearsal)
    holder = held_by(folder)
    if holder is not None:
        raise JournalBusy(folder, holder)
    before = find_unfinished(folder)
    if before is not None:
        now = stamp()
        # Its own spots: a short session stays as short as it was begun.
        cut = spots_in(before.header["spots"])
        if (yield from _wanted(evening, wish, plan_file, before, now)):
            check_space(folder, cut, options)
            return carry_on(before, spots=cut, options=options, stamp=stamp, now_ns=now.mono_ns)
        close_cut_off(before, stamp=stamp, signer=wanted.signer)
        evening.notes.append(
            _("The session before was cut off and is closed: {file}").format(file=before.path.name)
        )
    against = None
    if wish.rehearsal:
        check_space(folder, wanted.spots, options)
    else:
        now = stamp()
        against = yield from permission(
            evening,
            wish,
            Permission(
                plan_file=plan_file,
                folder=folder,
                spots=wanted.spots,
                options=options,
                now=moment_at(now),
            ),
        )
    journal = Journal.create(folder, header=wanted.header, stamp=stamp)
    if against is not None:
        try:
            journal.append("overruled", {"at_ns": now.mono_ns, **against})
        except JournalError:
            journal.close()
            raise
    return journal, Machine(wanted.spots, options)


def _wanted(
    evening: Evening, wish: SessionWish, plan_file: PlanFile, before: Unfinished, now: Stamp
) -> Flow[bool]:
    """Whether the owner carries on with the session that was cut off. Raises NotStarted."""
    if wish.rehearsal or not before.can_carry_on:
        return False
    dog = plan_file.plan.dog.name
    closed = _("It is closed now. What was given is in the log.")
    if before.header["plan"]["digest"] != plan_file.digest:
        changed = _("The plan has changed since the session that was cut off.")
        yield from tell(changed, closed, title=dog)
        return False
    if not all_ordered(plan_file.plan, spots_in(before.header["spots"])):
        # Begun before a program was updated that then gave what nobody had ordered.
        extra = _("The session that was cut off has a spot that is not in your plan.")
        yield from tell(extra, closed, title=dog)
        return False
    within_s = plan_file.plan.limits.carry_on_minutes * 60
    reason = may_carry_on(ended=before.ended, now=moment_at(now), within_s=within_s)
    if reason is not None and not reason.owner_may:
        yield from tell(*reason_lines([reason]), closed, title=dog)
        return False
    remarks = () if reason is None else reason_lines([reason])
    if wish.carry_on is not None:
        evening.notes += remarks
        return wish.carry_on
    if not evening.attended:
        evening.notes.append(_("To carry on with a session that was cut off: --carry-on"))
        return False
    lines = (*remarks, *_where(before))
    answered = yield from ask(carry_on_asking(lines), title=dog)
    answer = answered.answers.get(CUT_OFF, NOTHING)
    if answer == NOTHING:
        raise NotStarted(_("nothing started"))
    return answer == YES


def _where(before: Unfinished) -> tuple[str, ...]:
    spots = spots_in(before.header["spots"])
    total = before.tally.total()
    last = next((s for s in before.tally.spots if s.outcome != "given"), before.tally.spots[-1])
    return cut_off_lines(
        ended=before.tally.ended_wall[11:16],
        given_s=total.given_ns // NS_PER_S,
        planned_s=total.planned_ns // NS_PER_S,
        spot=spots[last.index],
    )
