"""Energy of a region, a session and a course. Exact integers.

Energies from different spot sizes add up; fluences (J/cm2) of different spots never do, so no
function here adds them.
"""

from collections.abc import Iterable
from fractions import Fraction

from coach.units import FJ_PER_J, UM2_PER_CM2


def region_energy_fj(*, spot_energy_fj: int, spots: int) -> int:
    """Energy of ``spots`` equal spots."""
    return spot_energy_fj * spots


def session_energy_fj(region_energies_fj: Iterable[int]) -> int:
    """Energy of a session: its regions added up."""
    return sum(region_energies_fj)


def course_energy_fj(*, session_energy_fj: int, sessions: int) -> int:
    """Energy of a whole course."""
    return session_energy_fj * sessions


def swept_fluence_j_cm2(*, energy_fj: int, swept_area_um2: int) -> Fraction:
    """Mean fluence over an area that is swept: P t / A_swept, never over the spot.

    Source: computed; the tables of Suarez Redondo & Stephens 2019 (p. 93) and of Alves 2022
    (Am J Vet Res 83(8)) close only this way.
    """
    return Fraction(energy_fj, FJ_PER_J) / Fraction(swept_area_um2, UM2_PER_CM2)


def swept_duration_ns(*, fluence_j_cm2: Fraction, swept_area_um2: int, power_uw: int) -> int:
    """Time at mean ``power_uw`` that gives a mean fluence over the swept area, nearest ns."""
    return round(fluence_j_cm2 * Fraction(swept_area_um2, UM2_PER_CM2) * FJ_PER_J / power_uw)
