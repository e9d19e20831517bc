"""The sheet for the fridge door, read back: nothing that the plan does not have."""

import datetime
import io
import math
import re
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from coach import translations
from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.owner_sheet import RADIUS_MM, apart, sheet_pdf, stops_of
from coach.plan.files import load_plan
from coach.plan.model import Plan
from coach.plan.spots import spots_of
from coach.units import NS_PER_S

PLANS = Path(__file__).parents[2] / "plans"
TODAY = datetime.date(2026, 11, 28)
MADE = datetime.datetime(2026, 11, 28, tzinfo=datetime.UTC)


def plan_of(name: str) -> Plan:
    return load_plan(PLANS / name, today=TODAY).plan


def pages(plan: Plan, paper: str = "A4") -> list[str]:
    content = sheet_pdf(plan, spots_of(plan), paper=paper, made_at=MADE)
    return [page.extract_text() for page in PdfReader(io.BytesIO(content)).pages]


def numbers_on(plan: Plan, paper: str) -> list[int]:
    """Every piece of text on the first page that is a number."""
    content = sheet_pdf(plan, spots_of(plan), paper=paper, made_at=MADE)
    found: list[int] = []

    def look(text: str, *_: object) -> None:
        found.extend(int(part) for part in text.split("\n") if part.strip().isdigit())

    PdfReader(io.BytesIO(content)).pages[0].extract_text(visitor_text=look)
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["demo-long-back.toml", "demo-big-hips.toml"])
def test_everything_for_the_session_is_on_the_first_page(name: str, paper: str) -> None:
    plan = plan_of(name)
    spots = spots_of(plan)
    first, *others = pages(plan, paper)
    assert len(others) == 1
    order = first.partition("In this order")[2]
    for stop in stops_of(spots):
        assert stop.numbers in order
    # Each spot of the session has its number on the dog, once; lines of one spot have theirs too.
    alone = [stop.spots[0].index + 1 for stop in stops_of(spots) if len(stop.spots) == 1]
    assert sorted(numbers_on(plan, paper)) == sorted([*alone, *range(1, len(spots) + 1)])
    # Seconds, as often as there are lines, each as the plan has it.
    seconds = [int(text) for text in re.findall(r": (\d+) s on", first)]
    assert seconds == [stop.spots[0].hold_ns // NS_PER_S for stop in stops_of(spots)]
    assert not re.search(r"\d J\b", first)
    for words in ("Eyewear for everyone", "Stop for today", "rowls, snaps", plan.dog.name):
        assert words in first
    wanted = f"{float(plan.laser.head.emitters[0].wavelength_nm):g} nm"
    assert wanted in first


def test_each_place_is_explained_once_with_its_numbers() -> None:
    _, second = pages(plan_of("demo-long-back.toml"))
    assert second.count("Lower back (10-17)") == 1
    # The prescriber's own words stand beside the landmark.
    assert "no pressure on the windpipe" in second


def test_the_same_plan_gives_the_same_bytes_and_german_is_german() -> None:
    plan = plan_of("demo-long-back.toml")
    spots = spots_of(plan)
    assert sheet_pdf(plan, spots, paper="A4", made_at=MADE) == sheet_pdf(
        plan, spots, paper="A4", made_at=MADE
    )
    translations.speak("de")
    first, *_ = pages(plan)
    assert "Laser-Sitzungen für Juniper" in first
    assert "Eyewear" not in first


@given(st.lists(st.tuples(st.floats(0, 60), st.floats(0, 30)), max_size=20))
def test_no_two_numbers_lie_on_each_other(points: list[tuple[float, float]]) -> None:
    moved = apart([(at, number) for number, at in enumerate(points)])
    assert [number for _, number in moved] == list(range(len(points)))
    for (one, _), (other, _) in combinations(moved, 2):
        # Half a radius over each other still reads; crowded places cannot always do better.
        assert math.dist(one, other) > RADIUS_MM * 0.5 or len(points) > 12


def test_the_command_writes_once_and_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    plan = str(PLANS / "demo-big-hips.toml")
    assert run(["sheet", plan]) == Exit.DONE
    written = tmp_path / "demo-big-hips-r1-sheet.pdf"
    assert written.read_bytes().startswith(b"%PDF")
    assert run(["sheet", plan]) == Exit.BAD_INPUT
    assert "--replace" in capsys.readouterr().err
    assert run(["sheet", plan, "--replace", "--paper", "Letter"]) == Exit.DONE
    assert run(["sheet", plan, "--out", str(tmp_path / "no" / "x.pdf")]) == Exit.BAD_INPUT
    assert run(["sheet", str(tmp_path / "missing.toml")]) == Exit.BAD_INPUT
