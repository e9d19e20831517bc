"""``coach draft PLAN`` makes the next revision of a plan of format 2. The plans are invented."""

import datetime
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.plan.files import load_plan

FOLDER = Path(__file__).parents[1] / "plan" / "prescribed"
TODAY = datetime.date.today()  # noqa: DTZ011  (the day that the command itself goes by)


@pytest.mark.parametrize("name", sorted(path.stem for path in FOLDER.glob("*.toml")))
def test_the_next_revision_keeps_what_it_is_not_asked_for(name: str, tmp_path: Path) -> None:
    new = tmp_path / "next.toml"
    assert run(["draft", str(FOLDER / f"{name}.toml"), "--out", str(new)]) == Exit.DONE
    before = load_plan(FOLDER / f"{name}.toml", today=TODAY).plan
    after = load_plan(new, today=TODAY).plan
    assert (after.format, after.about.revision) == (2, before.about.revision + 1)
    for part in ("regions", "course", "places", "recheck", "patient", "reason", "care", "laser"):
        assert getattr(after, part) == getattr(before, part), part
    # Nobody has checked the new revision yet.
    assert (after.about.checked_by, after.about.checked_on) == ("", None)
