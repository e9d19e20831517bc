"""Pulsed emitters, by the two ways in which a prescriber may state them."""

from fractions import Fraction

from coach.dose import energy
from coach.dose.beam import Emitter, pulse_of


def pulsed_by_duty_cycle(
    *,
    wavelength_nm: Fraction,
    peak_power_uw: int,
    duty_cycle: Fraction,
    frequency_hz: Fraction | None = None,
    aperture_diameter_um: int | None = None,
    divergence_mrad: Fraction | None = None,
) -> Emitter:
    """By peak power and duty cycle, perhaps with a frequency."""
    return Emitter(
        wavelength_nm=wavelength_nm,
        mean_power_uw=energy.mean_power_uw(peak_power_uw=peak_power_uw, duty_cycle=duty_cycle),
        pulse=pulse_of(
            peak_power_uw=peak_power_uw, duty_cycle=duty_cycle, frequency_hz=frequency_hz
        ),
        aperture_diameter_um=aperture_diameter_um,
        divergence_mrad=divergence_mrad,
    )


def pulsed_by_width(
    *,
    wavelength_nm: Fraction,
    peak_power_uw: int,
    width_ns: Fraction,
    frequency_hz: Fraction,
    aperture_diameter_um: int | None = None,
    divergence_mrad: Fraction | None = None,
) -> Emitter:
    """By peak power, pulse width and frequency."""
    return pulsed_by_duty_cycle(
        wavelength_nm=wavelength_nm,
        peak_power_uw=peak_power_uw,
        duty_cycle=energy.duty_cycle(frequency_hz=frequency_hz, pulse_width_ns=width_ns),
        frequency_hz=frequency_hz,
        aperture_diameter_um=aperture_diameter_um,
        divergence_mrad=divergence_mrad,
    )
