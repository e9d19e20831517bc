"""What the journals of a dog say of earlier sessions, for the question whether one may start."""

import datetime
from dataclasses import dataclass
from pathlib import Path

from coach.record.session_row import Brief
from coach.record.summary_cache import Summary, summary_of
from coach.session.start_rules import Moment, Past


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """The sessions in which something was given, by number; ``remarks`` on files that are odd.

    Only of the newest hundred or so it is told when they ended: no limit asks further back.
    """

    past: tuple[Past, ...]
    remarks: tuple[str, ...]


def earlier_sessions(folder: Path, dog: str, *, kept: Path | None = None) -> Earlier:
    """What the journals of ``folder`` say; those of another dog are told and not counted.

    ``kept`` is where their summary is kept; without it every journal is read.
    """
    return earlier_in(summary_of(folder, kept=kept), dog)


def earlier_in(summary: Summary, dog: str) -> Earlier:
    """The same from a summary."""
    blocks = summary.blocks
    # The two newest blocks are more than any limit asks about (at most 14 sessions a week): of
    # the sessions before them it only matters which plan they were of, and how many there were.
    past: list[Past] = []
    for lit in (lit for block in blocks[:-2] for lit in block.lit if lit.dog == dog):
        one = Past(
            number=lit.number,
            plan_id=lit.plan_id,
            plan_revision=lit.plan_revision,
            plan_digest=lit.plan_digest,
            ended=None,
        )
        past += [one] * lit.sessions
    briefs = [brief for block in blocks[-2:] for brief in block.briefs]
    past += [_past(brief) for brief in briefs if brief.dog == dog and brief.matters]
    past += [
        Past(number=one.number, plan_id="", plan_revision=0, plan_digest="", ended=None)
        for one in summary.unread
        if not one.nothing_begun
    ]
    past.sort(key=lambda one: one.number)
    return Earlier(past=tuple(past), remarks=tuple(summary.remarks(dog)))


def _past(brief: Brief) -> Past:
    return Past(
        number=brief.number,
        plan_id=brief.plan_id,
        plan_revision=brief.plan_revision,
        plan_digest=brief.plan_digest,
        ended=light_of(brief),
    )


def light_of(brief: Brief) -> Moment | None:
    """When light was given last; None if none was or nobody knows."""
    if not brief.light_wall:
        return None
    return Moment(
        wall=datetime.datetime.fromisoformat(brief.light_wall),
        trusted=brief.light_trusted,
        mono_ns=brief.light_mono_ns,
        boot_id=brief.light_boot,
    )


def sessions_done(earlier: Earlier) -> int:
    """How many sessions are known to have given something."""
    return sum(bool(past.plan_id) for past in earlier.past)
