"""Exposure limits for eyes and skin, 400-1400 nm, point source, SI units.

Generation ICNIRP 2013 / IEC 60825-1:2014. C_A, C_C, T_2 and the limits of skin: read in two laws
that transpose directive 2006/25/EC, which has the same ones (French labour code, annex II, tables
2.4 and 2.5; Norwegian regulation, table 4.5). The limits of eyes: second-hand, each from at least
two transcriptions into code that agree: of EN 60825-1:2014, tables A.1 and A.5, for 700-1050 nm,
and of ANSI Z136.1-2014, tables 5b and 5c, for 400-1400 nm, which have the values of ICNIRP 2013 (28
November 2026). Have the printed standard checked before anyone relies on it.

The limits are piecewise. At a boundary the later branch counts (10 s is "10 s and longer"),
which leaves these steps in the published curves: eye at 5 us 4.9 % down, at 13 us (from 1050 nm)
2.6 % down, at 10 s 1.2 % down; skin at 100 ns 2.2 % down, at 10 s 2.2 % up; at 1050 nm 0.24 %
down for skin and for eyes from 13 us on, but double for shorter pulses; at 1200 nm 0.7 % up.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

EDITION = "ICNIRP 2013 / IEC 60825-1:2014"
SCOPE = (
    "The limits are for eyes and bystanders and for the hand that holds the head, not for the "
    "treatment itself, and were set for people. Near infrared cannot be seen: dark is not off. "
    "Local rules and the prescriber's laser-safety adviser rule."
)

Status = Literal["read", "excerpt", "second-hand", "memory"]

EYE_APERTURE_MM = 7.0
SKIN_APERTURE_MM = 3.5

# Longest pulse that counts as one exposure together with others so close (second-hand), and the
# time after which more pulses of a point source do no further harm (T_2 up to 1.5 mrad; read).
_GROUP_S = 5e-6
_GROUP_LONG_WAVE_S = 13e-6
T2_S = 10.0

SHORTEST_EYE_S = 1e-11
_SHORTEST_SKIN_S = 1e-9
_LONGEST_S = 3e4


class OutOfScope(ValueError):  # noqa: N818  (a limit that we do not know)
    """A wavelength or a time for which no limit is held here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One exposure limit.

    Attributes:
        wavelength_nm, exposure_s: what it holds for.
        irradiance_w_m2: the limit as a constant irradiance over ``exposure_s``.
        radiant_exposure_j_m2: the same as a radiant exposure.
        aperture_mm: the exposure is averaged over this aperture.
        rule: the published formula.
        status: how far we have seen it in print.
        edition: which standard.
    """

    wavelength_nm: float
    exposure_s: float
    irradiance_w_m2: float
    radiant_exposure_j_m2: float
    aperture_mm: float
    rule: str
    status: Status
    edition: str = EDITION


@dataclass(frozen=True, slots=True, kw_only=True)
class PulsedLimit:
    """The three rules for repeated pulses, each as a mean irradiance; the lowest governs.

    Attributes:
        single_pulse: limit of one pulse (or of one group of pulses within 5 us).
        mean: limit of the mean irradiance over ``exposure_s``.
        pulses: number of pulses (groups) that count, at most those of 10 s.
        pulses_in_group: pulses that count as one because they come within 5 us.
        c5: C_5 for that number and width.
        single_pulse_w_m2, mean_w_m2, train_w_m2: mean irradiance each rule allows.
        governing: ``single pulse``, ``mean power`` or ``C_5``.
    """

    single_pulse: Limit
    mean: Limit
    pulses: int
    pulses_in_group: int
    c5: float
    single_pulse_w_m2: float
    mean_w_m2: float
    train_w_m2: float
    governing: Literal["single pulse", "mean power", "C_5"]
    edition: str = EDITION

    @property
    def irradiance_w_m2(self) -> float:
        """The mean irradiance that the lowest rule allows."""
        return min(self.single_pulse_w_m2, self.mean_w_m2, self.train_w_m2)


def c_a(*, wavelength_nm: float) -> float:
    """C_A (C_4 of the IEC), 1 to 5, for 400-1400 nm. Read."""
    check_wavelength(wavelength_nm)
    if wavelength_nm < 700:
        return 1.0
    if wavelength_nm < 1050:
        return float(10 ** (0.002 * (wavelength_nm - 700)))
    return 5.0


def c_c(*, wavelength_nm: float) -> float:
    """C_C (C_7 of the IEC), 1 to 8, for 400-1400 nm.

    Read. From 1200 nm the 2014 edition allows more (:func:`c_c_2014`), but then wants the cornea
    looked at as well; the lower value of the edition before and of the EU directive is kept.
    """
    check_wavelength(wavelength_nm)
    if wavelength_nm <= 1150:
        return 1.0
    if wavelength_nm <= 1200:
        return float(10 ** (0.018 * (wavelength_nm - 1150)))
    return 8.0


def c_c_2014(*, wavelength_nm: float) -> float:
    """C_7 as the 2014 edition has it above 1200 nm, 8 + 10^(0.04(lambda - 1250)). Second-hand."""
    if wavelength_nm <= 1200:
        return c_c(wavelength_nm=wavelength_nm)
    check_wavelength(wavelength_nm)
    return 8.0 + float(10 ** (0.04 * (wavelength_nm - 1250)))


def c_3(*, wavelength_nm: float) -> float:
    """C_B (C_3 of the IEC) of the photochemical limit, 400-600 nm. Read."""
    if not 400 <= wavelength_nm <= 600:
        raise OutOfScope(f"wavelength {wavelength_nm} nm: C_3 is held for 400 to 600 nm")
    return 1.0 if wavelength_nm < 450 else float(10 ** (0.02 * (wavelength_nm - 450)))


def eye_mpe(*, wavelength_nm: float, exposure_s: float) -> Limit:
    """Limit at the cornea for one exposure, averaged over the 7 mm pupil.

    ``exposure_s`` 10 ps to 30 000 s, else OutOfScope.
    """
    check_wavelength(wavelength_nm)
    check_time(exposure_s, SHORTEST_EYE_S)
    long_wave = wavelength_nm >= 1050
    factor = c_a(wavelength_nm=wavelength_nm) * c_c(wavelength_nm=wavelength_nm)
    factor_words = "C_A·C_C" if wavelength_nm >= 700 else "1"
    if exposure_s >= T2_S:
        irradiance = 10 * factor
        rule = f"10·{factor_words} W/m2"
        if wavelength_nm < 600:
            photochemical = _photochemical_w_m2(wavelength_nm, exposure_s)
            if photochemical < irradiance:
                irradiance = photochemical
                rule = "100·C_3 J/m2, from 100 s on 1·C_3 W/m2 (photochemical)"
        dose = irradiance * exposure_s
    elif exposure_s >= group_s(wavelength_nm=wavelength_nm):
        dose = 18 * factor * exposure_s**0.75
        irradiance = dose / exposure_s
        rule = f"18·{factor_words}·t^0.75 J/m2"
    else:
        dose = 2e-2 * c_c(wavelength_nm=wavelength_nm) if long_wave else 2e-3 * factor
        irradiance = dose / exposure_s
        rule = "2e-2·C_C J/m2" if long_wave else f"2e-3·{factor_words} J/m2"
    return Limit(
        wavelength_nm=wavelength_nm,
        exposure_s=exposure_s,
        irradiance_w_m2=irradiance,
        radiant_exposure_j_m2=dose,
        aperture_mm=EYE_APERTURE_MM,
        rule=rule,
        status="second-hand",
    )


def skin_mpe(*, wavelength_nm: float, exposure_s: float) -> Limit:
    """Limit for skin, averaged over 3.5 mm; ``exposure_s`` 1 ns to 30 000 s, else OutOfScope."""
    check_wavelength(wavelength_nm)
    check_time(exposure_s, _SHORTEST_SKIN_S)
    factor = c_a(wavelength_nm=wavelength_nm)
    if exposure_s >= T2_S:
        irradiance = 2000 * factor
        dose = irradiance * exposure_s
        rule = "0.2·C_A W/cm2"
    elif exposure_s >= 1e-7:
        dose = 11_000 * factor * exposure_s**0.25
        irradiance = dose / exposure_s
        rule = "1.1·C_A·t^0.25 J/cm2"
    else:
        dose = 200 * factor
        irradiance = dose / exposure_s
        rule = "0.02·C_A J/cm2"
    return Limit(
        wavelength_nm=wavelength_nm,
        exposure_s=exposure_s,
        irradiance_w_m2=irradiance,
        radiant_exposure_j_m2=dose,
        aperture_mm=SKIN_APERTURE_MM,
        rule=rule,
        status="read",
    )


def c_5(*, pulses: int, pulse_width_s: float, wavelength_nm: float = 905) -> float:
    """C_5 of repeated pulses from a point source, IEC 2014.

    For pulses up to 5 us: 1 up to 600 pulses, else 5·N^-0.25, at least 0.4, and at most 1 (the
    formula gives 1.0099 at 601). 1 for longer pulses. Second-hand.
    """
    if pulses < 1:
        raise OutOfScope(f"{pulses} pulses: at least 1 is allowed")
    if pulses <= 600 or pulse_width_s > group_s(wavelength_nm=wavelength_nm):
        return 1.0
    return max(0.4, min(1.0, 5 * float(pulses**-0.25)))


def c_5_eu_2006(*, pulses: int) -> float:
    """N^-0.25, as the EU directive of 2006 still has it: stricter, and law where it is. Read."""
    if pulses < 1:
        raise OutOfScope(f"{pulses} pulses: at least 1 is allowed")
    return float(pulses**-0.25)


def eye_mpe_pulsed(
    *, wavelength_nm: float, pulse_width_s: float, frequency_hz: float, exposure_s: float
) -> PulsedLimit:
    """Limit of repeated pulses: the lowest of single pulse, mean power and C_5. Second-hand.

    Pulses that come within 5 us (13 us from 1050 nm) count as one with their energies added; no
    more are counted than come within 10 s. Raises OutOfScope for pulses that overlap or that are
    longer than the exposure.
    """
    return pulse_train(
        wavelength_nm=wavelength_nm,
        pulse_width_s=pulse_width_s,
        frequency_hz=frequency_hz,
        exposure_s=exposure_s,
        together_s=group_s(wavelength_nm=wavelength_nm),
        counted_s=min(exposure_s, T2_S),
        limit=eye_mpe,
        factor=lambda count, width_s: c_5(
            pulses=count, pulse_width_s=width_s, wavelength_nm=wavelength_nm
        ),
        edition=EDITION,
    )


class OneExposure(Protocol):
    """A limit for one exposure."""

    def __call__(self, *, wavelength_nm: float, exposure_s: float) -> Limit: ...


def pulse_train(
    *,
    wavelength_nm: float,
    pulse_width_s: float,
    frequency_hz: float,
    exposure_s: float,
    together_s: float,
    counted_s: float,
    limit: OneExposure,
    factor: Callable[[int, float], float],
    edition: str,
) -> PulsedLimit:
    """The three rules for repeated pulses, as one edition has them.

    ``together_s``: pulses within it count as one. ``counted_s``: pulses within it are counted.
    ``factor`` makes the third rule of their number and their width in seconds.
    """
    if frequency_hz <= 0 or pulse_width_s * frequency_hz > 1 + 1e-9 or pulse_width_s > exposure_s:
        raise OutOfScope(
            f"pulses of {pulse_width_s} s at {frequency_hz} Hz within {exposure_s} s: they must "
            "not overlap, nor be longer than the exposure"
        )
    in_group = 1
    width_s = pulse_width_s
    groups_hz = frequency_hz
    if frequency_hz * together_s > 1:
        in_group = -int(-frequency_hz * together_s // 1)
        width_s = together_s
        groups_hz = frequency_hz / in_group
    single = limit(wavelength_nm=wavelength_nm, exposure_s=width_s)
    mean = limit(wavelength_nm=wavelength_nm, exposure_s=exposure_s)
    count = max(1, -int(-counted_s * groups_hz // 1))
    train = factor(count, width_s)
    single_w_m2 = single.radiant_exposure_j_m2 * groups_hz
    train_w_m2 = single_w_m2 * train
    governing: Literal["single pulse", "mean power", "C_5"] = "mean power"
    if train_w_m2 < mean.irradiance_w_m2:
        governing = "C_5" if train < 1 else "single pulse"
    return PulsedLimit(
        single_pulse=single,
        mean=mean,
        pulses=count,
        pulses_in_group=in_group,
        c5=train,
        single_pulse_w_m2=single_w_m2,
        mean_w_m2=mean.irradiance_w_m2,
        train_w_m2=train_w_m2,
        governing=governing,
        edition=edition,
    )


def group_s(*, wavelength_nm: float) -> float:
    """T_i: exposures within it count as one. 5 us; 13 us from 1050 nm. Second-hand."""
    return _GROUP_LONG_WAVE_S if wavelength_nm >= 1050 else _GROUP_S


def _photochemical_w_m2(wavelength_nm: float, exposure_s: float) -> float:
    """100·C_3 J/m2 up to 100 s, then 1·C_3 W/m2. Second-hand; lasercalc agrees up to 100 s."""
    return 100 * c_3(wavelength_nm=wavelength_nm) / min(exposure_s, 100.0)


def check_wavelength(wavelength_nm: float) -> None:
    if not 400 <= wavelength_nm <= 1400:
        raise OutOfScope(f"wavelength {wavelength_nm} nm: limits are held for 400 to 1400 nm")


def check_time(exposure_s: float, shortest_s: float) -> None:
    if not shortest_s <= exposure_s <= _LONGEST_S:
        raise OutOfScope(
            f"exposure {exposure_s} s: limits are held for {shortest_s:g} to {_LONGEST_S:g} s"
        )
