"""The owner's own scores as people and programs read them."""

import datetime
import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from coach.cli import run
from coach.journal.diary import write_entry
from coach.journal.diary_entries import FunctionScore
from coach.reports.trend_json import TrendJson
from coach.reports.trend_text import series_of, trend_lines
from tests.homes import FIRST, evening, write_session
from tests.worlds import Clock, QuickDisk

SCHEMA = Path(__file__).parents[2] / "coach" / "reports" / "trend.schema.json"


def said(
    values: list[int], *, instrument: str = "", trust: str = "rtc"
) -> list[tuple[str, str, FunctionScore]]:
    found = []
    for number, value in enumerate(values):
        data = {"total": {"instrument": instrument, "value": str(value)}}
        entry = FunctionScore.model_validate(data if instrument else {"score_0_10": value})
        when = FIRST + datetime.timedelta(days=7 * number)
        found.append((when.isoformat(), trust, entry))
    return found


def lines_of(values: list[int], **more: str) -> str:
    asked = more.pop("asked", "")
    series, left_out = series_of(said(values, **more), dog="Pip", instrument=asked)
    return " ".join(" ".join(trend_lines(series, [], left_out=left_out, look="console")).split())


def test_four_scores_are_too_few_and_five_are_not() -> None:
    assert "Too few to say" in lines_of([1, 2, 3, 4])
    assert "Slope" not in lines_of([1, 2, 3, 4])
    # One point a week, always: 30/7 points in 30 days, by hand.
    assert "Slope: +4.29 points in 30 days (98 % interval: +4.29 to +4.29)" in lines_of(
        [1, 2, 3, 4, 5]
    )
    assert "no way to say" in lines_of([4, 4, 4, 4, 4])


@pytest.mark.parametrize("values", [[], [3], [1, 2, 3, 4], [1, 2, 3, 4, 9]])
def test_whose_scores_they_are_is_always_said(values: list[int]) -> None:
    assert "the owner's own scores" in lines_of(values)


def test_a_published_difference_is_only_told_where_the_vet_asks_for_that_form() -> None:
    # LOAD -4, COI -14: PMC10511076, as in people.md.
    totals = [30, 28, 26, 24, 22]
    assert "A change of -4 points" in lines_of(totals, instrument="LOAD", asked="LOAD")
    assert "A change of -14 points" in lines_of(totals, instrument="COI", asked="coi")
    assert "A change of" not in lines_of(totals, instrument="LOAD")
    assert "A change of" not in lines_of(totals, instrument="LOAD", asked="COI")
    assert "A change of" not in lines_of(totals, instrument="Own form", asked="Own form")


def test_scores_by_a_clock_that_nobody_could_trust_are_left_out_and_told() -> None:
    text = lines_of([1, 2, 3], trust="unknown")
    assert "3 scores are left out" in text
    assert "No scores yet" in text


@settings(max_examples=30)
@given(
    values=st.lists(st.integers(0, 10), min_size=1, max_size=30),
    sessions=st.lists(st.tuples(st.integers(0, 300), st.integers(0, 10**18)), max_size=20),
    width=st.integers(24, 100),
    look=st.sampled_from(["colour", "console"]),
)
def test_any_scores_over_any_doses_fit_their_width(
    values: list[int], sessions: list[tuple[int, int]], width: int, look: str
) -> None:
    series, _left_out = series_of(said(values), dog="Pip")
    doses = [(FIRST + datetime.timedelta(days=day), energy) for day, energy in sessions]
    lines = trend_lines(series, doses, width=width, look=look)  # type: ignore[arg-type]
    assert all(len(line) <= width for line in lines)
    text = "\n".join(lines)
    if look == "console":
        assert text.isascii()
    assert f"{FIRST:%Y-%m-%d}"[:10] in text


def test_the_command_shows_scores_beside_sessions(
    own_world: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = own_world / "state" / "dogs" / "pip"
    for number in range(1, 4):
        begins = FIRST + datetime.timedelta(days=7 * number)
        write_session(folder / "journals", number, evening(0, (4, 3)), begins=begins)
    for wall, _trust, entry in said([3, 3, 4, 6, 5]):
        write_entry(folder, entry, dog="Pip", stamp=Clock(wall=wall).stamp, disk=QuickDisk())
    assert run(["trend", "pip", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    schema = TypeAdapter(TrendJson).json_schema()
    assert schema == json.loads(SCHEMA.read_text())
    jsonschema.validate(told, schema)
    assert [point["value"] for point in told["series"][0]["points"]] == ["3", "3", "4", "6", "5"]
    # 7 s at 0.5 W each time.
    assert [one["given_fj"] for one in told["sessions"]] == [3_500_000_000_000_000] * 3
    assert run(["trend", "--look", "console"]) == 0
    assert "How well Pip gets about" in capsys.readouterr().out
    assert run(["trend", "Rex"]) == 2
    assert "allowed: one of Pip" in capsys.readouterr().err
