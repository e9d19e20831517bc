"""Power, time, energy and fluence, exactly, in the integer units of :mod:`coach.units`.

Formulas: energy E = P t and time t = E / P (BC Physical Therapy Tendinopathy Task Force,
laser dosage toolkit, appendix B); mean power of a pulsed head P = P_peak * DC and
DC = f * t_pulse (Suarez Redondo & Stephens, Veterinary Laser Therapy in Small Animal Practice,
5M 2019, p. 110); fluence H = E / A with A the beam area at the skin (same toolkit).
"""

from fractions import Fraction

from coach.units import FJ_PER_J, UM2_PER_CM2


def energy_fj(*, power_uw: int, duration_ns: int) -> int:
    """Energy of ``power_uw`` (mean power) held for ``duration_ns``. Exact."""
    return power_uw * duration_ns


def duration_ns(*, energy_fj: int, power_uw: int) -> int:
    """Time at ``power_uw`` (mean power, > 0) for ``energy_fj``, to the nearest nanosecond."""
    return round(Fraction(energy_fj, power_uw))


def fluence_j_cm2(*, energy_fj: int, beam_area_um2: int) -> Fraction:
    """Fluence in J/cm2 of ``energy_fj`` over the beam area at the skin (> 0). Exact."""
    return Fraction(energy_fj, FJ_PER_J) / Fraction(beam_area_um2, UM2_PER_CM2)


def energy_for_fluence_fj(*, fluence_j_cm2: Fraction, beam_area_um2: int) -> int:
    """Energy that gives ``fluence_j_cm2`` over the beam area, to the nearest femtojoule."""
    return round(fluence_j_cm2 * Fraction(beam_area_um2, UM2_PER_CM2) * FJ_PER_J)


def duty_cycle(*, frequency_hz: Fraction, pulse_width_ns: Fraction) -> Fraction:
    """Share of the time that a pulsed head is on: DC = f * t_pulse."""
    return frequency_hz * pulse_width_ns / 1_000_000_000


def mean_power_uw(*, peak_power_uw: int, duty_cycle: Fraction) -> int:
    """Mean power of a pulsed head, to the nearest microwatt."""
    return round(peak_power_uw * duty_cycle)
