"""Lasers and their beams: power of every emitter, beam area at the skin, checked output.

Peak or mean is always said: an emitter has its mean power, and a pulsed one its peak power too.

Formulas: P = P_peak * DC and DC = f * t_pulse (Suarez Redondo & Stephens, Veterinary Laser
Therapy in Small Animal Practice, 5M 2019, p. 110); round spot A = pi d^2 / 4 (Macquarie
University, sample calculations); several emitters in one head, P = sum P_i, each with its own
wavelength (from memory). Power is checked at intervals because it falls as a source warms and
ages (Jenkins & Carroll 2011, doi 10.1089/pho.2011.9895).
"""

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from coach.units import mw_from_uw, rounded

# House rule: a head that has drifted further should be looked at before it is used again.
DRIFT_LIMIT = Fraction(20, 100)

PowerBasis = Literal["stated", "measured"]

DivergenceIs = Literal[
    "full angle at 1/e",
    "full angle at 1/e2",
    "half angle at 1/e",
    "half angle at 1/e2",
    "full width at half maximum",
]
_TO_1_E: Mapping[DivergenceIs, Fraction] = {
    "full angle at 1/e": Fraction(1),
    "full angle at 1/e2": 1 / Fraction(math.sqrt(2)),
    "half angle at 1/e": Fraction(2),
    "half angle at 1/e2": 2 / Fraction(math.sqrt(2)),
    "full width at half maximum": 1 / Fraction(math.sqrt(math.log(2))),
}

