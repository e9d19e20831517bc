"""Heads and emitters: power, area, and what the output check says."""

import datetime
import re
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.dose.beam import (
    Emitter,
    Head,
    Output,
    OutputCheck,
    PowerBasis,
    Pulse,
    output_remarks,
    pulse_of,
    rectangle_area_um2,
    round_area_um2,
)
from tests.dose.emitters import pulsed_by_duty_cycle, pulsed_by_width

TODAY = datetime.date(2026, 11, 25)


def head(*, checked_uw: int | None = None, days_ago: int = 0) -> Head:
    """An invented head of two emitters, 500 mW in all."""
    check = None
    if checked_uw is not None:
        check = OutputCheck(power_uw=checked_uw, on=TODAY - datetime.timedelta(days=days_ago))
    return Head(
        emitters=(
            Emitter(wavelength_nm=Fraction(808), mean_power_uw=400_000),
            Emitter(wavelength_nm=Fraction(650), mean_power_uw=100_000),
        ),
        checked=check,
    )


@pytest.mark.parametrize(
    ("wavelength_nm", "held"), [(399, False), (400, True), (1400, True), (1401, False)]
)
def test_an_emitter_is_one_that_reaches_the_retina(wavelength_nm: int, held: bool) -> None:
    # The retinal hazard region is 400 to 1400 nm, both ends included (ICNIRP 2013).
    def made() -> Emitter:
        return Emitter(wavelength_nm=Fraction(wavelength_nm), mean_power_uw=1)

    if held:
        assert made().wavelength_nm == wavelength_nm
    else:
        with pytest.raises(ValueError, match="allowed is 400 to 1400 nm"):
            made()


def test_the_power_of_a_head_is_the_sum_of_its_emitters() -> None:
    assert head().stated_power_uw == 500_000
    assert head().output == Output(stated_uw=500_000)
    assert head().output.drift is None
    assert (head().output.dose_by, head().output.hazard_by) == ("stated", "stated")
    assert head().hazard_ratio == 1


def test_a_measured_output_replaces_the_stated_one_for_doses_and_shows_the_drift() -> None:
    measured = head(checked_uw=440_000).output
    assert (measured.dose_uw, measured.dose_by) == (440_000, "measured")
    assert measured.stated_uw == 500_000
    assert measured.drift == Fraction(-12, 100)
    assert not measured.open


# 500 mW stated, 50 mW measured. Eyes are protected from 500 mW.
@pytest.mark.parametrize(
    ("measured_uw", "expired", "seconds_by", "dose_uw", "hazard_uw", "open_"),
    [
        (50_000, True, None, 500_000, 500_000, True),
        (50_000, False, None, 500_000, 500_000, True),
        (50_000, True, "measured", 50_000, 500_000, False),
        (50_000, True, "stated", 500_000, 500_000, False),
        (450_000, True, None, 500_000, 500_000, True),
        (450_000, False, None, 450_000, 500_000, False),
        (450_000, False, "stated", 500_000, 500_000, False),
        (550_000, False, None, 550_000, 550_000, False),
        (700_000, False, None, 700_000, 700_000, True),
        (700_000, False, "stated", 500_000, 700_000, False),
        (500_000, True, None, 500_000, 500_000, False),
    ],
)
def test_a_low_reading_weakens_nothing_and_lengthens_nothing(
    measured_uw: int,
    expired: bool,
    seconds_by: PowerBasis | None,
    dose_uw: int,
    hazard_uw: int,
    open_: bool,
) -> None:
    output = Output(
        stated_uw=500_000, measured_uw=measured_uw, expired=expired, seconds_by=seconds_by
    )
    assert (output.dose_uw, output.hazard_uw, output.open) == (dose_uw, hazard_uw, open_)


