"""Lasers in plans: several emitters, the beam area in three ways, the output check.

Arithmetic expectations are worked out by hand beside each; published ones name their source.
"""

import datetime
import math
from fractions import Fraction

import pytest

from coach.plan.laser import Laser
from coach.plan.write import write_plan
from tests.plan.worlds import changed, line_in, problems_of, read

POWER = "wavelength_nm = 808\nmean_power_mw = 100\n"
AREA = "beam_area_cm2 = 0.5\n"
COURSE = '\n[[course]]\nname = "induction"'

TWO = """
[[laser.emitter]]
wavelength_nm = 808
mean_power_mw = 100
divergence_mrad = 200

[[laser.emitter]]
wavelength_nm = 905

[laser.emitter.pulsed]
peak_power_mw = 25000
pulse_width_us = 0.2
frequency_hz = 5000
"""


def with_laser(extra: str, *, power: str = POWER, area: str = AREA) -> str:
    """The plan with another power and area, and ``extra`` after the other lines of the laser."""
    return changed((POWER, power), (AREA, f"{area}{extra}"))


def laser_of(extra: str, *, power: str = POWER, area: str = AREA) -> Laser:
    return read(with_laser(extra, power=power, area=area)).laser


def test_every_emitter_has_its_own_wavelength_and_power() -> None:
    laser = laser_of(TWO, power="divergence_mrad = 50\n")
    # 25 W x 0.2 us x 5000 Hz = 25 mW; with 100 mW that is 125 mW.
    assert laser.power_uw == 125_000
    first, second = laser.head.emitters
    assert (first.wavelength_nm, first.mean_power_uw) == (Fraction(808), 100_000)
    assert first.pulse is None
    assert (second.wavelength_nm, second.mean_power_uw) == (Fraction(905), 25_000)
    assert second.pulse is not None
    assert (second.pulse.width_ns, second.pulse.frequency_hz) == (Fraction(200), Fraction(5000))
    # What an emitter does not state holds for the whole head. Of an unsaid divergence the reading
    # is taken that gives the farther distance: the angle divided by the square root of 2.
    angles = [float(one.divergence_mrad or 0) for one in (first, second)]
    assert angles == pytest.approx([141.4214, 35.35534], rel=1e-6)


def test_the_power_of_all_emitters_gives_the_hold() -> None:
    # 4 J at 125 mW take 32 s.
    plan = read(with_laser(TWO, power=""))
    assert plan.hold_ns(plan.regions[1]) == 32 * 10**9


@pytest.mark.parametrize(
    ("timing", "width_us", "hz"),
    [
        # D03, R: Suarez Redondo & Stephens 2019 p. 110: 100 Hz, 0.3: 3.0 ms; D04: 2 Hz: 150 ms.
        ("frequency_hz = 100", 3_000, 100),
        ("frequency_hz = 2", 150_000, 2),
        ("pulse_width_us = 3000", 3_000, 100),
        ("pulse_width_us = 3000\nfrequency_hz = 100", 3_000, 100),
    ],
)
def test_a_duty_cycle_and_one_of_width_and_frequency_give_the_other(
    timing: str, width_us: int, hz: int
) -> None:
    pulsed = f"\n[laser.pulsed]\npeak_power_mw = 400\nduty_cycle = 0.3\n{timing}\n"
    (emitter,) = laser_of(pulsed, power="wavelength_nm = 905\n").head.emitters
    assert emitter.pulse is not None
    assert emitter.pulse.width_ns == width_us * 1000
    assert emitter.pulse.frequency_hz == hz
    assert emitter.mean_power_uw == 120_000


