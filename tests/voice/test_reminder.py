"""When the reminder speaks: once a day, within the owner's hours, and never in doubt."""

import datetime
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.cli import remind, run
from coach.cli.exits import Exit
from coach.paths import journal_folder, reminded_file
from coach.plan.calendar import Calendar, Given, due_dates
from coach.plan.files import load_plan
from coach.plan.problems import Report
from coach.voice.reminder import Facts, Hours, as_table, hours_from, hours_of, silent_because
from coach.voice.settings import VoiceWishes
from tests.screens.thin import LONG_BACK

ZONE = datetime.timezone(datetime.timedelta(hours=1))
EVENING = Hours(datetime.time(18), datetime.time(20, 30))
TODAY = datetime.date(2026, 11, 25)
NOW = datetime.datetime(2026, 11, 25, 19, 0, tzinfo=ZONE)
# Three times a week at first.
PLAN = load_plan(LONG_BACK, today=TODAY).plan


def course(*days_ago: int) -> Calendar:
    """The plan's course after sessions so many days ago."""
    given = [
        Given(
            number=number,
            plan_id=PLAN.about.id,
            plan_revision=PLAN.about.revision,
            began=NOW - datetime.timedelta(days=days),
            ended=NOW - datetime.timedelta(days=days),
            trusted=True,
        )
        for number, days in enumerate(days_ago, 1)
    ]
    return due_dates(PLAN, None, given, TODAY, ZONE)


def facts(**other: object) -> Facts:
    known = Facts(
        now=NOW,
        trusted=True,
        prescribed_on=datetime.date(2026, 11, 1),
        valid_until=datetime.date(2027, 2, 1),
        calendar=course(3),
        unsure=False,
        running=False,
        reminded_on=None,
    )
    return replace(known, **other)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "other",
    [{}, {"calendar": course()}, {"reminded_on": TODAY - datetime.timedelta(days=1)}],
    ids=["due", "first", "yesterday"],
)
def test_it_speaks_when_a_session_is_due(other: dict[str, object]) -> None:
    assert silent_because(facts(**other), EVENING) is None


@pytest.mark.parametrize(
    ("other", "why"),
    [
        ({"trusted": False}, "clock"),
        ({"running": True}, "being held"),
        ({"reminded_on": TODAY}, "already"),
        # A clock that was set back: better no reminder than a second one.
        ({"reminded_on": TODAY + datetime.timedelta(days=1)}, "already"),
        ({"valid_until": TODAY - datetime.timedelta(days=1)}, "not hold"),
        ({"prescribed_on": TODAY + datetime.timedelta(days=1)}, "not hold"),
        ({"calendar": None}, "no course"),
        ({"unsure": True}, "does not tell"),
        ({"calendar": course(0)}, "not due"),
        ({"calendar": course(3, 1)}, "not due"),
        ({"calendar": course(*range(200, 0, -1))}, "at its end"),
    ],
)
def test_it_is_silent_otherwise_and_says_why(other: dict[str, object], why: str) -> None:
    assert why in str(silent_because(facts(**other), EVENING))


@given(st.times(), st.times(), st.times())
def test_it_never_speaks_outside_its_hours(
    moment: datetime.time, one: datetime.time, other: datetime.time
) -> None:
    since, until = sorted((one, other))
    now = datetime.datetime.combine(TODAY, moment, tzinfo=ZONE)
    spoken = silent_because(facts(now=now), Hours(since, until)) is None
    assert spoken == (since <= moment < until)
    assert silent_because(facts(now=now), None) is not None


def test_hours_are_read_back_as_they_were_set() -> None:
    report = Report("settings.toml", "")
    assert hours_of(as_table(hours_from("07:05 - 08:00")), report) == Hours(
        datetime.time(7, 5), datetime.time(8)
    )
    assert hours_of({}, report) is None
    assert not report


@pytest.mark.parametrize("text", ["", "18:00", "20:30-18:00", "18:00-18:00", "18-20", "9:00-10:00"])
def test_hours_that_make_no_sense_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="allowed: two times of day"):
        hours_from(text)


@pytest.mark.parametrize(
    "table",
    [7, {"from": "18:00"}, {"from": 18, "until": 20}, {"from": "22:00", "until": "06:00"}],
    ids=["number", "half", "numbers", "night"],
)
def test_settings_that_make_no_sense_mean_silence_and_are_told(table: object) -> None:
    report = Report("settings.toml", "")
    assert hours_of(table, report) is None
    assert report


@pytest.fixture
def said(own_world: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[tuple[str, int]]]:
    """A home with one dog that is due; what is said, with its volume in percent."""
    folder = journal_folder("Juniper", rehearsal=False).parent
    folder.mkdir(parents=True)
    (folder / "plan.toml").write_bytes(LONG_BACK.read_bytes())
    spoken: list[tuple[str, int]] = []

    def say(words: str, wishes: VoiceWishes, *, tone: str | None) -> None:
        assert reminded_file().exists()
        assert tone is None
        spoken.append((words, wishes.volume_percent))

    monkeypatch.setattr("coach.cli.voice.say_once", say)
    monkeypatch.setattr("coach.appliance.clock.trust", lambda: "rtc")
    now = [datetime.datetime(2026, 11, 25, 19, 0, tzinfo=ZONE)]
    monkeypatch.setattr(remind, "local_now", lambda: now[0])
    yield spoken
    # The next day it is due again.
    now[0] += datetime.timedelta(days=1)
    before = len(spoken)
    run(["remind"])
    assert len(spoken) == before + 1


def test_it_is_said_once_a_day_and_at_half_the_volume(
    said: list[tuple[str, int]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["remind"]) == Exit.DONE
    assert said == []
    assert "no hours are set" in capsys.readouterr().out
    run(["voice", "--volume", "80", "--quiet"])
    assert run(["remind", "--between", "18:00-20:30"]) == Exit.DONE
    for _ in range(3):
        assert run(["remind"]) == Exit.DONE
    assert said == [("A session for Juniper is due today.", 40)]
    reminded_file().unlink()
    run(["remind", "--never"])
    run(["remind"])
    assert len(said) == 1
    run(["remind", "--between", "18:00-20:30"])
    # A note that makes no sense is begun anew.
    reminded_file().write_text("[1]", encoding="utf-8")


def test_what_cannot_be_noted_is_not_said(
    said: list[tuple[str, int]], capsys: pytest.CaptureFixture[str]
) -> None:
    run(["remind", "--between", "18:00-20:30"])
    blocked = reminded_file()
    blocked.mkdir()
    assert run(["remind"]) == Exit.NOT_WRITTEN
    assert said == []
    assert "cannot be kept" in capsys.readouterr().err
    blocked.rmdir()
