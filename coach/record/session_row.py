"""A session in one row: enough for the list of sessions, for due dates and for the guard. Pure."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from coach.record.session_length import between_of
from coach.record.tally import SessionTally

# Light was given until then. Not the last line of a journal: that may have been written long
# after, to close what was cut off.
LIGHT = frozenset({"heartbeat", "hold_ended"})


class Brief(NamedTuple):
    """One session.

    Attributes:
        name: of its journal's file.
        number: orders the sessions.
        dog, plan_id, plan_revision, plan_digest, rehearsal, state, reason: as in its tally.
        opened_wall, ended_wall, trust: wall clock of the first and last line (RFC 3339), and how
            far it could be trusted at the first.
        closed: whether the closing record is there.
        spots, whole: planned spots, and those that had all their seconds.
        planned_ns, given_ns, planned_fj, given_fj: sums.
        damage: where its chain breaks, or ""; then only the lines before are counted.
        light_wall, light_trusted, light_mono_ns, light_boot: when light was given last; wall is
            "" when none was or the journal is damaged.
        ordered_ns, towards_ns: the seconds of the plan's whole session, and those of them that
            were given.
        area_um2: beam area at the skin, or None.
        between_planned_ns, between_ns: :class:`coach.record.session_length.Between`; 0 planned:
            untold.
    """

    name: str
    number: int
    dog: str
    plan_id: str
    plan_revision: int
    plan_digest: str
    rehearsal: bool
    state: str
    reason: str
    opened_wall: str
    ended_wall: str
    trust: str
    closed: bool
    spots: int
    whole: int
    planned_ns: int
    given_ns: int
    planned_fj: int
    given_fj: int
    ordered_ns: int
    towards_ns: int
    area_um2: int | None
    damage: str
    light_wall: str
    light_trusted: bool
    light_mono_ns: int
    light_boot: str
    between_planned_ns: int
    between_ns: int

    @property
    def share(self) -> Fraction:
        """What was given of the plan's whole session, as a part of 1."""
        return Fraction(self.towards_ns, self.ordered_ns) if self.ordered_ns else Fraction(0)

    @property
    def matters(self) -> bool:
        """Whether light was given, as far as anybody can know."""
        return bool(self.damage) or (not self.rehearsal and self.given_ns > 0)

    def counts(self, dog: str) -> bool:
        """Whether it is a session of ``dog`` that counts: not rehearsed, and begun."""
        return self.dog == dog and not self.rehearsal and self.state != "not_begun"


def as_corrected(brief: Brief, tally: SessionTally) -> Brief:
    """``brief`` with what was given by ``tally``, the session after its corrections."""
    total = tally.total()
    return brief._replace(
        given_ns=total.given_ns,
        given_fj=total.given_fj,
        whole=total.whole,
        towards_ns=tally.towards_ns,
    )


def brief_of(
    name: str,
    number: int,
    tally: SessionTally,
    lines: Sequence[Mapping[str, Any]],
    *,
    damage: str = "",
) -> Brief:
    """The row of a session; ``lines`` are the decoded ones of its journal that can be trusted."""
    total = tally.total()
    light: Mapping[str, Any] | None = None
    if not damage:
        light = next((line for line in reversed(lines) if line["kind"] in LIGHT), None)
    between = None if damage else between_of(lines)
    return Brief(
        name=name,
        number=number,
        dog=tally.dog,
        plan_id=tally.plan_id,
        plan_revision=tally.plan_revision,
        plan_digest=tally.plan_digest,
        rehearsal=tally.rehearsal,
        state=tally.state,
        reason=tally.reason,
        opened_wall=tally.opened_wall,
        ended_wall=tally.ended_wall,
        trust=tally.trust,
        closed=tally.closed,
        spots=total.planned,
        whole=total.whole,
        planned_ns=total.planned_ns,
        given_ns=total.given_ns,
        planned_fj=total.planned_fj,
        given_fj=total.given_fj,
        ordered_ns=tally.ordered_ns,
        towards_ns=tally.towards_ns,
        area_um2=tally.beam_area_um2,
        damage=damage,
        light_wall="" if light is None else light["wall"],
        light_trusted=light is not None and light["trust"] != "unknown",
        light_mono_ns=0 if light is None else light["mono_ns"],
        light_boot="" if light is None else light["boot"],
        between_planned_ns=0 if between is None else between.planned_ns,
        between_ns=0 if between is None else between.taken_ns,
    )