@given(stated_uw=st.integers(1, 10**8), measured_uw=st.integers(1, 10**8), expired=st.booleans())
def test_nobody_is_less_safe_for_a_reading(stated_uw: int, measured_uw: int, expired: bool) -> None:
    output = Output(stated_uw=stated_uw, measured_uw=measured_uw, expired=expired)
    assert output.hazard_uw == max(stated_uw, measured_uw)
    assert output.dose_uw in (stated_uw, measured_uw)
    assert output.dose_uw == max(stated_uw, measured_uw) or not output.doubtful


@pytest.mark.parametrize(
    ("checked_uw", "says"),
    [
        (50_000, "a tenth of it"),
        (42_000, "a tenth of it"),
        (5_000, "a hundredth of it"),
        (500, "a thousandth of it"),
        (5_000_000, "ten times as much"),
        (500_000_000, "a thousand times as much"),
    ],
)
def test_a_ratio_near_a_power_of_ten_is_named_as_a_slip(checked_uw: int, says: str) -> None:
    (text,) = output_remarks(head(checked_uw=checked_uw), today=TODAY, valid_days=None)
    assert says in text
    assert "typed wrongly" in text


@pytest.mark.parametrize("checked_uw", [350_000, 250_000, 1_500_000])
def test_another_ratio_is_no_slip(checked_uw: int) -> None:
    (text,) = output_remarks(head(checked_uw=checked_uw), today=TODAY, valid_days=None)
    assert "typed wrongly" not in text


@pytest.mark.parametrize(
    ("checked_uw", "remarked"),
    [(400_000, False), (399_999, True), (600_000, False), (600_001, True), (500_000, False)],
)
def test_a_drift_over_twenty_percent_is_remarked_on(checked_uw: int, remarked: bool) -> None:
    remarks = output_remarks(head(checked_uw=checked_uw), today=TODAY, valid_days=365)
    assert any("from the stated 500.0 mW" in text for text in remarks) is remarked
    assert len(remarks) == int(remarked)


def test_the_drift_is_said_with_its_sign_and_the_limit() -> None:
    (remark,) = output_remarks(head(checked_uw=350_000), today=TODAY, valid_days=None)
    assert "350.0 mW, -30.0 % from the stated 500.0 mW" in remark
    assert "over 20 %" in remark


@pytest.mark.parametrize(("days_ago", "remarked"), [(0, False), (365, False), (366, True)])
def test_an_output_check_older_than_the_plan_allows_is_remarked_on(
    days_ago: int, remarked: bool
) -> None:
    checked = head(checked_uw=500_000, days_ago=days_ago)
    remarks = output_remarks(checked, today=TODAY, valid_days=365)
    assert bool(remarks) is remarked
    assert all("366 days ago" in text and "365" in text for text in remarks)


def test_a_check_that_is_wanted_but_missing_or_of_tomorrow_is_remarked_on() -> None:
    assert "every 90 days" in output_remarks(head(), today=TODAY, valid_days=90)[0]
    assert output_remarks(head(), today=TODAY, valid_days=None) == []
    tomorrow = head(checked_uw=500_000, days_ago=-1)
    assert "after today" in output_remarks(tomorrow, today=TODAY, valid_days=90)[0]


# Inputs and results of D02, D03 (read: Suarez Redondo & Stephens 2019, p. 110).
def test_a_duty_cycle_with_a_frequency_gives_the_pulse_width() -> None:
    emitter = pulsed_by_duty_cycle(
        wavelength_nm=Fraction(980),
        peak_power_uw=6_000_000,
        duty_cycle=Fraction(30, 100),
        frequency_hz=Fraction(100),
    )
    assert emitter.pulse is not None
    assert emitter.pulse.width_ns == 3_000_000


def test_a_duty_cycle_with_a_pulse_width_gives_the_frequency() -> None:
    pulse = pulse_of(
        peak_power_uw=6_000_000, duty_cycle=Fraction(30, 100), width_ns=Fraction(3_000_000)
    )
    assert pulse.frequency_hz == 100


def test_without_a_frequency_the_pulse_width_stays_unknown() -> None:
    emitter = pulsed_by_duty_cycle(
        wavelength_nm=Fraction(980), peak_power_uw=6_000_000, duty_cycle=Fraction(1, 2)
    )
    assert emitter.pulse is not None
    assert emitter.pulse.width_ns is None


