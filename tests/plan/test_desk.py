"""A plan that is being written: whatever is typed, nothing is lost and nothing crashes."""

import datetime
import random
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.body.regions import SIDES, regions
from coach.plan.desk import Desk, Sheet
from coach.plan.desk_edits import RemoveTable, apply
from coach.plan.desk_values import read_typed, typed_text
from coach.plan.read import read_plan
from coach.plan.reference import field_pages
from coach.units import NS_PER_S

TODAY = datetime.date(2026, 11, 28)
PLANS = sorted((Path(__file__).parents[2] / "plans").glob("*.toml"))
LONG_BACK = next(path for path in PLANS if path.name == "demo-long-back.toml").read_text("utf-8")

# One source, no pulses: what a prescriber has to type for a plan, beside the regions.
HEAD = {
    "plan.id": "willow-hips",
    "plan.prescriber": "Dr. Ada Muster (invented)",
    "plan.valid_until": "2027-02-28",
    "dog.name": "Willow",
    "dog.weight_kg": "31,5",
    "laser.label": "invented contact laser",
    "laser.laser_class": "3B",
    "laser.wavelength_nm": "808",
    "laser.mean_power_mw": "200",
    "laser.beam_area_cm2": "0.5",
    "laser.starts": "stays",
}


def typed_in(desk: Desk, fields: dict[str, str]) -> Desk:
    for name, typed in fields.items():
        desk.type(tuple(name.split(".")), typed)
    return desk


def hips() -> Desk:
    desk = typed_in(Desk.empty(today=TODAY), HEAD)
    desk.type(("course",), "")
    number = desk.add_region("lumbar")
    desk.toggle_side(number, "left")
    desk.type(("regions", number, "spots"), "3")
    desk.type(("regions", number, "joules_each_spot"), "4")
    return desk


def test_a_plan_comes_of_what_is_typed_and_its_figures_are_right() -> None:
    sheet = hips().sheet()
    assert sheet.problems == ()
    assert sheet.plan is not None
    assert sheet.plan.dog.weight_kg == Decimal("31.5")
    totals = sheet.totals
    assert totals is not None
    # 4 J at 200 mW are 20 s; over 0.5 cm2 that is 8 J/cm2 at 400 mW/cm2. By hand.
    (spot,) = totals.regions
    assert spot.hold_ns == 20 * NS_PER_S
    assert spot.fluence_j_cm2 == 8
    assert spot.irradiance_mw_cm2 == 400
    assert totals.energy_fj == 12 * 10**15
    assert (totals.spots, totals.hold_ns) == (3, 60 * NS_PER_S)


def test_nothing_offers_a_dose() -> None:
    desk = typed_in(Desk.empty(today=TODAY), HEAD)
    number = desk.add_region("lumbar")
    desk.toggle_side(number, "left")
    desk.step(("regions", number, "spots"), 1)
    desk.step(("regions", number, "seconds_each_spot"), 1)
    assert dict(desk.regions[number]) == {"region": "lumbar", "sides": ["left"]}
    assert desk.sheet().plan is None


def test_a_wrong_field_is_named_and_the_rest_goes_on() -> None:
    desk = hips()
    desk.type(("dog", "weight_kg"), "heavy")
    desk.type(("laser", "beam_area_cm2"), "-3")
    sheet = desk.sheet()
    assert {problem.field for problem in sheet.problems} == {
        "dog.weight_kg",
        "laser.beam_area_cm2",
    }
    wrong = sheet.problem_at(("dog", "weight_kg"))
    assert wrong is not None
    assert (wrong.found, "weight" in wrong.field) == ('"heavy"', True)
    # What was typed is still there.
    assert typed_text(desk.value(("dog", "weight_kg"))) == "heavy"
    desk.type(("dog", "weight_kg"), "31.5")
    desk.type(("laser", "beam_area_cm2"), "")
    assert desk.sheet().plan is not None


# The questionnaire ended in a traceback, with all answers lost, for each of these.
@pytest.mark.parametrize(
    "fields",
    [
        {"dog.back_cm": "45"},
        {"dog.neck_cm": "20"},
        {"dog.neck_cm": "20", "dog.back_cm": "45", "dog.measured_on": "2026-11-20"},
    ],
)
def test_measures_that_miss_each_other_are_told(fields: dict[str, str]) -> None:
    desk = typed_in(hips(), fields)
    sheet = desk.sheet()
    assert isinstance(sheet, Sheet)
    assert (sheet.plan is None) == bool(sheet.problems)


@pytest.mark.parametrize(("times", "weeks"), [("2", "1"), ("14", "1"), ("15", "1"), ("0", "x")])
def test_any_course_is_read_or_told(times: str, weeks: str) -> None:
    desk = hips()
    desk.type(("course",), "")
    fields = {"name": "induction", "times_a_week": times, "weeks": weeks}
    data = desk.data
    assert "course" not in data
    desk.add_phase("induction")
    for name, typed in fields.items():
        desk.type(("course", 0, name), typed)
    sheet = desk.sheet()
    assert (sheet.plan is None) == bool(sheet.problems)
    if times == "2":
        assert sheet.totals is not None
        assert sheet.totals.week_fj == 24 * 10**15


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.name)
def test_undoing_everything_gives_the_bytes_of_the_file_back(path: Path) -> None:
    text = path.read_text("utf-8")
    desk = Desk.open(text, today=TODAY)
    rng = random.Random(1)
    for _ in range(60):
        something(desk, rng)
    edited = desk.text
    while desk.undo():
        pass
    assert desk.text == text
    while desk.redo():
        pass
    assert desk.text == edited


