"""The laser as the prescriber states it: its sources, its beam, its last output check. Pure.

Peak or mean power is said, never guessed. What the stated numbers mean together is for
:mod:`coach.dose.beam`; :attr:`Laser.head` hands them over.
"""

import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PrivateAttr

from coach.dose import beam, energy
from coach.plan.fields import (
    FORMAT_2,
    Across,
    Line,
    PowerMw,
    Table,
    between,
    ordinary,
    refuse,
    usual,
    whole,
    words,
)
from coach.units import cm2_from_um2, mw_from_uw, um2_from_cm2, uw_from_mw

UM_PER_CM = 10_000
_DIAMETER_CM = between("0.01", "15", "cm", above="this looks like mm")
_DIVERGENCE = usual("divergence_mrad")

SecondsBy = Literal["stated", "measured"]


def _sides_cm(value: Any) -> list[Decimal]:
    if not isinstance(value, list) or len(value) != 2:
        raise refuse("two sides in cm, such as [1.0, 0.5]")
    sides = [ordinary(side) for side in value]
    if not all(Decimal("0.01") <= side <= 15 for side in sides):
        hint = "this looks like mm" if all(side > 0 for side in sides) else ""
        raise refuse("two sides of 0.01 to 15 cm", hint if max(sides) > 15 else "")
    return sides


class Pulsed(Table):
    """``[laser.pulsed]``: peak power with the duty cycle, or with pulse width and frequency."""

    peak_power_mw: Annotated[Decimal, usual("peak_power_mw")] = Field(examples=[400])
    duty_cycle: Annotated[
        Decimal | None, between("0.000001", "1", "(0.5 means 50 %)", above="this looks like %")
    ] = None
    pulse_width_us: Annotated[Decimal | None, usual("pulse_width_us")] = None
    frequency_hz: Annotated[Decimal | None, usual("frequency_hz")] = None

    @property
    def share(self) -> Fraction | None:
        """The duty cycle, stated or computed; None when neither is possible."""
        if self.duty_cycle is not None:
            return Fraction(self.duty_cycle)
        if self.pulse_width_us is None or self.frequency_hz is None:
            return None
        return energy.duty_cycle(
            frequency_hz=Fraction(self.frequency_hz),
            pulse_width_ns=Fraction(self.pulse_width_us) * 1000,
        )


class Source(Table):
    """What one source of light has: in ``[laser]`` itself, or in each ``[[laser.emitter]]``.

    Attributes:
        divergence_mrad, divergence_other_mrad, divergence_is: for the hazard distance.
        aperture_diameter_cm: of the beam where it leaves the head, for the hazard distance.
    """

    wavelength_nm: Annotated[Decimal | None, usual("wavelength_nm")] = Field(
        default=None, examples=[808]
    )
    mean_power_mw: PowerMw | None = None
    pulsed: Pulsed | None = None
    divergence_mrad: Annotated[Decimal | None, _DIVERGENCE] = None
    divergence_other_mrad: Annotated[Decimal | None, _DIVERGENCE] = Field(
        default=None, json_schema_extra=FORMAT_2
    )
    divergence_is: beam.DivergenceIs | None = Field(default=None, json_schema_extra=FORMAT_2)
    aperture_diameter_cm: Annotated[Decimal | None, _DIAMETER_CM] = None

    @property
    def stated_power_uw(self) -> int:
        """Mean power as stated or worked out, microwatts. ValueError when it is neither."""
        if self.mean_power_mw is not None:
            return uw_from_mw(self.mean_power_mw)
        if self.pulsed is None or self.pulsed.share is None:
            raise ValueError("the laser has neither a mean power nor what gives one")
        return energy.mean_power_uw(
            peak_power_uw=uw_from_mw(self.pulsed.peak_power_mw), duty_cycle=self.pulsed.share
        )

    def emitter_of(self, laser: "Laser") -> beam.Emitter:
        """For the arithmetic. What is not stated here is taken from ``laser``."""
        if self.wavelength_nm is None:
            raise ValueError("the source has no wavelength")
        where: Source = self if self.divergence_mrad is not None else laser
        divergence, note = None, ""
        if where.divergence_mrad is not None:
            other = where.divergence_other_mrad
            divergence, note = beam.full_angle_mrad(
                Fraction(where.divergence_mrad),
                where.divergence_is or laser.divergence_is,
                other_mrad=None if other is None else Fraction(other),
            )
        diameter = self.aperture_diameter_cm or laser.aperture_diameter_cm
        return beam.Emitter(
            wavelength_nm=Fraction(self.wavelength_nm),
            mean_power_uw=self.stated_power_uw,
            pulse=self._pulse(),
            aperture_diameter_um=None if diameter is None else round(diameter * UM_PER_CM),
            divergence_mrad=divergence,
            divergence_note=note,
        )

    def _pulse(self) -> beam.Pulse | None:
        pulsed = self.pulsed
        if pulsed is None or pulsed.share is None:
            return None
        width_us = pulsed.pulse_width_us
        return beam.pulse_of(
            peak_power_uw=uw_from_mw(pulsed.peak_power_mw),
            duty_cycle=pulsed.share,
            width_ns=None if width_us is None else Fraction(width_us) * 1000,
            frequency_hz=None if pulsed.frequency_hz is None else Fraction(pulsed.frequency_hz),
        )


