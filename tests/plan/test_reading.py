"""Reading plans: what is right is taken as written, and whatever is wrong is told in one run."""

import datetime
import hashlib
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from tests.plan.worlds import PLAN, PLANS, TODAY, changed, line_in, problems_of, read

NS_PER_S = 10**9


def test_a_plan_is_taken_as_written() -> None:
    plan = read(PLAN)
    assert (plan.about.id, plan.about.revision) == ("spine", 3)
    assert plan.about.valid_until == datetime.date(2026, 12, 31)
    assert plan.dog.weight_kg == Decimal("9.5")
    assert plan.laser.power_uw == 100_000
    assert plan.laser.beam_area_um2 == 50_000_000
    assert [order.region for order in plan.regions] == ["lumbar", "hip"]


# The numbers of both demonstration plans are worked out by hand from their files.
@pytest.mark.parametrize(
    ("name", "spots", "hold_s", "joules"),
    [
        # 2 x 30 + 4 x 30 + 3 x 40 + 8 x 40 + 3 x 40 + 1 x 30 s at 100 mW; 4 J take 40 s
        ("demo-long-back", 21, 770, 77),
        # 2 x 30 + 10 x 40 + 3 x 40 + 6 x 50 + 4 x 40 s at 400 mW x 0.5; 8 J/cm2 take 40 s
        ("demo-big-hips", 25, 1040, 208),
    ],
)
def test_demonstration_plans(name: str, spots: int, hold_s: int, joules: int) -> None:
    plan_file = load_plan(PLANS / f"{name}.toml", today=TODAY)
    session = spots_of(plan_file.plan)
    held_ns = sum(spot.hold_ns for spot in session)
    assert len(session) == spots
    assert held_ns == hold_s * NS_PER_S
    assert Fraction(plan_file.plan.laser.power_uw * held_ns, 10**15) == joules
    assert "(invented)" in plan_file.plan.about.prescriber
    assert "not advice" in plan_file.plan.about.note
    assert plan_file.digest == hashlib.sha256((PLANS / f"{name}.toml").read_bytes()).hexdigest()


def test_what_may_be_left_out_has_the_usual_value_and_never_a_dose() -> None:
    text = PLAN[: PLAN.index("[[course]]")] + PLAN[PLAN.index("[[regions]]") :]
    plan = read(text)
    assert plan.course == ()
    assert (plan.rules.order, plan.rules.advance) == ("one side at a time", "auto")
    assert plan.laser.starts == "stays on"
    assert plan.settle.each_side_ns == plan.rules.repeats_allowed == 0


@pytest.mark.parametrize(
    "text",
    [
        changed(("mean_power_mw = 100", "mean_power_mw = 100.00")),
        changed(("mean_power_mw = 100", "mean_power_mw = 1e2")),
        changed(("mean_power_mw = 100\n", "pulsed = { peak_power_mw = 400, duty_cycle = 0.25 }\n")),
        changed(
            ("mean_power_mw = 100\n", ""),
            (
                "beam_area_cm2 = 0.5\n",
                "beam_area_cm2 = 0.5\n[laser.pulsed]\npeak_power_mw = 400\n"
                "pulse_width_us = 50\nfrequency_hz = 5000\n",
            ),
        ),
    ],
    ids=["decimals", "exponent", "duty cycle", "width and frequency"],
)
def test_the_same_mean_power_in_other_words(text: str) -> None:
    assert read(text).laser.power_uw == 100_000


@pytest.mark.parametrize(
    ("dose", "hold_s"),
    [
        ("seconds_each_spot = 40.25", "40.25"),
        ("joules_each_spot = 4", "40"),
        ("joules_per_cm2_each_spot = 8", "40"),
        ("joules_each_spot = 4\njoules_per_cm2_each_spot = 8", "40"),
        # Stated twice and within 5 %: the seconds rule.
        ("seconds_each_spot = 41\njoules_each_spot = 4", "41"),
        # 33.333... s: whole tenths, which is what can be held and counted.
        ("joules_each_spot = 3.3333", "33.3"),
    ],
)
def test_target_to_seconds(dose: str, hold_s: str) -> None:
    plan = read(changed(("seconds_each_spot = 40", dose)))
    assert plan.hold_ns(plan.regions[0]) == Fraction(hold_s) * NS_PER_S