@pytest.mark.parametrize(
    ("area", "cm2"),
    [
        ("beam_area_cm2 = 0.5\n", 0.5),
        ("beam_diameter_cm = 1.0\n", math.pi / 4),
        # S08, R: Macquarie Univ., 1 cm round: 10 W make 12.732 W/cm2, so 0.78543 cm2.
        ("beam_diameter_cm = 1\n", 10 / 12.732),
        ("beam_rectangle_cm = [1.0, 0.5]\n", 0.5),
        ("beam_rectangle_cm = [2, 1.25]\n", 2.5),
    ],
)
def test_the_beam_area_is_an_area_a_diameter_or_a_rectangle(area: str, cm2: float) -> None:
    found = laser_of("", area=area).beam_area_um2
    assert found is not None
    assert found / 10**8 == pytest.approx(cm2, rel=1e-4)


def test_the_opening_of_the_head_never_gives_a_dose() -> None:
    laser = laser_of("aperture_area_cm2 = 0.05\n", area="")
    assert laser.beam_area_um2 is None
    assert laser.head.aperture_area_um2 == 5_000_000


def test_the_measured_power_replaces_the_stated_one() -> None:
    plan = read(
        with_laser("\n[laser.output_check]\nmeasured_mw = 80\non = 2026-11-20\nvalid_days = 90\n")
    )
    assert plan.laser.power_uw == 80_000
    # (80 - 100) / 100
    assert plan.laser.output.drift == Fraction(-1, 5)
    checked = plan.laser.head.checked
    assert checked is not None
    assert checked.on == datetime.date(2026, 11, 20)
    # 4 J at 80 mW take 50 s; seconds that are ordered stay as they are.
    assert [plan.hold_ns(order) // 10**9 for order in plan.regions] == [40, 50]


@pytest.mark.parametrize(
    "text",
    [
        with_laser(TWO, power=""),
        with_laser("", area="beam_rectangle_cm = [1.0, 0.5]\n"),
        with_laser("aperture_area_cm2 = 0.05\n", area="beam_diameter_cm = 0.8\n"),
        with_laser("aperture_diameter_cm = 0.5\ndivergence_mrad = 200\n"),
        with_laser("\n[laser.output_check]\nmeasured_mw = 80\non = 2026-11-20\n"),
        with_laser("\n[laser.output_check]\nvalid_days = 90\n"),
    ],
)
def test_what_is_written_is_read_again(text: str) -> None:
    plan = read(text)
    assert read(write_plan(plan)) == plan


@pytest.mark.parametrize(
    ("extra", "power", "area", "field", "at", "says"),
    [
        (TWO, POWER, AREA, "laser.wavelength_nm", "wavelength_nm", "[[laser.emitter]]"),
        ("", "mean_power_mw = 100\n", AREA, "laser.wavelength_nm", "[laser]", "such as"),
        (
            "\n[[laser.emitter]]\nwavelength_nm = 808\n",
            "",
            AREA,
            "laser.emitter[1].mean_power_mw",
            "[[laser.emitter]]",
            "[laser.emitter.pulsed]",
        ),
        (
            "\n[[laser.emitter]]\nmean_power_mw = 50\n",
            "",
            AREA,
            "laser.emitter[1].wavelength_nm",
            "[[laser.emitter]]",
            "wavelength_nm = 808",
        ),
        (
            "\n[[laser.emitter]]\nwavelength_nm = 0.808\nmean_power_mw = 50\n",
            "",
            AREA,
            "laser.emitter[1].wavelength_nm",
            "wavelength_nm = 0.808",
            "this looks like um",
        ),
        (
            "\n[[laser.emitter]]\nwavelength_nm = 905\n"
            "[laser.emitter.pulsed]\npeak_power = 5\npeak_power_mw = 400\nduty_cycle = 0.5\n",
            "",
            AREA,
            "laser.emitter[1].pulsed.peak_power",
            "peak_power = 5",
            "peak_power_mw",
        ),
        (
            "\n[[laser.emitter]]\nwavelength_nm = 808\nmean_power_mw = 20000\n" * 2,
            "",
            AREA,
            "laser.emitter",
            "[[laser.emitter]]",
            "1 to 30000 mW",
        ),
        (
            "",
            POWER,
            "beam_area_cm2 = 0.5\nbeam_diameter_cm = 0.8\n",
            "laser.beam_diameter_cm",
            "beam_diameter_cm",
            "one of beam_area_cm2",
        ),
        # pi/4 x (0.02 cm)^2 = 0.000314 cm2
        (
            "",
            POWER,
            "beam_diameter_cm = 0.02\n",
            "laser.beam_diameter_cm",
            "beam_diameter_cm",
            "0.001 to 100 cm2",
        ),
        (
            "",
            POWER,
            "beam_diameter_cm = 50\n",
            "laser.beam_diameter_cm",
            "beam_diameter_cm",
            "this looks like mm",
        ),
        (
            "",
            POWER,
            "beam_rectangle_cm = [1.0]\n",
            "laser.beam_rectangle_cm",
            "beam_rectangle_cm",
            "two sides in cm",
        ),
        (
            "",
            POWER,
            "beam_rectangle_cm = [1.0, -0.5]\n",
            "laser.beam_rectangle_cm",
            "beam_rectangle_cm",
            "two sides of 0.01 to 15 cm",
        ),
        (
            "\n[laser.output_check]\nmeasured_mw = 80\n",
            POWER,
            AREA,
            "laser.output_check.on",
            "[laser.output_check]",
            "both measured_mw and on",
        ),
        (
            "\n[laser.output_check]\nmeasured_mw = 0.08\non = 2026-11-20\n",
            POWER,
            AREA,
            "laser.output_check.measured_mw",
            "measured_mw",
            "this looks like watts",
        ),
        (
            "divergence_mrad = 0\n",
            POWER,
            AREA,
            "laser.divergence_mrad",
            "divergence_mrad",
            "0.1 to 3200 mrad",
        ),
    ],
)
def test_a_laser_that_cannot_be_is_refused(
    extra: str, power: str, area: str, field: str, at: str, says: str
) -> None:
    text = with_laser(extra, power=power, area=area)
    problem = problems_of(text)[0]
    assert problem.field == field
    assert problem.line == line_in(text, at)
    assert says in f"{problem.found} {problem.allowed} {problem.hint}"


def test_a_measured_power_with_which_a_dose_no_longer_closes_is_refused_with_the_arithmetic() -> (
    None
):
    # 40 s at 60 mW give 2.4 J, 40 % less than the 4 J beside it.
    text = changed(
        (AREA, f"{AREA}\n[laser.output_check]\nmeasured_mw = 60\non = 2026-11-20\n"),
        ("seconds_each_spot = 40", "seconds_each_spot = 40\njoules_each_spot = 4"),
    )
    (problem,) = problems_of(text)
    assert problem.field == "regions[1].seconds_each_spot"
    assert "0.06 W × 40 s = 2.4 J, -40.0 %" in problem.hint


@pytest.mark.parametrize(
    ("power", "dose", "slip"),
    [
        # Each target is worked out by hand from the slip: 20 mW x 60 s = 1.2 J.
        (
            "mean_power_mw = 20000",
            "seconds_each_spot = 60\njoules_each_spot = 1.2",
            "mW written as W",
        ),
        # 400 mW at half of the time is 200 mW: 400 mW x 20 s = 8 J is the peak.
        (
            "mean_power_mw = 200\npulsed.peak_power_mw = 400\npulsed.duty_cycle = 0.5",
            "seconds_each_spot = 20\njoules_each_spot = 8",
            "mean power taken for the peak power",
        ),
        # 100 mW x 80.4 s = 8.04 J; 1 min 34 s = 94 s would give 9.4 J.
        (
            "mean_power_mw = 100",
            "seconds_each_spot = 80.4\njoules_each_spot = 9.4",
            "1.34 min is 80.4 s, 1 min 34 s is 94 s",
        ),
        # 100 mW x 40 s = 4 J; over the opening of 0.05 cm2 that is 80 J/cm2.
        (
            "mean_power_mw = 100\naperture_area_cm2 = 0.05",
            "seconds_each_spot = 40\njoules_per_cm2_each_spot = 80",
            "aperture area taken for the beam area",
        ),
    ],
)
def test_a_dose_that_does_not_close_names_the_likely_slip(power: str, dose: str, slip: str) -> None:
    text = changed(("mean_power_mw = 100", power), ("seconds_each_spot = 40", dose))
    problem = next(p for p in problems_of(text) if p.field.startswith("regions[1]"))
    assert slip in problem.hint


CHECK = "\n[laser.output_check]\nmeasured_mw = {mw}\non = 2026-11-20\nvalid_days = {days}\n"


# Held against E = P t (BC Tendinopathy Task Force toolkit, appendix B): 4 J at 100 mW are 40 s,
# at 70 mW 57.14 s, at 130 mW 30.77 s, at 90 mW 44.44 s. The shorter of two times is used.
@pytest.mark.parametrize(
    ("measured_mw", "valid_days", "hold_s"),
    [(70, 90, "40"), (130, 90, "30.8"), (90, 90, "44.4"), (90, 4, "40"), (90, 5, "44.4")],
)
def test_a_doubtful_check_never_makes_a_hold_longer(
    measured_mw: int, valid_days: int, hold_s: str
) -> None:
    plan = read(with_laser(CHECK.format(mw=measured_mw, days=valid_days)))
    # regions[2] orders 4 J on each spot.
    assert plan.hold_ns(plan.regions[1]) == Fraction(hold_s) * 10**9


def test_format_2_says_which_power_seconds_go_by() -> None:
    two = ("coach_plan = 1", "coach_plan = 2")
    base = changed(
        two,
        ("[settle]\nseconds_each_side = 30\n", ""),
        text=with_laser(CHECK.format(mw=50, days=90)),
    )
    for by, hold_s in (("stated", 40), ("measured", 80)):
        plan = read(changed(("label =", f'seconds_by = "{by}"\nlabel ='), text=base))
        assert plan.hold_ns(plan.regions[1]) == hold_s * 10**9
        assert not plan.laser.output.open
        assert read(write_plan(plan)) == plan
    assert read(base).laser.output.open
    unmeasured = changed(
        two,
        ("[settle]\nseconds_each_side = 30\n", ""),
        ("label =", 'seconds_by = "measured"\nlabel ='),
    )
    (problem,) = problems_of(unmeasured)
    assert problem.field == "laser.seconds_by"
    assert "measured_mw" in problem.allowed


FORMAT_2 = (
    ("coach_plan = 1", "coach_plan = 2"),
    ("[settle]\nseconds_each_side = 30\n", ""),
)


# A Gaussian beam exp(-r2/a2): at 1/e2 the radius is sqrt(2) a, at half maximum sqrt(ln 2) a.
@pytest.mark.parametrize(
    ("lines", "angle_mrad", "note"),
    [
        ("", 141.4214, "does not say what its divergence is"),
        ('divergence_is = "full angle at 1/e"', 200, ""),
        ('divergence_is = "full angle at 1/e2"', 141.4214, ""),
        ('divergence_is = "half angle at 1/e"', 400, ""),
        ('divergence_is = "half angle at 1/e2"', 282.8427, ""),
        ('divergence_is = "full width at half maximum"', 240.2245, ""),
        (
            'divergence_is = "full angle at 1/e"\ndivergence_other_mrad = 150',
            150,
            "of the two axes the smaller, 150 mrad, is used",
        ),
        ("divergence_other_mrad = 300", 141.4214, "of the two axes the smaller, 200 mrad, is used"),
    ],
)
def test_a_divergence_says_what_it_is(lines: str, angle_mrad: float, note: str) -> None:
    text = changed(*FORMAT_2, text=with_laser(f"divergence_mrad = 200\n{lines}\n"))
    (emitter,) = read(text).laser.head.emitters
    assert float(emitter.divergence_mrad or 0) == pytest.approx(angle_mrad, rel=1e-6)
    assert note in emitter.divergence_note
    assert bool(note) == bool(emitter.divergence_note)
