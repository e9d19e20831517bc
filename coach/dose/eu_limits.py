"""Exposure limits for eyes as the EU directive 2006/25/EC has them, 400-1400 nm, point source.

Annex II, tables 2.2, 2.5 and 2.6: read in a transposition (French labour code, annex II to
articles R. 4452-5 and R. 4452-6, as published by etalab; 28 November 2026) and in the Norwegian
regulation that transposes it (table 4.5). Table 2.3, from 10 s on: read in the Norwegian one. It is
the law for workers in the EU, older than the limits of :mod:`coach.dose.limits`: a pulse counts for
more, repeated pulses are counted otherwise, and of skin both say the same.
"""

from coach.dose.limits import (
    EYE_APERTURE_MM,
    SHORTEST_EYE_S,
    Limit,
    PulsedLimit,
    Status,
    c_3,
    c_a,
    c_c,
    check_time,
    check_wavelength,
    pulse_train,
)

EDITION = "EU directive 2006/25/EC, annex II"

# Pulses within T_min count as one (table 2.6).
T_MIN_S = 18e-6
T_MIN_LONG_WAVE_S = 50e-6


def c_p(*, pulses: int) -> float:
    """C_p = N^-0.25 of repeated pulses (table 2.6, rule 3). Read."""
    return float(pulses**-0.25)


def t_min_s(*, wavelength_nm: float) -> float:
    """Time within which pulses count as one: 18 us up to 1050 nm, 50 us above. Read."""
    return T_MIN_S if wavelength_nm <= 1050 else T_MIN_LONG_WAVE_S


def eye_mpe_eu(*, wavelength_nm: float, exposure_s: float) -> Limit:
    """Limit at the cornea for one exposure, averaged over 7 mm; 10 ps to 30 000 s.

    Where two rows meet the stricter holds (note a of table 2.2).
    """
    check_wavelength(wavelength_nm)
    check_time(exposure_s, SHORTEST_EYE_S)
    long_wave = wavelength_nm > 1050
    status: Status = "read"
    factor = c_c(wavelength_nm=wavelength_nm) if long_wave else c_a(wavelength_nm=wavelength_nm)
    words = "C_C" if long_wave else "C_A" if wavelength_nm >= 700 else "1"
    if exposure_s >= 10:
        irradiance = 10 * c_a(wavelength_nm=wavelength_nm) * c_c(wavelength_nm=wavelength_nm)
        rule = "10·C_A·C_C W/m2" if wavelength_nm >= 700 else "10 W/m2"
        if wavelength_nm < 600:
            photochemical = 100 * c_3(wavelength_nm=wavelength_nm) / min(exposure_s, 100.0)
            if photochemical < irradiance:
                irradiance, rule = photochemical, "100·C_B J/m2, from 100 s on 1·C_B W/m2"
        dose = irradiance * exposure_s
    else:
        # The rows of 1050-1400 nm are those of the shorter waves with 5 and 10 times the number.
        slow, flat, fast = (90.0, 5e-2, 2.7e5) if long_wave else (18.0, 5e-3, 2.7e4)
        if exposure_s >= t_min_s(wavelength_nm=wavelength_nm):
            dose, rule = slow * factor * exposure_s**0.75, f"{slow:g}·{words}·t^0.75 J/m2"
        elif exposure_s >= 1e-9:
            dose, rule = flat * factor, f"{flat:g}·{words} J/m2"
        else:
            dose, rule = fast * factor * exposure_s**0.75, f"{fast:g}·{words}·t^0.75 J/m2"
        irradiance = dose / exposure_s
    return Limit(
        wavelength_nm=wavelength_nm,
        exposure_s=exposure_s,
        irradiance_w_m2=irradiance,
        radiant_exposure_j_m2=dose,
        aperture_mm=EYE_APERTURE_MM,
        rule=rule,
        status=status,
        edition=EDITION,
    )


def eye_mpe_pulsed_eu(
    *, wavelength_nm: float, pulse_width_s: float, frequency_hz: float, exposure_s: float
) -> PulsedLimit:
    """Limit of repeated pulses: its own single-pulse value, the mean, and N^-0.25. Read.

    N counts the pulses of the whole exposure. Raises OutOfScope as
    :func:`coach.dose.limits.eye_mpe_pulsed` does.
    """
    return pulse_train(
        wavelength_nm=wavelength_nm,
        pulse_width_s=pulse_width_s,
        frequency_hz=frequency_hz,
        exposure_s=exposure_s,
        together_s=t_min_s(wavelength_nm=wavelength_nm),
        counted_s=exposure_s,
        limit=eye_mpe_eu,
        factor=lambda count, width_s: c_p(pulses=count),
        edition=EDITION,
    )
