"""Plans of format 1 give the same spots and doses as the program of 0.1.0 gave.

``tests/data/0.1.0/spots.json`` is what that program printed for them: region, side, aspect, number,
of, hold in ns, and whether it was the opening at the top of the neck. The one exception is a dose
that nobody ordered: an opening whose seconds a plan does not state. Plans that had one are named;
plans/demo-big-hips.toml was one, and states its seconds since.
"""

import json
from pathlib import Path

import pytest

from coach.plan.read import read_plan
from coach.plan.spots import spots_of
from tests.plan.worlds import PLAN, TODAY

ROOT = Path(__file__).parents[2]
BEFORE = json.loads((ROOT / "tests/data/0.1.0/spots.json").read_text(encoding="utf-8"))
OPENING_NOBODY_STATED = {"tests/data/0.1.0/juniper/plan.toml"}


@pytest.mark.parametrize("name", sorted(BEFORE))
def test_spots_and_doses_are_as_before(name: str) -> None:
    path = ROOT / name
    text = path.read_text(encoding="utf-8") if path.is_file() else PLAN
    plan = read_plan(text, file=name, today=TODAY)
    assert plan.format == 1
    now = [
        [s.region, s.side, s.aspect, s.number, s.of, s.hold_ns, s.settle] for s in spots_of(plan)
    ]
    before = BEFORE[name]
    if name in OPENING_NOBODY_STATED:
        assert any(row[-1] for row in before)
        before = [row for row in before if not row[-1]]
    # The order in which they come may be better without the opening; what is given is the same.
    assert sorted(map(str, now)) == sorted(map(str, before))
    if name not in OPENING_NOBODY_STATED:
        assert now == before
