"""Opening the journal of a session: a new one, or the one that was cut off."""

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from coach.bedside.interrupted_session import (
    Unfinished,
    carry_on,
    close_cut_off,
    find_unfinished,
    moment_at,
)
from coach.cli.allowed import check_space, overruled
from coach.cli.asking import NotStarted
from coach.journal.disk import held_by
from coach.journal.journal import Journal, JournalBusy, JournalError
from coach.journal.journal_lines import Signer, Stamp
from coach.language import _
from coach.plan.files import PlanFile
from coach.plan.spots import Spot, all_ordered, spots_in
from coach.session.machine import Machine, Options
from coach.session.start_questions import (
    CUT_OFF,
    NOTHING,
    YES,
    carry_on_asking,
    cut_off_lines,
    notice,
    reason_lines,
)
from coach.session.start_rules import may_carry_on
from coach.units import NS_PER_S

if TYPE_CHECKING:
    from coach.cli.asking import Ask


def opened(
    args: argparse.Namespace,
    plan_file: PlanFile,
    *,
    header: Mapping[str, Any],
    spots: tuple[Spot, ...],
    options: Options,
    stamp: Callable[[], Stamp],
    signer: Signer | None,
    ask: "Ask | None" = None,
) -> tuple[Journal, Machine]:
    """The journal and the machine to go with it. ``ask`` asks and tells on the screen.

    Raises JournalBusy, JournalError, NotAllowed when no session may start now, and NotStarted
    when the owner wants none.
    """
    from coach.paths import journal_folder

    folder = journal_folder(plan_file.plan.dog.name, rehearsal=args.rehearsal)
    holder = held_by(folder)
    if holder is not None:
        raise JournalBusy(folder, holder)
    before = find_unfinished(folder)
    if before is not None:
        now = stamp()
        # Its own spots: a short session stays as short as it was begun.
        cut = spots_in(before.header["spots"])
        if _wanted(args, plan_file, before, cut, now, ask):
            check_space(folder, cut, options)
            return carry_on(before, spots=cut, options=options, stamp=stamp, now_ns=now.mono_ns)
        close_cut_off(before, stamp=stamp, signer=signer)
        print(
            _("The session before was cut off and is closed: {file}").format(file=before.path.name),
            flush=True,
        )
    against = None
    if args.rehearsal:
        check_space(folder, spots, options)
    else:
        now = stamp()
        against = overruled(
            args,
            plan_file,
            folder=folder,
            spots=spots,
            options=options,
            now=moment_at(now),
            ask=ask,
        )
    journal = Journal.create(folder, header=header, stamp=stamp)
    if against is not None:
        try:
            journal.append("overruled", {"at_ns": now.mono_ns, **against})
        except JournalError:
            journal.close()
            raise
    return journal, Machine(spots, options)


def _wanted(
    args: argparse.Namespace,
    plan_file: PlanFile,
    before: Unfinished,
    spots: tuple[Spot, ...],
    now: Stamp,
    ask: "Ask | None",
) -> bool:
    """Whether the owner carries on with the session that was cut off. Raises NotStarted."""
    if args.rehearsal or not before.can_carry_on:
        return False
    if before.header["plan"]["digest"] != plan_file.digest:
        return _closes(ask, _("The plan has changed since the session that was cut off."))
    if not all_ordered(plan_file.plan, spots):
        # Begun before a program was updated that then gave what nobody had ordered.
        return _closes(ask, _("The session that was cut off has a spot that is not in your plan."))
    within_s = plan_file.plan.limits.carry_on_minutes * 60
    reason = may_carry_on(ended=before.ended, now=moment_at(now), within_s=within_s)
    if reason is not None and not reason.owner_may:
        return _closes(ask, *reason_lines([reason]))
    remarks = () if reason is None else reason_lines([reason])
    if args.carry_on is not None:
        for line in remarks:
            print(line, flush=True)
        return bool(args.carry_on)
    lines = (*remarks, *_where(before, spots))
    if ask is not None:
        answer = ask(carry_on_asking(lines)).get(CUT_OFF, NOTHING)
        if answer == NOTHING:
            raise NotStarted
        return answer == YES
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        print(_("To carry on with a session that was cut off: --carry-on"), flush=True)
        return False
    return _asked(lines)


def _closes(ask: "Ask | None", *why: str) -> bool:
    """Tell why what was cut off cannot be carried on."""
    if ask is None:
        print("\n".join(why), flush=True)
    else:
        ask(notice(*why, _("It is closed now. What was given is in the log.")))
    return False


def _where(before: Unfinished, spots: tuple[Spot, ...]) -> tuple[str, ...]:
    total = before.tally.total()
    last = next((s for s in before.tally.spots if s.outcome != "given"), before.tally.spots[-1])
    return cut_off_lines(
        ended=before.tally.ended_wall[11:16],
        given_s=total.given_ns // NS_PER_S,
        planned_s=total.planned_ns // NS_PER_S,
        spot=spots[last.index],
    )


def _asked(lines: Sequence[str]) -> bool:
    print("\n".join(lines))
    while True:
        try:
            answer = input(_("Carry on with it? Enter: yes. n: close it and start a new one. "))
        except EOFError:
            return False
        if answer.strip().lower() in ("", "y", "yes", *_("y, yes").split(", ")):
            return True
        if answer.strip().lower() in ("n", "no", *_("n, no").split(", ")):
            return False
