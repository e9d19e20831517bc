"""Regions over which the head is moved. Dogs, people and lasers are invented; the treatments are
published, each with its source and how far it was read:

* R: read in print; R2: read second-hand. See the table below.
"""

from fractions import Fraction

import pytest

from coach.dose import energy
from coach.journal.header import header_of
from coach.plan.findings import findings
from coach.plan.model import Plan
from coach.plan.phase_text import phases_json
from coach.plan.spots import Spot, spots_in, spots_of
from coach.plan.summary_text import summary_json, summary_lines
from coach.plan.write import write_plan
from coach.session.cues import every_text, hold_cues
from coach.session.machine import Options
from coach.session.place_guidance import own_lines
from coach.units import NS_PER_S, j_from_fj
from tests.plan.test_format_2 import PLAN_2
from tests.plan.test_phases import file_of
from tests.plan.worlds import TODAY, changed, problems_of, read

S = NS_PER_S
HEAD = changed(
    ('laser_class = "3B"', 'laser_class = "4"'),
    ("mean_power_mw = 100", "mean_power_mw = 10000"),
    ("beam_area_cm2 = 0.5", "beam_diameter_cm = 2.0"),
    ("joules_each_spot = 4", "joules_each_spot = 40"),
    text=PLAN_2,
)
SWEPT = (
    HEAD
    + """
[[regions]]
region = "stifle"
sides = ["left", "right"]
aspects = ["lateral"]
technique = "swept"
treated_area_cm2 = 100
seconds_each_area = 300
"""
)

# Power in mW, area in cm2, what is stated, and what was printed: seconds, J, J/cm2 over the area.
PUBLISHED = {
    # Alves et al., Am J Vet Res 2022;83(8): 6.5 W, 14.3 J/cm2 over the hip, 275 s (R2).
    "hip, 14.3 J/cm2": ("6500", "125", "joules_per_cm2_over_area = 14.3", 275, "1787.5", "14.3"),
    # Rogatko et al., Vet Comp Orthop Traumatol 2017;30:46: 6 W, 3.5 J/cm2 over 100 cm2 (R, the
    # seconds computed: 350 J at 6 W).
    "stifle, 3.5 J/cm2": ("6000", "100", "joules_per_cm2_over_area = 3.5", "58.3", "350", "3.5"),
    # A textbook's wound (p. 93): 3.5 W, 85 to 128 s over 30 cm2, printed 300 to 450 J and 10 to
    # 15 J/cm2 (R).
    "wound, the short time": ("3500", "30", "seconds_each_area = 85", 85, "297.5", "9.92"),
    "wound, the long time": ("3500", "30", "seconds_each_area = 128", 128, "448", "14.93"),
}


@pytest.mark.parametrize(
    ("power", "area", "stated", "seconds", "joules", "over_area"), PUBLISHED.values(), ids=PUBLISHED
)
def test_published_sweeps_close(
    power: str, area: str, stated: str, seconds: str, joules: str, over_area: str
) -> None:
    text = changed(
        ("mean_power_mw = 10000", f"mean_power_mw = {power}"),
        ("treated_area_cm2 = 100", f"treated_area_cm2 = {area}"),
        ("seconds_each_area = 300", stated),
        text=SWEPT,
    )
    plan = read(text)
    sweep = swept(plan)[0]
    held_s = Fraction(sweep.hold_ns, S)
    given_j = j_from_fj(energy.energy_fj(power_uw=plan.laser.power_uw, duration_ns=sweep.hold_ns))
    assert float(held_s) == pytest.approx(float(seconds), rel=0.002)
    assert float(given_j) == pytest.approx(float(joules), rel=0.002)
    (row,) = [
        r
        for r in summary_json(plan, spots_of(plan), [])["regions"]
        if r["spots"] == 2 and r["region"] == "stifle"
    ]
    assert row["fluence_j_cm2_over_area"] == pytest.approx(float(over_area), rel=0.002)
    assert row["fluence_j_cm2"] is None


def paced(how: str) -> Plan:
    stated = "seconds_each_area = 300"
    return read(changed((stated, f"{stated}\n{how}"), text=SWEPT))


def swept(plan: Plan) -> list[Spot]:
    return [spot for spot in spots_of(plan) if spot.swept]


def test_a_sweep_is_one_spot_on_each_side_and_written_back() -> None:
    plan = read(SWEPT)
    sweeps = swept(plan)
    assert sorted(s.side for s in sweeps) == ["left", "right"]
    assert {(s.region, s.aspect, s.number, s.of) for s in sweeps} == {("stifle", "lateral", 1, 1)}
    assert all(s.hold_ns == 300 * S and s.pass_ns is None for s in swept(plan))
    assert read(write_plan(plan)) == plan
    header = header_of(file_of(plan), spots_of(plan), Options(), version="0", rehearsal=False)
    assert spots_in(header["spots"]) == spots_of(plan)  # type: ignore[arg-type]


