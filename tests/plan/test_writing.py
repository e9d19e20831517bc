"""Plans written back as text that a vet can read. That any plan survives it: test_any_plans.py."""

from coach.plan.write import write_plan
from tests.plan.worlds import PLAN, PLANS, changed, read


def test_every_table_keeps_its_heading_and_every_list_its_line() -> None:
    lines = write_plan(read(PLAN)).splitlines()
    assert [line for line in lines if line.startswith("[")] == [
        "[plan]",
        "[dog]",
        "[laser]",
        "[[course]]",
        "[settle]",
        "[session]",
        "[limits]",
        "[[regions]]",
        "[[regions]]",
    ]
    assert "mean_power_mw = 100" in lines
    assert "weight_kg = 9.5" in lines
    assert "valid_until = 2026-12-31" in lines
    assert 'sides = ["left", "right"]' in lines


def test_what_is_not_stated_is_not_written() -> None:
    text = write_plan(read(changed(("beam_area_cm2 = 0.5\n", ""))))
    assert "beam_area_cm2" not in text
    assert "clinic" not in text


def test_notes_of_several_lines_stay_so() -> None:
    note = 'First "this".\nThen \\ that.'
    escaped = '"First \\"this\\".\\nThen \\\\ that."'
    plan = read(changed(("joules_each_spot = 4", f"joules_each_spot = 4\nnote = {escaped}")))
    assert plan.regions[1].note == note
    text = write_plan(plan)
    assert '\nFirst "this".\n' in text or '\nFirst \\"this\\".\n' in text
    assert read(text) == plan


def test_the_demonstration_plans_come_back_as_they_are() -> None:
    for path in sorted(PLANS.glob("*.toml")):
        plan = read(path.read_text(encoding="utf-8"))
        assert read(write_plan(plan)) == plan