def test_comments_stay_through_edits_and_moves() -> None:
    desk = Desk.revise(LONG_BACK, today=TODAY)
    desk.type(("regions", 0, "spots"), "3")
    desk.type(("laser", "mean_power_mw"), "120")
    desk.type(("dog", "weight_kg"), "9.8")
    before = [line.partition("#")[2] for line in LONG_BACK.splitlines() if "#" in line]
    after = [line.partition("#")[2] for line in desk.text.splitlines() if "#" in line]
    assert after == before
    desk.move_region(0, 4)
    # A comment goes with the region that it stands beside.
    moved = [line.partition("#")[2] for line in desk.text.splitlines() if "#" in line]
    assert sorted(moved) == sorted(before)
    assert [order["region"] for order in desk.regions][-1] == "neck_lower"
    plan = read_plan(desk.text, file="x", today=TODAY)
    assert plan.about.revision == 2
    assert [order.region for order in plan.regions][-1] == "neck_lower"


def test_every_region_of_a_revision_is_still_there() -> None:
    # The questionnaire dropped three of four.
    for path in PLANS:
        text = path.read_text("utf-8")
        desk = Desk.revise(text, today=TODAY)
        desk.type(("plan", "note"), "changed")
        assert len(desk.regions) == len(tomllib.loads(text)["regions"])


def test_what_is_copied_is_marked_until_somebody_has_looked() -> None:
    desk = hips()
    number = desk.copy_region(0)
    assert list(desk.version.copied) == [False, True]
    desk.move_region(number, 0)
    assert list(desk.version.copied) == [True, False]
    desk.looked_at(0)
    assert list(desk.version.copied) == [False, False]
    desk.both_sides(1)
    assert desk.regions[1]["sides"] == ["left", "right"]
    assert list(desk.version.copied) == [False, True]
    desk.remove_region(1)
    assert list(desk.version.copied) == [False]
    again = Desk.from_template(desk.text, today=TODAY)
    assert again.version.copied == (True,)
    assert again.value(("dog", "name")) is None
    assert again.value(("plan", "id")) is None


PAGES = field_pages()
MOST_REGIONS = 12


def something(desk: Desk, rng: random.Random) -> None:
    """One thing that somebody might do."""
    texts = ["", "0", "4", "4,5", "1e400", "ja", "yes", "left, right", "2026-02-30", "31.12.2026"]
    texts += ["\x00", '"', "#", "🐕", "9" * 30, "-1", "class 4", "[x]", "nan", "3B", "stays on"]
    many = len(desk.regions)
    match rng.randrange(12):
        case 0 if many < MOST_REGIONS:
            desk.add_region(rng.choice([*regions(), "nowhere"]))
        case 1 if many:
            desk.remove_region(rng.randrange(many))
        case 2 if many:
            desk.copy_region(rng.randrange(many))
        case 3 if many:
            desk.move_region(rng.randrange(many), rng.randrange(-1, many + 2))
        case 4 if many:
            desk.toggle_side(rng.randrange(many), rng.choice(SIDES))
        case 5 if many:
            desk.both_sides(rng.randrange(many))
        case 6 if many:
            field = rng.choice(["spots", "seconds_each_spot", "joules_each_spot", "note"])
            desk.step(("regions", rng.randrange(many), field), rng.choice([-3, -1, 1, 20]))
        case 7:
            desk.undo()
        case 8 if many:
            desk.looked_at(rng.randrange(many))
        case _:
            page = rng.choice(PAGES)
            if page.table == "regions" and many:
                desk.type(("regions", rng.randrange(many), page.name), rng.choice(texts))
            elif page.table in ("plan", "dog", "laser", "session", "patient", "care", "limits"):
                desk.type((page.table, page.name), rng.choice(texts))


@pytest.mark.long
@pytest.mark.parametrize(("start", "edits"), [("", 1600), (LONG_BACK, 400)])
def test_two_thousand_random_edits_crash_nothing_and_come_back(start: str, edits: int) -> None:
    desk = Desk.open(start, today=TODAY) if start else Desk.empty(today=TODAY)
    begun = desk.version.text.text()
    rng = random.Random(20261128)
    for number in range(edits):
        something(desk, rng)
        assert len(desk.version.copied) == len(desk.regions)
        if number % 25 == 0:
            # What stands in the text is what was meant, and it can be read or its faults told.
            sheet = desk.sheet()
            assert (sheet.plan is None) == bool(sheet.problems)
            tomllib.loads(desk.text)
    while desk.undo():
        pass
    assert desk.version.text.text() == begun


@given(st.text(max_size=40))
@settings(max_examples=60)
def test_whatever_is_typed_into_any_field_stays_or_means_something(typed: str) -> None:
    for page in field_pages():
        if page.table in ("plan", "dog", "laser", "session", "regions"):
            path = (page.table, page.name) if page.table != "regions" else ("regions", 0, page.name)
            value = read_typed(path, typed)
            assert (value is None) == (not typed.strip())


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        ("dog.weight_kg", "9,5", Decimal("9.5")),
        ("dog.weight_kg", "9.5 kg", "9.5 kg"),
        ("plan.valid_until", "31.12.2026", datetime.date(2026, 12, 31)),
        ("plan.valid_until", "2026-02-30", "2026-02-30"),
        ("dog.growing", "ja", True),
        ("session.advance", "w", "wait"),
        ("plan.revision", "3", 3),
        ("scores.activities", "stairs; sofa, walks", ["stairs", "sofa", "walks"]),
    ],
)
def test_words_and_numbers_as_people_write_them(field: str, typed: str, value: object) -> None:
    assert read_typed(tuple(field.split(".")), typed) == value


def test_an_edit_leaves_what_it_was_made_from_alone() -> None:
    desk = Desk.open(LONG_BACK, today=TODAY)
    data = desk.data
    apply(data, RemoveTable(("regions",), 0))
    assert data == desk.data