def test_the_pace_is_the_plans_or_none() -> None:
    """100 cm2 in strips of 2 cm are 50 cm: at 2.5 cm/s a pass takes 20 s."""
    by_passes = read(
        changed(("seconds_each_area = 300", "seconds_each_area = 300\npasses = 5"), text=SWEPT)
    )
    assert swept(by_passes)[0].pass_ns == 60 * S
    by_speed = read(
        changed(
            ("seconds_each_area = 300", "seconds_each_area = 300\nspeed_cm_s = 2.5"), text=SWEPT
        )
    )
    assert swept(by_speed)[0].pass_ns == 20 * S
    assert swept(read(SWEPT))[0].pass_ns is None


def test_a_sweep_without_a_pace_is_a_finding_that_names_the_speed() -> None:
    """The issue's example: 100 cm2, a head of 2 cm, 300 s: 1.7 mm/s, almost still under 10 W."""
    plan = read(SWEPT)
    texts = [f.text for f in findings(plan, spots_of(plan), today=TODAY) if f.field == "regions[3]"]
    assert any("1.7 mm/s" in text for text in texts)
    # 3000 J over an area are no 3000 J on a spot, and no point either.
    assert not any("on each spot" in text or "a point" in text for text in texts)
    paced = read(
        changed(("seconds_each_area = 300", "seconds_each_area = 300\npasses = 5"), text=SWEPT)
    )
    assert not any("mm/s" in f.text for f in findings(paced, spots_of(paced), today=TODAY))


def test_what_is_said_while_the_head_moves() -> None:
    text = changed(("seconds_each_area = 300", "seconds_each_area = 60\npasses = 3"), text=SWEPT)
    spot = swept(read(text))[0]
    cues = hold_cues(spot, 0, 60 * S)
    assert [(cue.at_ns // S, cue.text) for cue in cues if cue.text] == [
        (20, "Next pass."),
        (30, "Halfway."),
        (40, "Next pass."),
        (57, "Three."),
        (58, "Two."),
        (59, "One."),
        (60, "Lift the head."),
    ]
    # Paused at 30 s: what is left goes on in the second pass.
    rest = hold_cues(spot, 100 * S, 130 * S)
    assert (rest[0].at_ns // S, rest[0].text) == (110, "Next pass.")
    assert {
        "Lift the head. Paused.",
        "Next pass.",
        "Keep moving, slowly, flat, overlapping.",
    } <= set(every_text([spot], laser_button=False))
    assert own_lines(spot) == (
        "Move the head over 100 cm2.",
        "Keep it moving: slowly, flat, each stroke over the one before.",
    )


def test_what_the_prescriber_sees() -> None:
    plan = read(SWEPT)
    text = " ".join(" ".join(summary_lines(file_of(plan), spots_of(plan), [])).split())
    # 10 W for 300 s are 3000 J, over 100 cm2 30 J/cm2.
    assert "moved over 100 cm2 each, 30.00 J/cm2 over the area" in text
    (row,) = [r for r in phases_json(plan)[0]["regions"] if r["region"] == "stifle"]
    assert (row["energy_j"], row["fluence_j_cm2"], row["fluence_j_cm2_over_area"]) == (
        3000,
        None,
        30,
    )


BAD = {
    "no area": (
        ("treated_area_cm2 = 100\n", ""),
        "regions[3].treated_area_cm2",
        "nothing",
    ),
    "an area no larger than the head": (
        ("treated_area_cm2 = 100", "treated_area_cm2 = 4"),
        "regions[3].treated_area_cm2",
        "4 cm2, no more than the head covers at rest",
    ),
    "no dose": (
        ("seconds_each_area = 300", ""),
        "regions[3].seconds_each_area",
        "nothing",
    ),
    "a dose of spots": (
        ("seconds_each_area = 300", "seconds_each_area = 300\njoules_per_cm2_each_spot = 8"),
        "regions[3].joules_per_cm2_each_spot",
        "8",
    ),
    "spots": (
        ("seconds_each_area = 300", "seconds_each_area = 300\nspots = 3"),
        "regions[3].spots",
        "3",
    ),
    "passes and a speed": (
        ("seconds_each_area = 300", "seconds_each_area = 300\npasses = 2\nspeed_cm_s = 2"),
        "regions[3].speed_cm_s",
        "this beside passes",
    ),
    "a dose that does not close": (
        ("seconds_each_area = 300", "seconds_each_area = 300\njoules_each_area = 300"),
        "regions[3].seconds_each_area",
        "300 beside 300 J",
    ),
    "an area for a head that rests": (
        ("spots = 4", "spots = 4\ntreated_area_cm2 = 50"),
        "regions[1].treated_area_cm2",
        "50",
    ),
    "far too long": (
        ("seconds_each_area = 300", "joules_per_cm2_over_area = 190"),
        "regions[3].joules_per_cm2_over_area",
        "190 J/cm2 over the area, which takes 1900.0 s",
    ),
}


@pytest.mark.parametrize(("change", "field", "found"), BAD.values(), ids=BAD)
def test_bad_sweeps(change: tuple[str, str], field: str, found: str) -> None:
    (problem,) = problems_of(changed(change, text=SWEPT))
    assert (problem.field, problem.found) == (field, found)
    assert problem.line is not None
