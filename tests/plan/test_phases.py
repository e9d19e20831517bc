"""Phases with their own dose. The plan is invented; every expected figure is worked out by hand.

The laser of the plan has 100 mW and 0.5 cm2: 40 s are 4 J and 8 J/cm2 a spot, 20 s are 2 J and
4 J/cm2.
"""

import datetime
from decimal import Decimal
from pathlib import Path

import pytest

from coach.bedside.phase_today import phase_lines as owner_lines
from coach.journal.header import header_of
from coach.plan.calendar import Calendar, due_dates
from coach.plan.due_days import Given
from coach.plan.files import PlanFile
from coach.plan.findings import Finding
from coach.plan.model import Plan
from coach.plan.phase_findings import findings_in_phases
from coach.plan.phase_text import course_energy_j, phase_lines, phases_json
from coach.plan.phases import begins_phase, phase_of_today, phase_plans, plan_in_phase
from coach.plan.spots import spots_in, spots_of
from coach.plan.summary_text import summary_lines
from coach.plan.write import write_plan
from coach.session.machine import Options
from coach.units import NS_PER_S
from tests.plan.test_format_2 import PLAN_2
from tests.plan.worlds import changed, problems_of, read

COURSE = '[[course]]\nname = "induction"\ntimes_a_week = 3\nweeks = 2\n'
TAPER = """
[[course]]
name = "taper"
times_a_week = 1
weeks = 4

[[course.regions]]
region = "lumbar"
seconds_each_spot = 20
spots = 2

[[course.regions]]
region = "hip"
leave_out = true
"""
TAPERED = changed((COURSE, COURSE + TAPER), text=PLAN_2)
UTC = datetime.UTC
START = datetime.date(2026, 11, 2)


def given(*days: int) -> list[Given]:
    """Sessions so many days after the first of them, at noon."""
    moments = [
        datetime.datetime.combine(START, datetime.time(12), UTC) + datetime.timedelta(days=day)
        for day in days
    ]
    return [
        Given(number=n, plan_id="spine", plan_revision=3, began=at, ended=at, trusted=True)
        for n, at in enumerate(moments, start=1)
    ]


def file_of(plan: Plan) -> PlanFile:
    return PlanFile(path=Path("spine.toml"), plan=plan, digest="0" * 64)


def calendar(plan: Plan, days: list[int], today: int) -> Calendar:
    return due_dates(plan, None, given(*days), START + datetime.timedelta(days=today), UTC)


def test_a_phase_overrides_and_leaves_out() -> None:
    plan = read(TAPERED)
    first, second = phase_plans(plan)
    assert first.regions == plan.regions
    (lumbar,) = second.regions
    assert (lumbar.region, second.spots_each(lumbar), second.hold_ns(lumbar)) == (
        "lumbar",
        2,
        20 * NS_PER_S,
    )
    assert len(spots_of(second)) == 4
    assert (first.phase, second.phase, plan.phase) == (0, 1, None)
    assert read(write_plan(plan)) == plan


def test_a_dose_of_a_phase_takes_the_place_of_every_other() -> None:
    text = changed(
        ("seconds_each_spot = 20\nspots = 2", "joules_per_cm2_each_spot = 4"), text=TAPERED
    )
    second = plan_in_phase(read(text), 1)
    (lumbar,) = second.regions
    assert lumbar.seconds_each_spot is None
    assert lumbar.joules_per_cm2_each_spot == Decimal(4)
    assert second.hold_ns(lumbar) == 20 * NS_PER_S
    assert second.spots_each(lumbar) == 4


@pytest.mark.parametrize(
    ("by", "days", "today", "phase"),
    [
        # Six sessions are the induction; the seventh is of the taper.
        ("sessions", [], 0, 0),
        ("sessions", [0, 2, 4, 7, 9], 40, 0),
        ("sessions", [0, 2, 4, 7, 9, 11], 11, 1),
        ("sessions", [0, 2, 4, 7, 9, 11, 14, 21, 28, 35, 42], 60, 1),
        # Two weeks are the induction, whatever was given in them.
        ("dates", [0], 13, 0),
        ("dates", [0], 14, 1),
        ("dates", [0, 1, 2, 3, 4, 5, 6], 7, 0),
        ("dates", [0], 300, 1),
    ],
)
def test_the_phase_of_today(by: str, days: list[int], today: int, phase: int) -> None:
    plan = read(changed(("[session]", f'[calendar]\nphases_by = "{by}"\n[session]'), text=TAPERED))
    found = phase_of_today(plan, calendar(plan, days, today), clock_trusted=True)
    assert found == phase


