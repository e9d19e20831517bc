"""Opening the journal of a session: a new one, or the one that was cut off."""

import argparse
import sys
from collections.abc import Callable, Mapping
from typing import Any

from coach.body import told
from coach.cli.allowed import check_space, overruled
from coach.language import _
from coach.plan.files import PlanFile
from coach.plan.spots import Spot, spots_in
from coach.record.chain import Signer, Stamp
from coach.record.disk import held_by
from coach.record.journal import Journal, JournalBusy, JournalError
from coach.session.cues import sentence, side_word
from coach.session.guard import may_carry_on
from coach.session.machine import Machine, Options
from coach.unfinished import Unfinished, carry_on, close_cut_off, find_unfinished, moment_at
from coach.units import clock_text

# Until plans can say it: after half an hour it is another session, not the rest of this one.
# Common practice, no source.
CARRY_ON_WITHIN_S = 1800


def opened(
    args: argparse.Namespace,
    plan_file: PlanFile,
    *,
    header: Mapping[str, Any],
    spots: tuple[Spot, ...],
    options: Options,
    stamp: Callable[[], Stamp],
    signer: Signer | None,
) -> tuple[Journal, Machine]:
    """The journal and the machine to go with it.

    Raises JournalBusy, JournalError, and NotAllowed when no session may start now.
    """
    from coach.places import journal_folder

    folder = journal_folder(plan_file.plan.dog.name, rehearsal=args.rehearsal)
    holder = held_by(folder)
    if holder is not None:
        raise JournalBusy(folder, holder)
    before = find_unfinished(folder)
    if before is not None:
        now = stamp()
        # Its own spots: a short session stays as short as it was begun.
        cut = spots_in(before.header["spots"])
        if _wanted(args, plan_file, before, cut, now):
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
) -> bool:
    """Whether the owner carries on with the session that was cut off."""
    if args.rehearsal or not before.can_carry_on:
        return False
    if before.header["plan"]["digest"] != plan_file.digest:
        print(_("The plan has changed since the session that was cut off."), flush=True)
        return False
    within_s = plan_file.plan.limits.carry_on_minutes * 60
    reason = may_carry_on(ended=before.ended, now=moment_at(now), within_s=within_s)
    if reason is not None:
        print(f"{sentence(reason.text)}: {reason.what_to_do}.", flush=True)
        if not reason.owner_may:
            return False
    if args.carry_on is not None:
        return bool(args.carry_on)
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        print(_("To carry on with a session that was cut off: --carry-on"), flush=True)
        return False
    return _asked(before, spots)


def _asked(before: Unfinished, spots: tuple[Spot, ...]) -> bool:
    total = before.tally.total()
    last = next((s for s in before.tally.spots if s.outcome != "given"), before.tally.spots[-1])
    spot = spots[last.index]
    print(
        _(
            "The last session was cut off at {time}: {given} of {planned} given, next {place}, "
            "{side}, spot {number} of {of}."
        ).format(
            time=before.tally.ended_wall[11:16],
            given=clock_text(total.given_ns // 10**9),
            planned=clock_text(total.planned_ns // 10**9),
            place=told(spot.region).owner_words,
            side=side_word(spot.side),
            number=spot.number,
            of=spot.of,
        )
    )
    while True:
        try:
            answer = input(_("Carry on with it? Enter: yes. n: close it and start a new one. "))
        except EOFError:
            return False
        if answer.strip().lower() in ("", "y", "yes", *_("y, yes").split(", ")):
            return True
        if answer.strip().lower() in ("n", "no", *_("n, no").split(", ")):
            return False
