"""The tally over the course as a table: one row a spot. Pure."""

from collections.abc import Iterable

from coach.body import region
from coach.handover.tables import Column, decimal
from coach.record.course_tally import Course
from coach.units import j_from_fj, s_from_ns

OVER_COLUMNS = (
    Column("dog", "", "name"),
    Column("region", "", "key of the region"),
    Column("region_term", "", "trade term"),
    Column("side", "", "the dog's side"),
    Column("aspect", "", "face of a joint"),
    Column("spot_number", "{spot}", "this spot among those of its region, side and aspect"),
    Column("sessions", "{session}", "sessions in which it was planned"),
    Column("whole", "{session}", "sessions in which it had all its seconds"),
    Column("prescribed_s", "s", "time prescribed over the course"),
    Column("given_s", "s", "time given over the course (coached, not measured)"),
    Column("prescribed_J", "J", "energy prescribed over the course"),
    Column("given_J", "J", "energy given over the course"),
    Column(
        "prescribed_J_cm2", "J/cm2", "all sessions together; empty: beam area unknown or not one"
    ),
    Column("given_J_cm2", "J/cm2", "all sessions together; empty: beam area unknown or not one"),
)


def over_rows(dog: str, course: Course) -> Iterable[dict[str, str]]:
    """A row for each spot, in the order of the tally."""
    for side in course.sides:
        for spot in side.spots:
            part = spot.part
            yield {
                "dog": dog,
                "region": spot.region,
                "region_term": _term(spot.region),
                "side": spot.side,
                "aspect": spot.aspect or "",
                "spot_number": str(spot.number),
                "sessions": str(part.planned),
                "whole": str(part.whole),
                "prescribed_s": decimal(s_from_ns(part.planned_ns)),
                "given_s": decimal(s_from_ns(part.given_ns)),
                "prescribed_J": decimal(j_from_fj(part.planned_fj)),
                "given_J": decimal(j_from_fj(part.given_fj)),
                "prescribed_J_cm2": decimal(spot.planned_j_cm2),
                "given_J_cm2": decimal(spot.given_j_cm2),
            }


def _term(key: str) -> str:
    try:
        return region(key).term
    except KeyError:
        # A region that a newer program knows.
        return ""