@pytest.mark.parametrize(("missed", "phase"), [("shift", 0), ("drop", 1), ("ask", 1)])
def test_what_ends_a_phase_where_the_plan_does_not_say(missed: str, phase: int) -> None:
    text = changed(("[session]", f'[calendar]\nmissed = "{missed}"\n[session]'), text=TAPERED)
    plan = read(text)
    assert phase_of_today(plan, calendar(plan, [0], 20), clock_trusted=True) == phase
    # Without a clock nobody knows the day: what was given counts.
    assert phase_of_today(plan, calendar(plan, [0], 20), clock_trusted=False) == 0


def test_the_owner_is_told_once_what_is_new() -> None:
    plan = read(changed(("[session]", '[calendar]\nmissed = "shift"\n[session]'), text=TAPERED))
    six = [0, 2, 4, 7, 9, 11]
    new = calendar(plan, six, 14)
    assert begins_phase(plan, new, 1, clock_trusted=True)
    lines = owner_lines(plan, new, 1, clock_trusted=True)
    assert lines[0] == "A new part of the course begins: taper."
    assert "lower back: 20 seconds on each spot, before 40." in lines
    assert any(line.startswith("No longer: hip") for line in lines)
    assert not any("In the plan file" in line for line in lines)
    later = calendar(plan, [*six, 14], 21)
    assert owner_lines(plan, later, 1, clock_trusted=True) == ["Part of the course: taper."]
    assert owner_lines(plan, calendar(plan, [], 0), 0, clock_trusted=True) == [
        "Part of the course: induction."
    ]
    alike = read(PLAN_2)
    assert owner_lines(alike, calendar(alike, [], 0), 0, clock_trusted=True) == []


def test_a_journal_says_its_phase() -> None:
    plan = plan_in_phase(read(TAPERED), 1)
    header = header_of(file_of(plan), spots_of(plan), Options(), version="0", rehearsal=False)
    assert header["phase"] == {"number": 2, "name": "taper"}


def test_phases_side_by_side() -> None:
    plan = read(TAPERED)
    text = "\n".join(phase_lines(plan))
    rows = {line[:28].strip(): line[28:].split() for line in text.splitlines() if line[28:].strip()}
    assert rows["Phases side by side"] == ["induction", "taper"]
    assert rows["sessions"] == ["6", "4"]
    # 2 sides x 4 spots x 4 J and 2 hip spots x 4 J; 2 sides x 2 spots x 2 J.
    assert rows["J a session, all spots"] == ["40", "8"]
    lumbar, hip = (part.splitlines()[1:7] for part in text.split("lower back")[1].split("hip"))
    assert [row[28:].split() for row in lumbar] == [
        ["8", "4"],
        ["40", "20"],
        ["4", "2"],
        ["8", "4"],
        ["12", "2"],
        ["24", "4"],
    ]
    assert [row[28:].split()[1] for row in hip] == ["-"] * 6
    assert max(map(len, text.splitlines())) <= 60
    by_region = phases_json(plan)
    assert [one["regions"][0] for one in by_region] == [
        {
            "region": "lumbar",
            "spots": 8,
            "hold_s": 40,
            "energy_j": 4,
            "fluence_j_cm2": 8,
            "fluence_j_cm2_over_area": None,
            "week_energy_j": 12,
            "week_fluence_j_cm2": 24,
        },
        {
            "region": "lumbar",
            "spots": 4,
            "hold_s": 20,
            "energy_j": 2,
            "fluence_j_cm2": 4,
            "fluence_j_cm2_over_area": None,
            "week_energy_j": 2,
            "week_fluence_j_cm2": 4,
        },
    ]
    # 6 x 40 J + 4 x 8 J
    assert course_energy_j(plan) == 272
    assert list(phase_lines(read(PLAN_2))) == []


