"""``coach course``: from journals on disk to the calendar, its data and its file."""

import datetime
import json
import time
from importlib.resources import files
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import jsonschema
import pytest
import vobject
from pydantic import TypeAdapter

from coach.bedside.session_flow import _early
from coach.cli import run
from coach.cli.exits import Exit
from coach.paths import dog_folder
from coach.plan.files import load_plan
from coach.plan.model import CalendarRules
from coach.record.dog_course import local_zone
from coach.reports.calendar_json import CourseCalendarJson
from tests.homes import evening, write_session
from tests.plan.worlds import changed

SCHEMA = json.loads((files("coach.reports") / "calendar.schema.json").read_text(encoding="utf-8"))
EVENING = evening(0, [5, 5])


def now() -> datetime.datetime:
    """Now, by the clock that the program reads."""
    return datetime.datetime.now().astimezone()


def plan_text(*, missed: str = "drop") -> str:
    """A plan of the dog Pip that holds today, whoever runs this whenever. Invented."""
    begin, end = now().date() - datetime.timedelta(days=30), datetime.date(2999, 12, 31)
    rule = f'[calendar]\nmissed = "{missed}"\nwindow_days = 0\n\n[settle]'
    return changed(
        ('id = "spine"\nrevision = 3', 'id = "demo"\nrevision = 1'),
        ("2026-11-01", begin.isoformat()),
        ("2026-12-31", end.isoformat()),
        ('"Juniper"', '"Pip"'),
        ("[settle]", rule),
    )


def days_ago(days: int) -> datetime.datetime:
    return (now() - datetime.timedelta(days=days)).replace(hour=12)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home with the dog Pip: given on the first day of the course and a day late."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    monkeypatch.setenv("TERM", "xterm")
    folder = dog_folder("Pip")
    journals = folder / "journals"
    journals.mkdir(parents=True)
    (folder / "plan.toml").write_text(plan_text(), encoding="utf-8")
    write_session(journals, 1, EVENING, begins=days_ago(4))
    write_session(journals, 2, EVENING, begins=days_ago(2))
    return folder


def data(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(["course", *arguments, "--json"]) == Exit.DONE
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, SCHEMA)
    return found


def test_the_schema_is_that_of_the_type() -> None:
    assert TypeAdapter(CourseCalendarJson).json_schema() == SCHEMA


def test_the_course_is_laid_out_from_the_journals(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    found = data(capsys)
    # Three a week: days 0, 2 and 4 of the course. It began four days ago.
    assert [one["state"] for one in found["sessions"]] == [
        "given",
        "given",
        "due",
        *["to_come"] * 3,
    ]
    assert found["start"] == (now().date() - datetime.timedelta(days=4)).isoformat()
    assert found["adherence"]["given"] == found["adherence"]["on_the_day"] == 2
    assert run(["course", "pip"]) == Exit.DONE
    shown = capsys.readouterr().out
    assert "Pip: Today: session 3 of 6." in shown
    assert f"[{now().day:>2}●" in shown
    assert "Due so far: 2 of 6. Begun: 2, all complete." in shown
    monkeypatch.setenv("TERM", "linux")
    assert run(["course"]) == Exit.DONE
    assert capsys.readouterr().out.isascii()
    assert run(["course", "--list"]) == Exit.DONE
    assert "1  " in capsys.readouterr().out


def test_a_session_of_another_dog_or_with_the_laser_off_is_not_counted(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_session(home / "journals", 3, EVENING, begins=days_ago(0), dog="Juniper")

    arguments = ["amend", "Pip", "--session", "2", "--what", "laser_was_off"]
    if run(arguments) != Exit.DONE:
        pytest.fail(capsys.readouterr().err)
    capsys.readouterr()
    states = [one["state"] for one in data(capsys)["sessions"]]
    assert states == ["given", "missed", "due", *["to_come"] * 3]


def test_the_calendar_file_is_written_brought_up_to_date_and_never_over_anothers(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "pip.ics"
    assert run(["course", "--ics", str(path)]) == Exit.DONE
    first = vobject.readOne(path.read_text(encoding="utf-8")).vevent_list
    write_session(home / "journals", 3, EVENING, begins=days_ago(0))
    assert run(["course", "--ics", str(path)]) == Exit.DONE
    second = vobject.readOne(path.read_text(encoding="utf-8")).vevent_list
    assert [event.uid.value for event in first] == [event.uid.value for event in second]
    raised = [
        int(b.sequence.value) - int(a.sequence.value) for a, b in zip(first, second, strict=True)
    ]
    assert raised == [0, 0, 1, 0, 0, 0]
    foreign = tmp_path / "shopping.ics"
    foreign.write_text("milk", encoding="utf-8")
    capsys.readouterr()
    assert run(["course", "--ics", str(foreign)]) == Exit.BAD_INPUT
    assert foreign.read_text(encoding="utf-8") == "milk"
    assert "allowed: a new file, or one that this command wrote" in capsys.readouterr().err
    assert run(["course", "--ics", str(tmp_path / "no" / "folder.ics")]) == Exit.BAD_INPUT
    assert sorted(p.name for p in tmp_path.glob("*.ics*")) == ["pip.ics", "shopping.ics"]


@pytest.mark.parametrize("trust", ["synchronised", "unknown"])
def test_a_clock_that_nobody_can_trust_is_told_and_says_nothing_is_early(
    home: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    trust: str,
) -> None:
    monkeypatch.setattr("coach.appliance.clock.trust", lambda: trust)
    monkeypatch.setattr("coach.bedside.session_flow.trust", lambda: trust)
    assert data(capsys)["clock_trusted"] is (trust == "synchronised")
    assert run(["course"]) == Exit.DONE
    unsure = "The clock of this computer cannot be trusted; it says"
    assert (unsure in capsys.readouterr().out) is (trust == "unknown")
    # Given today as well: the next one is due on another day.
    write_session(home / "journals", 3, EVENING, begins=days_ago(0))
    plan = load_plan(home / "plan.toml", today=now().date()).plan
    early = " ".join(_early(plan))
    assert early.startswith("Not due yet: the next session is due on ") is (trust != "unknown")
    # Without a table [calendar] nothing is said.
    assert _early(plan.model_copy(update={"calendar": CalendarRules()})) == ()


def test_what_cannot_be_shown_says_why(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["course", "Rex"]) == Exit.BAD_INPUT
    assert "allowed: one of Pip" in capsys.readouterr().err
    bad = plan_text().replace("weeks = 2", "weeks = 0")
    (home / "plan.toml").write_text(bad, encoding="utf-8")
    assert run(["course"]) == Exit.BAD_INPUT
    assert "course[1].weeks: found 0; allowed: a whole number, 1 to 104" in capsys.readouterr().err
    (home / "plan.toml").unlink()
    assert run(["course"]) == Exit.BAD_INPUT
    assert "no plan for Pip" in capsys.readouterr().err


def test_the_zone_of_the_computer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "America/New_York")
    assert local_zone() == ZoneInfo("America/New_York")
    summer = datetime.datetime(2027, 7, 1, 12, tzinfo=datetime.UTC)
    monkeypatch.setenv("TZ", "No/Such")
    assert summer.astimezone(local_zone()) == summer
    monkeypatch.delenv("TZ")
    time.tzset()
    assert summer.astimezone(local_zone()).utcoffset() == summer.astimezone().utcoffset()
