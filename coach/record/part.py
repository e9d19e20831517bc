"""The one sum: spots added up, of a session, a side or a course. Pure.

Every figure of seconds and joules, and how many spots were complete, comes from :func:`added`.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from coach.dose.energy import energy_fj


class Row(NamedTuple):
    """One planned spot of one session, or several together: whole numbers that can be added.

    Attributes:
        planned: planned spots, each session's counted.
        whole: those that were complete: they had all their seconds.
        planned_ns, given_ns, planned_fj, given_fj: sums.
    """

    planned: int = 0
    whole: int = 0
    planned_ns: int = 0
    given_ns: int = 0
    planned_fj: int = 0
    given_fj: int = 0

    def negative(self) -> "Row":
        """What takes this row away again."""
        return Row._make(-value for value in self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What :func:`added` gives: the fields of :class:`Row`."""

    planned: int
    whole: int
    planned_ns: int
    given_ns: int
    planned_fj: int
    given_fj: int

    @property
    def share(self) -> Fraction | None:
        """Given seconds as a part of the planned ones; None where nothing was planned."""
        return Fraction(self.given_ns, self.planned_ns) if self.planned_ns else None


def row_of(*, planned_ns: int, given_ns: int, power_uw: int) -> Row:
    """One spot. Nothing planned, something given: light where the plan has no spot."""
    return Row(
        planned=int(planned_ns > 0),
        whole=int(0 < planned_ns <= given_ns),
        planned_ns=planned_ns,
        given_ns=given_ns,
        planned_fj=energy_fj(power_uw=power_uw, duration_ns=planned_ns),
        given_fj=energy_fj(power_uw=power_uw, duration_ns=given_ns),
    )


def added(rows: Iterable[Row]) -> Part:
    """All rows together."""
    total = Row()
    for row in rows:
        total = plus(total, row)
    return Part(**total._asdict())


def plus(one: Row, other: Row) -> Row:
    """Two rows together."""
    return Row(
        one.planned + other.planned,
        one.whole + other.whole,
        one.planned_ns + other.planned_ns,
        one.given_ns + other.given_ns,
        one.planned_fj + other.planned_fj,
        one.given_fj + other.given_fj,
    )
