"""Laser eyewear by its marking: what power a filter withstands, beside how much it holds back.

EN 207:2017, since 2021 ISO 19818-1: a marking such as ``808 D LB4`` says wavelength, kind of laser
and scale number. LB n holds back at least 10^n and withstands for 5 s, or 50 pulses, up to
10^(n+1) W/m2 (D, continuous) or 5·10^(n-3) J/m2 (I and R, pulses), 315 to 1400 nm. Optical density
alone says nothing of what a filter withstands. Second-hand: two public summaries of the standard
agree (28 November 2026); a worked example in one of them, 10 W of 1064 nm in 4 mm, gives D LB5.
Where pulses repeat, the energy of one is raised by N^0.25, N those of 10 s (same summary; the 2017
edition is said to count 5 s, which is less).
"""

import math
from dataclasses import dataclass
from typing import Literal

COUNTED_S = 10.0

Mode = Literal["D", "I", "R"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Marking:
    """The least marking that eyewear needs: ``808 D LB4``."""

    wavelength_nm: float
    mode: Mode
    scale: int

    def __str__(self) -> str:
        return f"{self.wavelength_nm:g} {self.mode} LB{self.scale}"


def continuous_scale(*, irradiance_w_m2: float) -> int:
    """Least n with irradiance up to 10^(n+1) W/m2; 1 at the least."""
    return _least(math.log10(irradiance_w_m2) - 1)


def pulsed_scale(*, pulse_j_m2: float, frequency_hz: float) -> int:
    """Least n with N^0.25 times the radiant exposure of a pulse up to 5·10^(n-3) J/m2."""
    pulses = max(1.0, frequency_hz * COUNTED_S)
    return _least(math.log10(pulse_j_m2 * pulses**0.25 / 5) + 3)


def markings(
    *,
    wavelength_nm: float,
    mean_power_w: float,
    beam_diameter_m: float,
    required_od: float,
    pulse_width_s: float | None = None,
    frequency_hz: float | None = None,
) -> tuple[Marking, ...]:
    """What eyewear must be marked with: D, and for pulses I or R too.

    LB n has an optical density of n at least, so that no n is below ``required_od``. Empty where
    the pulses are shorter than 1 ns, of which no row was seen.
    """
    area_m2 = math.pi * beam_diameter_m**2 / 4
    floor = math.ceil(required_od)
    scale = max(floor, continuous_scale(irradiance_w_m2=mean_power_w / area_m2))
    found = [Marking(wavelength_nm=wavelength_nm, mode="D", scale=scale)]
    if pulse_width_s is not None and frequency_hz is not None and pulse_width_s <= 0.25:
        if pulse_width_s <= 1e-9:
            return ()
        each = pulsed_scale(
            pulse_j_m2=mean_power_w / frequency_hz / area_m2, frequency_hz=frequency_hz
        )
        mode: Mode = "I" if pulse_width_s > 1e-6 else "R"
        found.append(Marking(wavelength_nm=wavelength_nm, mode=mode, scale=max(floor, each)))
    return tuple(found)


def _least(scale: float) -> int:
    # Not one more for the last digit of a logarithm: 10^5 W/m2 are LB4.
    return max(1, math.ceil(round(scale, 9)))
