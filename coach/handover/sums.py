"""Spots added up for the summary, and its one rounding. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from coach.handover import summary_json as sj
from coach.handover.tables import joules
from coach.record.tally import SessionTally, SpotTally
from coach.units import rounded, s_from_ns


@dataclass(slots=True)
class Sums:
    """Spots added up: exact, rounded once at the end."""

    spots: int = 0
    given: int = 0
    planned_ns: int = 0
    given_ns: int = 0
    counted_ns: int = 0
    planned_j: Fraction = Fraction(0)
    given_j: Fraction = Fraction(0)
    counted_j: Fraction = Fraction(0)
    planned_j_cm2: list[Fraction | None] = field(default_factory=list)
    counted_j_cm2: list[Fraction | None] = field(default_factory=list)

    def add(self, tally: SessionTally, was: Iterable[SpotTally], now: Iterable[SpotTally]) -> None:
        for spot in was:
            self.spots += 1
            self.given += spot.outcome == "given"
            self.planned_ns += spot.planned_ns
            self.given_ns += spot.given_ns
            self.planned_j += joules(tally, spot.planned_ns)
            self.given_j += joules(tally, spot.given_ns)
            self.planned_j_cm2.append(tally.fluence_j_cm2(spot.planned_ns))
        for spot in now:
            self.counted_ns += spot.given_ns
            self.counted_j += joules(tally, spot.given_ns)
            self.counted_j_cm2.append(tally.fluence_j_cm2(spot.given_ns))

    def dose(self) -> sj.DoseJson:
        return {
            "spots": self.spots,
            "spots_given": self.given,
            "prescribed_s": round_s(self.planned_ns),
            "given_s": round_s(self.given_ns),
            "counted_s": round_s(self.counted_ns),
            "prescribed_j": rounded_number(self.planned_j),
            "given_j": rounded_number(self.given_j),
            "counted_j": rounded_number(self.counted_j),
        }

    def mean_j_cm2(self, *, planned: bool) -> Fraction | None:
        """Fluence a spot: the sum over the spots by how many were planned. None: not known."""
        values = self.planned_j_cm2 if planned else self.counted_j_cm2
        known = [value for value in values if value is not None]
        if not self.spots or len(known) < len(values):
            return None
        return sum(known, Fraction(0)) / self.spots


def round_s(duration_ns: int) -> float:
    """Seconds to three places."""
    return rounded_number(s_from_ns(duration_ns))


def rounded_number(value: Fraction | Decimal, places: int = 3) -> float:
    """A number for JSON."""
    return float(rounded(value, places))
