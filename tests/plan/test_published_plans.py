"""Published doses through plan text and spots to energy.

Expected values are printed in the sources, or follow from them as the source states. Status: R
read in the source, R2 read second-hand (another paper that quotes it), M from memory.
"""

from dataclasses import dataclass
from fractions import Fraction

import pytest

from coach.dose import energy
from coach.plan.spots import spots_of
from tests.plan.worlds import changed, problems_of, read

TENDON = "BC Physical Therapy Tendinopathy Task Force, laser dosage toolkit, appendix B"
TEXTBOOK = "Suarez Redondo & Stephens, Veterinary Laser Therapy, 5M 2019, p. 110"


@dataclass(frozen=True, kw_only=True)
class Published:
    """``dose`` and ``power`` are lines of a plan; the rest is what the source prints."""

    source: str
    status: str
    power: str
    area: str
    dose: str
    spots: int = 1
    region: str = "lumbar"
    seconds: str
    joules: str
    session_joules: str
    j_cm2: str | None
    w_cm2: str | None = None


PUBLISHED = {
    "D06, 2 J at 50 mW": Published(
        source=TENDON,
        status="R",
        power="mean_power_mw = 50",
        area="",
        dose="joules_each_spot = 2",
        seconds="40",
        joules="2",
        session_joules="2",
        j_cm2=None,
    ),
    "D07, 20 mW over 0.5 cm2 for 100 s": Published(
        source=TENDON,
        status="R",
        power="mean_power_mw = 20",
        area="beam_area_cm2 = 0.5",
        dose="seconds_each_spot = 100",
        seconds="100",
        joules="2",
        session_joules="2",
        j_cm2="4",
    ),
    "D07 backwards, from 4 J/cm2": Published(
        source=TENDON,
        status="R",
        power="mean_power_mw = 20",
        area="beam_area_cm2 = 0.5",
        dose="joules_per_cm2_each_spot = 4",
        seconds="100",
        joules="2",
        session_joules="2",
        j_cm2="4",
    ),
    "D08, 10 mW over 0.25 cm2 for 100 s": Published(
        source=TENDON,
        status="R",
        power="mean_power_mw = 10",
        area="beam_area_cm2 = 0.25",
        dose="seconds_each_spot = 100",
        seconds="100",
        joules="1",
        session_joules="1",
        j_cm2="4",
    ),
    "D09, full record over 0.005 cm2": Published(
        source="Hegedus 2009, quoted by Fangel 2019",
        status="R2",
        power="mean_power_mw = 50",
        area="beam_area_cm2 = 0.005",
        dose="seconds_each_spot = 120",
        spots=8,
        seconds="120",
        joules="6",
        session_joules="48",
        j_cm2="1200",
        w_cm2="10",
    ),
    "D10, full record over 0.5 cm2": Published(
        source="Fukuda 2011, quoted by Fangel 2019",
        status="R2",
        power="mean_power_mw = 60",
        area="beam_area_cm2 = 0.5",
        dose="seconds_each_spot = 50",
        spots=9,
        seconds="50",
        joules="3",
        session_joules="27",
        j_cm2="6",
        w_cm2="0.12",
    ),
    # The source states 50 mW/cm2; taken over 1 cm2 that is 50 mW.
    "D18, 50 mW/cm2 for 720 s": Published(
        source="Ando 2011, PLoS One 6:e26212",
        status="R",
        power="mean_power_mw = 50",
        area="beam_area_cm2 = 1",
        dose="seconds_each_spot = 720",
        seconds="720",
        joules="36",
        session_joules="36",
        j_cm2="36",
        w_cm2="0.05",
    ),
    # Power is not part of the recommendation but for its bounds, 5-500 mW; 100 mW is ours.
    "D20, cervical spine, 4 points of 4 J": Published(
        source="WALT 2010, 780-860 nm, dose sheet",
        status="R2",
        power="mean_power_mw = 100",
        area="",
        dose="joules_each_spot = 4",
        spots=4,
        region="neck_lower",
        seconds="40",
        joules="4",
        session_joules="16",
        j_cm2=None,
    ),
    "D20, hip, 2 points of 6 J": Published(
        source="WALT 2010, 780-860 nm, dose sheet",
        status="R2",
        power="mean_power_mw = 100",
        area="",
        dose='aspects = ["lateral"]\njoules_each_spot = 6',
        spots=2,
        region="hip",
        seconds="60",
        joules="6",
        session_joules="12",
        j_cm2=None,
    ),
}