@given(
    peak_uw=st.integers(10**6, 10**8),
    width_ns=st.integers(50, 1000),
    frequency_hz=st.integers(100, 10_000),
)
def test_both_ways_of_stating_a_pulsed_head_agree(
    peak_uw: int, width_ns: int, frequency_hz: int
) -> None:
    by_width = pulsed_by_width(
        wavelength_nm=Fraction(905),
        peak_power_uw=peak_uw,
        width_ns=Fraction(width_ns),
        frequency_hz=Fraction(frequency_hz),
    )
    by_share = pulsed_by_duty_cycle(
        wavelength_nm=Fraction(905),
        peak_power_uw=peak_uw,
        duty_cycle=Fraction(width_ns * frequency_hz, 10**9),
        frequency_hz=Fraction(frequency_hz),
    )
    assert by_width == by_share
    assert by_width.mean_power_uw <= peak_uw


def test_a_pulse_may_be_on_all_the_time() -> None:
    assert Pulse(peak_power_uw=1000, duty_cycle=Fraction(1)).duty_cycle == 1


def test_the_area_of_a_spot() -> None:
    # A = pi d^2 / 4 (read: Macquarie University): 1 cm across is 0.785398 cm2.
    assert round_area_um2(diameter_um=10_000) == 78_539_816
    assert rectangle_area_um2(width_um=5_000, length_um=20_000) == 100_000_000


@given(st.integers(10, 150_000))
def test_twice_the_diameter_is_four_times_the_area(diameter_um: int) -> None:
    once, twice = (round_area_um2(diameter_um=d) for d in (diameter_um, 2 * diameter_um))
    assert abs(twice - 4 * once) <= 3


def test_the_aperture_is_never_taken_for_the_beam() -> None:
    only_aperture = Head(
        emitters=(Emitter(wavelength_nm=Fraction(808), mean_power_uw=1000),),
        aperture_area_um2=5_000_000,
    )
    assert only_aperture.beam_area_um2 is None


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        (lambda: Emitter(wavelength_nm=Fraction(300), mean_power_uw=1000), "wavelength 300 nm"),
        (
            lambda: Emitter(wavelength_nm=Fraction(10_600), mean_power_uw=1),
            "wavelength 10600 nm",
        ),
        (lambda: Emitter(wavelength_nm=Fraction(808), mean_power_uw=0), "mean power 0"),
        (
            lambda: Emitter(
                wavelength_nm=Fraction(808), mean_power_uw=1, divergence_mrad=Fraction(-1)
            ),
            "divergence_mrad -1",
        ),
        (lambda: Pulse(peak_power_uw=0, duty_cycle=Fraction(1)), "peak power 0"),
        (lambda: Pulse(peak_power_uw=1000, duty_cycle=Fraction(0)), "duty cycle 0"),
        (lambda: Pulse(peak_power_uw=1000, duty_cycle=Fraction(3, 2)), "duty cycle 3/2"),
        (
            lambda: Pulse(peak_power_uw=1000, duty_cycle=Fraction(1, 2), width_ns=Fraction(5)),
            "pulse width and frequency",
        ),
        (lambda: Head(emitters=()), "a head needs"),
        (
            lambda: Head(
                emitters=(Emitter(wavelength_nm=Fraction(808), mean_power_uw=1),), beam_area_um2=0
            ),
            "beam_area_um2 0",
        ),
        (lambda: OutputCheck(power_uw=-1, on=TODAY), "measured power -1"),
        (lambda: round_area_um2(diameter_um=0), "diameter 0"),
        (lambda: rectangle_area_um2(width_um=0, length_um=5), "width 0"),
        (lambda: rectangle_area_um2(width_um=5, length_um=-5), "length -5"),
    ],
)
def test_what_no_laser_can_be_is_refused_by_name(wrong: Callable[[], object], named: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(named)}"):
        wrong()