def test_the_last_valid_day_still_counts() -> None:
    assert read(changed(("2026-12-31", "2026-11-25"))).about.valid_until == TODAY


def test_both_sides_of_five_percent() -> None:
    within = changed(("seconds_each_spot = 40", "seconds_each_spot = 42\njoules_each_spot = 4"))
    beyond = changed(("seconds_each_spot = 40", "seconds_each_spot = 42.1\njoules_each_spot = 4"))
    assert read(within).regions[0].seconds_each_spot == 42
    assert [problem.found for problem in problems_of(beyond)] == ["42.1 s beside 4 J"]


def test_every_problem_is_told_at_once_in_the_order_of_the_file() -> None:
    text = changed(
        ("revision = 3", "revision = 0"),
        ("valid_until = 2026-12-31", "valid_until = 2026-11-01"),
        ("weight_kg = 9.5", "weight_kg = 9,5"),
        ("mean_power_mw = 100", "mean_power_mw = 0.1"),
        ("weeks = 2", "weeks = 0"),
        ("move_seconds = 8", "move_secs = 8"),
        ('region = "lumbar"', 'region = "lumber"'),
        ("spots = 4", "spots = 400"),
        ('["right"]', '["middle"]'),
        ('"cranial"', '"dorsal"'),
        ("joules_each_spot = 4", ""),
    )
    assert [problem.field for problem in problems_of(text)] == [
        "plan.revision",
        "plan.valid_until",
        "dog.weight_kg",
        "laser.mean_power_mw",
        "course[1].weeks",
        "session.move_secs",
        "regions[1].region",
        "regions[1].spots",
        "regions[2].seconds_each_spot",
        "regions[2].sides[1]",
        "regions[2].aspects[2]",
    ]


def test_a_bad_laser_or_dose_brings_no_false_alarm_about_the_other() -> None:
    text = changed(
        ("mean_power_mw = 100", "mean_power_mw = 100 mW"),
        ("seconds_each_spot = 40", "seconds_each_spot = 40\njoules_each_spot = 600"),
        ("joules_each_spot = 4\n", "joules_each_spot = x\n"),
    )
    assert {problem.field for problem in problems_of(text)} == {
        "laser.mean_power_mw",
        "regions[1].joules_each_spot",
        "regions[2].joules_each_spot",
    }


def test_a_bad_beam_area_is_not_told_as_none() -> None:
    text = changed(
        ("beam_area_cm2 = 0.5", "beam_area_cm2 = 500"),
        ("joules_each_spot = 4", "joules_per_cm2_each_spot = 8"),
    )
    assert [problem.field for problem in problems_of(text)] == ["laser.beam_area_cm2"]


def test_a_plan_of_keys_with_dots_is_located_too() -> None:
    start, end = PLAN.index("[laser]"), PLAN.index("[[course]]")
    dotted = (
        'laser.label = lamp\nlaser.laser_class = "3B"\nlaser.wavelength_nm = 808\n'
        "laser.pulsed.peak_power_mw = 400\nlaser.pulsed.duty_cycle = 25\n"
    )
    text = PLAN[:start] + PLAN[end:]
    text = changed(("coach_plan = 1\n", f"coach_plan = 1\n{dotted}"), text=text)
    assert [(problem.field, problem.line) for problem in problems_of(text)] == [
        (field, line_in(text, field)) for field in ("laser.label", "laser.pulsed.duty_cycle")
    ]


def test_regions_in_one_list_are_located_too() -> None:
    order = '{ region = "lumbar", sides = ["left"], seconds_each_spot = 40, spots ='
    one_list = f"regions = [\n  {order} 1 }},\n  {order} 0 }},\n]\n"
    text = PLAN[: PLAN.index("[[regions]]")]
    text = changed(("coach_plan = 1\n", f"coach_plan = 1\n{one_list}"), text=text)
    (problem,) = problems_of(text)
    assert (problem.field, problem.line) == ("regions[2].spots", line_in(text, "spots = 0"))


def test_a_plan_may_begin_with_a_mark_and_have_lines_of_other_systems(tmp_path: Path) -> None:
    raw = b"\xef\xbb\xbf" + PLAN.replace("\n", "\r\n").encode()
    path = tmp_path / "plan.toml"
    path.write_bytes(raw)
    plan_file = load_plan(path, today=TODAY)
    assert plan_file.plan == read(PLAN)
    assert plan_file.digest == hashlib.sha256(raw).hexdigest()
