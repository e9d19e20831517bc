"""How far from the opening a widening beam, or several together, fall to the limit. Pure."""

import math
from dataclasses import dataclass
from typing import Literal

NohdForm = Literal["linear", "quadrature"]


def nohd_m(
    *,
    power_w: float,
    mpe_w_m2: float,
    divergence_rad: float,
    aperture_diameter_m: float = 0.0,
    form: NohdForm = "linear",
) -> float:
    """Distance at which a widening beam falls to the limit; 0 if it is below it at the head.

    The quadrature form gives up to d0 / phi more. ValueError unless power, limit and divergence
    are above zero and the diameter is not negative.
    """
    if min(power_w, mpe_w_m2, divergence_rad) <= 0 or aperture_diameter_m < 0:
        raise ValueError(
            f"power {power_w} W, limit {mpe_w_m2} W/m2, divergence {divergence_rad} rad, diameter "
            f"{aperture_diameter_m} m: all must be more than zero (the diameter may be zero)"
        )
    squared_m2 = 4 * power_w / (math.pi * mpe_w_m2)
    if form == "linear":
        return max(0.0, (math.sqrt(squared_m2) - aperture_diameter_m) / divergence_rad)
    return math.sqrt(max(0.0, squared_m2 - aperture_diameter_m**2)) / divergence_rad


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """A beam that widens: power / limit in m2, diameter at the opening, full angle at 1/e."""

    power_over_mpe_m2: float
    diameter_m: float
    divergence_rad: float | None

    def ratio(self, distance_m: float, form: NohdForm) -> float:
        """Exposure / limit at a distance, over the widened beam."""
        spread_m = (self.divergence_rad or 0.0) * distance_m
        if form == "linear":
            squared_m2 = (self.diameter_m + spread_m) ** 2
        else:
            squared_m2 = self.diameter_m**2 + spread_m**2
        return math.inf if squared_m2 == 0 else 4 * self.power_over_mpe_m2 / math.pi / squared_m2


def head_nohd_m(beams: list[Beam], form: NohdForm) -> float | None:
    """Distance at which the exposures of all beams add up to the limit.

    They fall steadily with distance, so halving the bracket finds it to the last digit. At
    ``far`` each beam is at 1/n of its limit or below.
    """
    far = 0.0
    for beam in beams:
        if beam.divergence_rad is None:
            return None
        wide_m = math.sqrt(4 * beam.power_over_mpe_m2 * len(beams) / math.pi)
        far = max(far, wide_m / beam.divergence_rad)

    def total(distance_m: float) -> float:
        return sum(beam.ratio(distance_m, form) for beam in beams)

    if total(0.0) <= 1:
        return 0.0
    near = 0.0
    while near < (middle := (near + far) / 2) < far:
        if total(middle) > 1:
            near = middle
        else:
            far = middle
    return far