class Emitter(Source):
    """``[[laser.emitter]]``: one of several sources in a head."""


class OutputCheck(Table):
    """``[laser.output_check]``: the mean power that a meter showed, and how long that holds."""

    measured_mw: PowerMw | None = None
    on: datetime.date | None = Field(default=None, examples=[datetime.date(2026, 11, 25)])
    valid_days: Annotated[int | None, whole(1, 3650, "days")] = None

    def expired(self, today: datetime.date | None) -> bool:
        """Whether a check on record is older on ``today`` than the plan lets one hold."""
        if today is None or self.on is None or self.valid_days is None:
            return False
        return (today - self.on).days > self.valid_days


class Laser(Source):
    """``[laser]``: one source stated here, or several under ``[[laser.emitter]]``.

    The beam area at the skin is stated as an area, a diameter or the sides of a rectangle.
    ``aperture_area_cm2``, the opening of the head, is for the record and never gives a dose.
    """

    label: Line = Field(examples=["contact laser"])
    laser_class: Literal["1", "1C", "1M", "2", "2M", "3R", "3B", "4"] = Field(examples=["3B"])
    emitter: Annotated[list[Emitter], Field(min_length=1, max_length=200)] | None = None
    beam_area_cm2: Annotated[Decimal | None, usual("beam_area_cm2", "cm2 at the skin")] = None
    beam_diameter_cm: Annotated[Decimal | None, _DIAMETER_CM] = None
    beam_rectangle_cm: Annotated[list[Decimal] | None, BeforeValidator(_sides_cm)] = None
    aperture_area_cm2: Annotated[Decimal | None, usual("aperture_area_cm2")] = None
    head_footprint_cm: Across | None = None
    key: Annotated[str, words(0, 30)] = Field(
        default="", examples=["small head"], json_schema_extra=FORMAT_2
    )
    seconds_by: SecondsBy | None = Field(default=None, json_schema_extra=FORMAT_2)
    output_check: OutputCheck | None = None
    starts: Literal["stays on", "button at each spot"] = "stays on"
    _today: datetime.date | None = PrivateAttr(default=None)

    @property
    def sources(self) -> tuple[Source, ...]:
        """Every source of the head."""
        return (self,) if self.emitter is None else tuple(self.emitter)

    def as_of(self, today: datetime.date) -> "Laser":
        """The same laser on the day that its plan is read: an output check may be too old."""
        laser = self.model_copy()
        laser._today = today
        return laser

    @property
    def output(self) -> beam.Output:
        """Stated and measured power, and which of the two counts for what."""
        check = self.output_check
        measured_mw = None if check is None else check.measured_mw
        return beam.Output(
            stated_uw=sum(source.stated_power_uw for source in self.sources),
            measured_uw=None if measured_mw is None else uw_from_mw(measured_mw),
            expired=check is not None and check.expired(self._today),
            seconds_by=self.seconds_by,
        )

    @property
    def power_uw(self) -> int:
        """Mean power in microwatts that holds, joules and J/cm2 are computed from."""
        return self.output.dose_uw

    @property
    def beam_area_um2(self) -> int | None:
        """Beam area at the skin in square micrometres, or None if it is not stated."""
        if self.beam_area_cm2 is not None:
            return um2_from_cm2(self.beam_area_cm2)
        if self.beam_diameter_cm is not None:
            return beam.round_area_um2(diameter_um=round(self.beam_diameter_cm * UM_PER_CM))
        if self.beam_rectangle_cm is not None:
            width_um, length_um = (round(side * UM_PER_CM) for side in self.beam_rectangle_cm)
            return beam.rectangle_area_um2(width_um=width_um, length_um=length_um)
        return None

    @property
    def irradiance_mw_cm2(self) -> Fraction | None:
        """Mean power over the beam area at the skin, or None if that is not stated."""
        if self.beam_area_um2 is None:
            return None
        return mw_from_uw(self.power_uw) / cm2_from_um2(self.beam_area_um2)

    @property
    def head(self) -> beam.Head:
        """For the arithmetic: every emitter, the areas, the output check."""
        check, aperture = self.output_check, self.aperture_area_cm2
        checked = None
        if check is not None and check.measured_mw is not None and check.on is not None:
            checked = beam.OutputCheck(power_uw=uw_from_mw(check.measured_mw), on=check.on)
        return beam.Head(
            emitters=tuple(source.emitter_of(self) for source in self.sources),
            beam_area_um2=self.beam_area_um2,
            aperture_area_um2=None if aperture is None else max(1, um2_from_cm2(aperture)),
            checked=checked,
        )