def plan_text(
    *, power: str, area: str, dose: str, spots: int = 1, region: str = "lumbar", course: str = ""
) -> str:
    head, _, _ = changed(
        ("mean_power_mw = 100\nbeam_area_cm2 = 0.5", f"{area}\n{power}"),
        ("seconds_each_side = 30", "leave_out = true"),
        ('[[course]]\nname = "induction"\ntimes_a_week = 3\nweeks = 2\n', course),
    ).partition("[[regions]]")
    order = f'[[regions]]\nregion = "{region}"\nsides = ["left"]\nspots = {spots}\n{dose}\n'
    return head + order


@pytest.mark.parametrize("case", PUBLISHED.values(), ids=PUBLISHED)
def test_plan_text_to_spots_to_energy(case: Published) -> None:
    plan = read(
        plan_text(
            power=case.power, area=case.area, dose=case.dose, spots=case.spots, region=case.region
        )
    )
    session = spots_of(plan)
    power_uw, area_um2 = plan.laser.power_uw, plan.laser.beam_area_um2
    energies = [energy.energy_fj(power_uw=power_uw, duration_ns=spot.hold_ns) for spot in session]
    assert [Fraction(spot.hold_ns, 10**9) for spot in session] == [
        Fraction(case.seconds)
    ] * case.spots
    assert {Fraction(energy_fj, 10**15) for energy_fj in energies} == {Fraction(case.joules)}
    assert Fraction(sum(energies), 10**15) == Fraction(case.session_joules)
    assert (area_um2 is None) == (case.j_cm2 is None)
    if area_um2 is not None and case.j_cm2 is not None:
        assert {
            energy.fluence_j_cm2(energy_fj=energy_fj, beam_area_um2=area_um2)
            for energy_fj in energies
        } == {Fraction(case.j_cm2)}
        if case.w_cm2 is not None:
            assert Fraction(power_uw, 10**6) / Fraction(area_um2, 10**8) == Fraction(case.w_cm2)


@pytest.mark.parametrize(
    ("pulses", "mean_mw", "tolerance"),
    [
        # D02, R: TEXTBOOK, peak 6 W at a duty cycle of 0.5 gives 3.0 W.
        ("peak_power_mw = 6000\nduty_cycle = 0.5", "3000", "0"),
        # D01, R: TEXTBOOK, peak 18 W and mean 12 W: duty cycle 0.66667.
        ("peak_power_mw = 18000\nduty_cycle = 0.66667", "12000", "0.0001"),
        # D05, R2: Silveira, quoted in Oxid Med Cell Longev 2017/5273403 (60 ns from memory, M):
        # 70 W, 60 ns, 9500 Hz; printed 40 mW.
        ("peak_power_mw = 70000\npulse_width_us = 0.06\nfrequency_hz = 9500", "39.9", "0.005"),
    ],
)
def test_mean_power_of_published_pulses(pulses: str, mean_mw: str, tolerance: str) -> None:
    text = plan_text(power=f"[laser.pulsed]\n{pulses}", area="", dose="seconds_each_spot = 40")
    found = Fraction(read(text).laser.power_uw, 1000)
    assert abs(found / Fraction(mean_mw) - 1) <= Fraction(tolerance)


def test_a_published_dose_that_does_not_close_is_refused() -> None:
    # D15, R: Olivieri 2015, Vet Dermatol 26:35 prints 1.208 W, 80.4 s, 25 cm2 and 3 J/cm2;
    # that makes 3.885 J/cm2, 29.5 % more. 3 J/cm2 would have taken 62.1 s.
    text = plan_text(
        power="mean_power_mw = 1208",
        area="beam_area_cm2 = 25",
        dose="seconds_each_spot = 80.4\njoules_per_cm2_each_spot = 3",
    )
    (problem,) = problems_of(text)
    assert problem.field == "regions[1].seconds_each_spot"
    assert problem.found == "80.4 s beside 3 J/cm2"
    assert problem.allowed.startswith("about 62.1 s")


@pytest.mark.parametrize(
    ("phases", "sessions"),
    [
        # D19, R: acral-lick trial 2021, 3 a week for 2 weeks, then 2 a week for 2 weeks.
        ([(3, 2), (2, 2)], 10),
        # D19, R2: Alves 2022, 3, 2 and 1 sessions in three weeks.
        ([(3, 1), (2, 1), (1, 1)], 6),
        # D19, R2: Looney 2018, 2 a week for 3 weeks, then 1 a week for 3 weeks.
        ([(2, 3), (1, 3)], 9),
    ],
)
def test_sessions_of_published_courses(phases: list[tuple[int, int]], sessions: int) -> None:
    course = "".join(
        f'[[course]]\nname = "phase"\ntimes_a_week = {times}\nweeks = {weeks}\n'
        for times, weeks in phases
    )
    plan = read(
        plan_text(
            power="mean_power_mw = 100", area="", dose="seconds_each_spot = 40", course=course
        )
    )
    assert sum(phase.sessions for phase in plan.course) == sessions