def test_every_phase_is_looked_at() -> None:
    plan = read(TAPERED)

    def find(inner: Plan, spots: object) -> list[Finding]:
        return [Finding(field="regions", text=f"{len(inner.regions)} regions")]

    assert [(f.field, f.text) for f in findings_in_phases(plan, find)] == [
        ("regions", "2 regions"),
        ("course[2]", "in the phase taper: 1 regions"),
    ]


BAD = {
    "a region that is not ordered": (
        ('region = "lumbar"\nseconds_each_spot = 20', 'region = "lumber"\nseconds_each_spot = 20'),
        "course[2].regions[1].region",
        '"lumber"',
        "a region that [[regions]] orders: lumbar, hip",
    ),
    "twice": (
        ('region = "hip"\nleave_out = true', 'region = "lumbar"\nleave_out = true'),
        "course[2].regions[2].region",
        '"lumbar"',
        "each only once in a phase",
    ),
    "left out with a dose": (
        ("leave_out = true", "leave_out = true\njoules_each_spot = 2"),
        "course[2].regions[2].joules_each_spot",
        "this beside leave_out",
        "one of both",
    ),
    "nothing": (
        ("leave_out = true\n", ""),
        "course[2].regions[2]",
        "nothing that changes",
        "leave_out = true, spots, or a dose: seconds_each_spot, joules_each_spot, "
        "joules_per_cm2_each_spot",
    ),
    "everything left out": (
        ("seconds_each_spot = 20\nspots = 2", "leave_out = true"),
        "course[2].regions",
        "every region left out",
        "at least one region in each phase; a pause is a phase that starts later",
    ),
    "a dose that does not close": (
        ("seconds_each_spot = 20", "seconds_each_spot = 20\njoules_each_spot = 4"),
        "course[2].regions[1].seconds_each_spot",
        "20 s beside 4 J",
        "about 40.0 s at this mean power, within 5 %",
    ),
    "no such field": (
        ("leave_out = true", "leave_out = true\nsides = 1"),
        "course[2].regions[2].sides",
        "an unknown key",
        "region, leave_out, spots, seconds_each_spot, joules_each_spot, joules_per_cm2_each_spot, "
        "seconds_each_area, joules_each_area, joules_per_cm2_over_area",
    ),
}


@pytest.mark.parametrize(("change", "field", "found", "allowed"), BAD.values(), ids=BAD)
def test_bad_phases(change: tuple[str, str], field: str, found: str, allowed: str) -> None:
    (problem,) = problems_of(changed(change, text=TAPERED))
    assert (problem.field, problem.found, problem.allowed) == (field, found, allowed)
    assert problem.line is not None


def test_a_first_region_comes_first_and_is_a_dose_like_any_other() -> None:
    text = changed(('region = "hip"', 'region = "hip"\nfirst = true'), text=PLAN_2)
    spots = spots_of(read(text))
    assert [spot.region for spot in spots[:3]] == ["hip", "hip", "lumbar"]
    assert [spot.first for spot in spots] == [True] * 2 + [False] * 8
    assert not any(spot.settle for spot in spots)
    assert sum(spot.hold_ns for spot in spots) == sum(s.hold_ns for s in spots_of(read(PLAN_2)))


def test_notes_of_spots() -> None:
    text = changed(("spots = 4", 'spots = 4\nspot_notes = ["", "on the scar"]'), text=PLAN_2)
    plan = read(text)
    left = [spot for spot in spots_of(plan) if (spot.region, spot.side) == ("lumbar", "left")]
    assert [spot.words for spot in left] == ["", "on the scar", "", ""]
    header = header_of(file_of(plan), tuple(left), Options(), version="0", rehearsal=False)
    assert spots_in(header["spots"]) == tuple(left)  # type: ignore[arg-type]
    (problem,) = problems_of(
        changed(("spots = 4", 'spots = 1\nspot_notes = ["a", "b"]'), text=PLAN_2)
    )
    assert (problem.found, problem.allowed) == ("2 notes", "one for each spot, at most 1")


def test_the_summary_shows_the_phases() -> None:
    plan = read(TAPERED)
    lines = summary_lines(file_of(plan), spots_of(plan), [])
    assert "Phases side by side" in "\n".join(lines)
    assert max(map(len, lines)) <= 60
