"""Several sessions together, place by place. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from coach.dose.energy import energy_fj
from coach.record.tally import SessionTally, SpotTally, over_area


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseSpot:
    """One place over several sessions. ``given_j_cm2`` is None unless all beam areas agree."""

    region: str
    side: str
    aspect: str | None
    number: int
    sessions: int
    planned_ns: int
    given_ns: int
    planned_fj: int
    given_fj: int
    planned_j_cm2: Fraction | None
    given_j_cm2: Fraction | None


def counted(tallies: Iterable[SessionTally]) -> list[SessionTally]:
    """The sessions that count: no rehearsals, nothing that never began."""
    return [t for t in tallies if not t.rehearsal and t.state != "not_begun"]


def course_spots(tallies: Iterable[SessionTally]) -> tuple[CourseSpot, ...]:
    """Sums for each place of one dog over the sessions that count, in order of appearance."""
    rows: dict[tuple[str, str, str | None, int], list[tuple[SessionTally, SpotTally]]] = {}
    for tally in counted(tallies):
        for spot in tally.spots:
            key = (spot.region, spot.side, spot.aspect, spot.number)
            rows.setdefault(key, []).append((tally, spot))
    return tuple(_course_spot(key, pairs) for key, pairs in rows.items())


def _course_spot(
    key: tuple[str, str, str | None, int], pairs: list[tuple[SessionTally, SpotTally]]
) -> CourseSpot:
    region, side, aspect, number = key
    planned_fj = sum(
        energy_fj(power_uw=tally.power_uw, duration_ns=spot.planned_ns) for tally, spot in pairs
    )
    given_fj = sum(
        energy_fj(power_uw=tally.power_uw, duration_ns=spot.given_ns) for tally, spot in pairs
    )
    areas = {tally.beam_area_um2 for tally, _ in pairs}
    area_um2 = areas.pop() if len(areas) == 1 else None
    return CourseSpot(
        region=region,
        side=side,
        aspect=aspect,
        number=number,
        sessions=len(pairs),
        planned_ns=sum(spot.planned_ns for _, spot in pairs),
        given_ns=sum(spot.given_ns for _, spot in pairs),
        planned_fj=planned_fj,
        given_fj=given_fj,
        planned_j_cm2=over_area(planned_fj, area_um2),
        given_j_cm2=over_area(given_fj, area_um2),
    )