# Measured / stated within the drift limit of a power of ten: seldom a head, often a keyboard.
_SLIPS = (
    (Fraction(1, 1000), "a thousandth of it, as W written for mW"),
    (Fraction(1, 100), "a hundredth of it"),
    (Fraction(1, 10), "a tenth of it, as a decimal point in the wrong place"),
    (Fraction(10), "ten times as much, as a decimal point in the wrong place"),
    (Fraction(100), "a hundred times as much"),
    (Fraction(1000), "a thousand times as much, as uW written for mW, or mW for W"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """How an emitter pulses.

    Attributes:
        peak_power_uw: power during a pulse, microwatts.
        duty_cycle: share of the time that it is on, above 0, at most 1.
        width_ns, frequency_hz: both or neither; without them only the duty cycle is known.
    """

    peak_power_uw: int
    duty_cycle: Fraction
    width_ns: Fraction | None = None
    frequency_hz: Fraction | None = None

    def __post_init__(self) -> None:
        _positive("peak power", self.peak_power_uw)
        if not 0 < self.duty_cycle <= 1:
            raise ValueError(f"duty cycle {self.duty_cycle}: allowed is above 0, at most 1")
        if (self.width_ns is None) != (self.frequency_hz is None):
            raise ValueError("pulse width and frequency: give both or neither")


@dataclass(frozen=True, slots=True, kw_only=True)
class Emitter:
    """One source in a head.

    Attributes:
        wavelength_nm: 400 to 1400 nm.
        mean_power_uw: mean power as stated, microwatts.
        pulse: how it pulses; None for a continuous one.
        aperture_diameter_um: beam diameter where it leaves the head (for hazard), micrometres.
        divergence_mrad: full angle at 1/e, as the IEC counts it; None when it is not stated.
        divergence_note: how that came from what is stated, or "".
    """

    wavelength_nm: Fraction
    mean_power_uw: int
    pulse: Pulse | None = None
    aperture_diameter_um: int | None = None
    divergence_mrad: Fraction | None = None
    divergence_note: str = ""

    def __post_init__(self) -> None:
        if not 400 <= self.wavelength_nm <= 1400:
            raise ValueError(f"wavelength {self.wavelength_nm} nm: allowed is 400 to 1400 nm")
        _positive("mean power", self.mean_power_uw)
        for name in ("aperture_diameter_um", "divergence_mrad"):
            value = getattr(self, name)
            if value is not None:
                _positive(name, value)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputCheck:
    """The output of a head as a meter showed it on a date: mean power in microwatts."""

    power_uw: int
    on: datetime.date

    def __post_init__(self) -> None:
        _positive("measured power", self.power_uw)


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """The mean power of a head as stated and as measured, and which of the two counts for what.

    A meter that reads too low must weaken no protection and lengthen no hold. So eyes and skin are
    always protected from the larger of the two, and where the two are far apart, or the check is
    too old, holds are those of the larger as well: the shorter of the two times.

    Attributes:
        stated_uw: microwatts, all emitters together.
        measured_uw: microwatts; None when no check is recorded.
        expired: the check is older than the plan lets one hold.
        seconds_by: what the prescriber says that holds go by; None when it is not said.
    """

    stated_uw: int
    measured_uw: int | None = None
    expired: bool = False
    seconds_by: PowerBasis | None = None

    @property
    def drift(self) -> Fraction | None:
        """(measured - stated) / stated; None when the output was never checked."""
        if self.measured_uw is None:
            return None
        return Fraction(self.measured_uw - self.stated_uw, self.stated_uw)

    @property
    def doubtful(self) -> bool:
        """Whether the two are far apart, or the check is too old, to go by the meter."""
        return self.drift is not None and (self.expired or abs(self.drift) > DRIFT_LIMIT)

    @property
    def open(self) -> bool:
        """Whether the prescriber still has to say which of the two holds go by."""
        return self.doubtful and self.seconds_by is None and self.measured_uw != self.stated_uw

    @property
    def dose_by(self) -> PowerBasis:
        """What holds, joules and J/cm2 are computed from."""
        if self.measured_uw is None:
            return "stated"
        if self.seconds_by is not None:
            return self.seconds_by
        return self.hazard_by if self.doubtful else "measured"

    @property
    def dose_uw(self) -> int:
        """Mean power that holds, joules and J/cm2 are computed from, microwatts."""
        return self._power_uw(self.dose_by)

    @property
    def hazard_by(self) -> PowerBasis:
        """The larger of the two, from which eyes and skin are protected."""
        larger = self.measured_uw is not None and self.measured_uw > self.stated_uw
        return "measured" if larger else "stated"

    @property
    def hazard_uw(self) -> int:
        """Mean power that eyes and skin are protected from, microwatts."""
        return self._power_uw(self.hazard_by)

    @property
    def other_uw(self) -> int:
        """The one of the two that holds do not go by, microwatts."""
        return self._power_uw("stated" if self.dose_by == "measured" else "measured")

    def _power_uw(self, basis: PowerBasis) -> int:
        measured = self.measured_uw if basis == "measured" else None
        return self.stated_uw if measured is None else measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The part that touches the dog.

    Attributes:
        emitters: one or more sources.
        beam_area_um2: beam area at the skin; None when it is not stated.
        aperture_area_um2: area of the opening, for the record only: never used for a dose.
        checked: the last output check.
    """

    emitters: tuple[Emitter, ...]
    beam_area_um2: int | None = None
    aperture_area_um2: int | None = None
    checked: OutputCheck | None = None

    def __post_init__(self) -> None:
        if not self.emitters:
            raise ValueError("a head needs at least one emitter")
        for name in ("beam_area_um2", "aperture_area_um2"):
            value = getattr(self, name)
            if value is not None:
                _positive(name, value)

    @property
    def stated_power_uw(self) -> int:
        """Sum of the mean powers as stated, microwatts."""
        return sum(emitter.mean_power_uw for emitter in self.emitters)

    @property
    def output(self) -> Output:
        """Stated and measured power; what a plan says besides is not known here."""
        measured = None if self.checked is None else self.checked.power_uw
        return Output(stated_uw=self.stated_power_uw, measured_uw=measured)

    @property
    def hazard_ratio(self) -> Fraction:
        """Power that eyes and skin are protected from / power as stated, at least 1."""
        return Fraction(self.output.hazard_uw, self.stated_power_uw)


def full_angle_mrad(
    stated_mrad: Fraction, meaning: DivergenceIs | None, *, other_mrad: Fraction | None = None
) -> tuple[Fraction, str]:
    """The full angle at 1/e of what is stated, and in words what was done to it, or "".

    A Gaussian beam: the angle at 1/e2 is the square root of 2 times that at 1/e, and the full width
    at half maximum sqrt(ln 2) times (mathematics of exp(-r2/a2)). Of an unsaid meaning the unsafe
    one is corrected for: data sheets mostly print 1/e2 (common practice, no source), and taking
    that for 1/e makes a hazard distance 1.41 times too short. Of two axes the smaller counts.
    """
    angle = stated_mrad if other_mrad is None else min(stated_mrad, other_mrad)
    notes = []
    if other_mrad is not None:
        notes.append(
            f"of the two axes the smaller, {rounded(angle, 1).normalize():f} mrad, is used"
        )
    if meaning is None:
        notes.append(
            "the plan does not say what its divergence is: taken as a full angle at 1/e2, the "
            "reading that gives the farther distance (1.41 times)"
        )
    factor = _TO_1_E[meaning or "full angle at 1/e2"]
    return angle * factor, "; ".join(notes)


def pulse_of(
    *,
    peak_power_uw: int,
    duty_cycle: Fraction,
    width_ns: Fraction | None = None,
    frequency_hz: Fraction | None = None,
) -> Pulse:
    """How an emitter pulses; of pulse width and frequency either gives the other: DC = f * t."""
    if frequency_hz is not None and width_ns is None:
        width_ns = duty_cycle / frequency_hz * 10**9
    elif width_ns is not None and frequency_hz is None:
        frequency_hz = duty_cycle / width_ns * 10**9
    return Pulse(
        peak_power_uw=peak_power_uw,
        duty_cycle=duty_cycle,
        width_ns=width_ns,
        frequency_hz=frequency_hz,
    )


def round_area_um2(*, diameter_um: int) -> int:
    """Area of a round spot, pi d^2 / 4, to the nearest square micrometre."""
    _positive("diameter", diameter_um)
    return round(Fraction(math.pi) * diameter_um**2 / 4)


def rectangle_area_um2(*, width_um: int, length_um: int) -> int:
    """Area of a rectangular spot, exactly."""
    _positive("width", width_um)
    _positive("length", length_um)
    return width_um * length_um


def output_remarks(head: Head, *, today: datetime.date, valid_days: int | None) -> list[str]:
    """What to say about the output check; ``valid_days`` is how long the plan lets one hold."""
    if head.checked is None:
        if valid_days is None:
            return []
        return [f"the plan wants the output checked every {valid_days} days; no check is recorded"]
    remarks = []
    age_days = (today - head.checked.on).days
    if age_days < 0:
        remarks.append(f"the output check is dated {head.checked.on}, after today ({today})")
    elif valid_days is not None and age_days > valid_days:
        remarks.append(
            f"the output was last checked on {head.checked.on}, {age_days} days ago; "
            f"the plan allows {valid_days}"
        )
    drift = head.output.drift
    if drift is not None and abs(drift) > DRIFT_LIMIT:
        stated, measured = (
            f"{rounded(mw_from_uw(power), 1)} mW"
            for power in (head.stated_power_uw, head.checked.power_uw)
        )
        slip = unit_slip(1 + drift)
        remarks.append(
            f"the measured output is {measured}, {rounded(drift * 100, 1):+} % from the stated "
            f"{stated}: over {rounded(DRIFT_LIMIT * 100, 0)} % is worth a look at the head"
            f"{f'; {slip}' if slip else ''}"
        )
    return remarks


def unit_slip(ratio: Fraction) -> str:
    """What a measured / stated ``ratio`` near a power of ten looks like, or ""."""
    for times, words in _SLIPS:
        if abs(ratio / times - 1) <= DRIFT_LIMIT:
            return f"{words}: is one of the two numbers typed wrongly?"
    return ""


def _positive(name: str, value: int | Fraction) -> None:
    if value <= 0:
        raise ValueError(f"{name} {value}: it must be more than zero")
