"""Answers after a session in the diary: at its end line by line, and later by ``coach after``.

The reasons, scales and signs asked for are those of body.md, section 3, and people.md ("Record":
tolerance, skin, words), common practice unless a source is named there.
"""

import datetime
import io
import os
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from coach.bedside.after_session import SessionAfter
from coach.cli import run
from coach.cli.exits import Exit
from coach.journal.diary import read_diary
from coach.journal.diary_entries import AfterSession
from coach.journal.journal import read_journal
from coach.lines.line_mode import PlainCoach
from coach.paths import journal_folder
from coach.record.after_questions import next_lines
from tests.e2e.virtual import FakeTime, Script, runner_for
from tests.worlds import Clock

ROOT = Path(__file__).parents[2]
LONG_BACK = ROOT / "plans" / "demo-long-back.toml"
DOG = "Juniper"
# Few seconds: each is a line that waits for the disk.
SHORT = """
[settle]
leave_out = true

[[regions]]
region = "lumbar"
sides = ["left", "right"]
spots = 2
seconds_each_spot = 5
"""
STAMP = Clock(wall="2026-11-25T19:00:00.000+00:00").stamp


def session(words: list[tuple[float, str]], *, by: str = "") -> tuple[str, SessionAfter]:
    """A session line by line with what is typed in it; its text, and what asked afterwards."""
    time = FakeTime()
    folder = journal_folder(DOG, rehearsal=False)
    plan = folder.parent.parent / "short.toml"
    plan.parent.mkdir(parents=True, exist_ok=True)
    text = LONG_BACK.read_text("utf-8")
    plan.write_text(text[: text.index("[settle]")] + SHORT, "utf-8")
    runner = runner_for(plan, folder, time)
    after = SessionAfter(
        folder=folder.parent,
        dog=DOG,
        journal=runner.path,
        stamp=STAMP,
        plan=runner.plan_file.plan,
        by=by,
    )
    out = io.StringIO()
    PlainCoach(runner, Script(time, words), out, afterwards=after).run()
    # Before the runner is closed: the log of a session ends with the session.
    assert read_journal(runner.path).closed
    runner.close()
    return out.getvalue(), after


def said(after: SessionAfter) -> AfterSession:
    return after.answered()


def test_line_by_line_each_answer_is_in_the_diary_at_once() -> None:
    text, after = session(
        [
            (0, ""),
            (20, "stop"),
            (30, "7"),
            (31, "1"),
            (32, ""),
            (40, "red"),
            (41, ""),
            (50, "11"),
            (51, "ten"),
            (52, "10"),
            (60, "  Slept   at once. "),
        ],
        by="Ada",
    )
    assert said(after) == AfterSession(
        session=after.session,
        stop_reason="dog_unhappy",
        skin="red",
        tolerance_0_10=10,
        words="Slept at once.",
        by="Ada",
    )
    assert len(read_diary(after.folder).told) == 4
    assert 'I found "7". It can be: 1, 2, 3, 4.' in text
    assert 'I found "11". It can be: 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10.' in text
    assert "Phone the vet at once for: a blister, a collapse, a fit." in text


def test_what_is_left_out_stays_open_and_what_is_answered_is_not_asked_again() -> None:
    text, after = session([(0, ""), (20, "stop"), (30, ""), (31, "1")])
    assert "To answer later: coach after" in text
    assert said(after) == AfterSession(session=after.session, skin="fine")
    assert [q.id for q in after.asking().questions] == ["stop_reason", "tolerance_0_10", "words"]


def test_a_whole_session_is_not_asked_why_it_was_stopped() -> None:
    _, after = session([(0, "")])
    assert [q.id for q in after.asking().questions] == ["skin", "tolerance_0_10", "words"]


def test_a_session_that_never_began_asks_nothing() -> None:
    text, after = session([(0, "stop")])
    assert after.asking().over
    assert "questions" not in text


def test_a_full_disk_is_said_and_the_answer_can_be_given_again() -> None:
    _, after = session([(0, ""), (20, "stop")])
    after.folder.chmod(0o500)
    try:
        refusal = after.keep("skin", "fine")
    finally:
        after.folder.chmod(0o700)
    if os.geteuid() != 0:
        assert refusal.startswith("This could not be written down")
        assert after.keep("skin", "fine") == ""
    assert said(after).skin == "fine"


def test_coach_after_asks_about_the_last_session_on_any_input(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    session([(0, ""), (20, "stop")])
    _, after = session([(0, "")])
    monkeypatch.setattr(sys, "stdin", io.StringIO("warm\n\nback\n8\n"))
    assert run(["after"]) == Exit.DONE
    assert said(after) == AfterSession(session=after.session, skin="warm", tolerance_0_10=8)
    told = capsys.readouterr().out
    assert "How is the skin where the laser was?" in told
    assert "Phone the vet as well if Juniper is clearly worse tomorrow." in told
    monkeypatch.setattr(sys, "stdin", io.StringIO("He likes it now.\n"))
    assert run(["after", "juniper"]) == Exit.DONE
    assert said(after).words == "He likes it now."
    assert run(["after", str(LONG_BACK)]) == Exit.DONE
    assert "answered already" in capsys.readouterr().out


def test_coach_after_takes_answers_from_the_command_line() -> None:
    _, first = session([(0, ""), (20, "stop")])
    session([(0, "")])
    words = ["--session", "1", "--skin", "fine", "--tolerance", "0", "--why", "no_time"]
    assert run(["after", DOG, *words, "--words", "Visitors came.", "--by", "Bo"]) == Exit.DONE
    assert said(first) == AfterSession(
        session=first.session,
        stop_reason="no_time",
        skin="fine",
        tolerance_0_10=0,
        words="Visitors came.",
        by="Bo",
    )


def test_bad_answers_are_all_told_and_nothing_is_kept(capsys: pytest.CaptureFixture[str]) -> None:
    _, after = session([(0, "")])
    bad = [
        "--skin",
        "blue",
        "--tolerance",
        "11",
        "--why",
        "bored",
        "--words",
        " ",
        "--by",
        "x" * 41,
    ]
    assert run(["after", DOG, *bad]) == Exit.BAD_INPUT
    told = capsys.readouterr().err
    for part in (
        "--skin: found 'blue'; allowed: fine, warm, red",
        "--tolerance: found '11'; allowed: a whole number, 0 to 10",
        "--why: found 'bored'; allowed: dog_unhappy, hot_skin, no_time, asked",
        "--words: found ' '",
        "--by: found",
    ):
        assert part in told
    assert read_diary(after.folder).told == ()


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (["after"], "found no DOG; allowed: one of none yet"),
        (["after", "Nobody"], "found 'Nobody'; allowed: one of none yet"),
        (["after", "nowhere.toml"], "no such file"),
        (["after", str(LONG_BACK)], "no session is logged"),
    ],
)
def test_no_such_dog_or_session(
    words: list[str], found: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(words) == Exit.BAD_INPUT
    assert found in capsys.readouterr().err


def test_a_session_number_that_is_not_there_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    session([(0, "")])
    assert run(["after", DOG, "--session", "9"]) == Exit.BAD_INPUT
    assert "--session: found 9; allowed: 1 to 1" in capsys.readouterr().err


AT = datetime.datetime(2026, 11, 25, 19, 0, tzinfo=datetime.UTC)


@pytest.mark.parametrize(
    ("due", "not_before", "told"),
    [
        (None, None, ()),
        (1, None, ("Next session: tomorrow.",)),
        (0, None, ("Next session: today.",)),
        # The calendar is late, and the plan's gap rules.
        (-2, 20, ("Next session: tomorrow from 15:00 on.",)),
        (0, 3, ("Next session: today from 22:00 on.",)),
        (None, 20, ("Next session: tomorrow from 15:00 on.",)),
        # The gap is over long before that day.
        (3, 20, ("Next session: in 3 days, on 2026-11-28.",)),
        (3, 70, ("Next session: in 3 days, on 2026-11-28, from 17:00 on.",)),
    ],
)
def test_the_next_session_is_by_calendar_and_gap_whichever_is_later(
    due: int | None, not_before: int | None, told: tuple[str, ...]
) -> None:
    lines = next_lines(
        due=None if due is None else AT.date() + datetime.timedelta(days=due),
        not_before=None if not_before is None else AT + datetime.timedelta(hours=not_before),
        over=False,
        gap_hours=None,
        now=AT,
        trusted=True,
    )
    assert lines == told


def test_without_a_clock_no_date_is_named_and_after_the_last_session_the_vet_is() -> None:
    said = next_lines(
        due=AT.date(), not_before=AT, over=False, gap_hours=Decimal(20), now=AT, trusted=False
    )
    assert said == ("Next session: in 20 hours or later.",)
    said = next_lines(due=None, not_before=None, over=True, gap_hours=None, now=AT, trusted=True)
    assert said[0] == "This was the last session of the plan."


def test_a_session_that_never_began_is_passed_over(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["after", str(LONG_BACK)]) == Exit.BAD_INPUT
    session([(0, "stop")])
    assert run(["after", DOG]) == Exit.BAD_INPUT
    assert "no session of Juniper has begun yet" in capsys.readouterr().err
    told, whole = session([(0, "")])
    # The first that began: the signs are told once without any other cause.
    assert "Phone the vet at once" in told
    session([(0, "stop")])
    told, _ = session([(0, "")])
    assert "Phone the vet" not in told
    session([(0, "stop")])
    assert run(["after", DOG, "--skin", "fine"]) == Exit.DONE
    assert said(whole).skin is None
    assert run(["after", DOG, "--session", "2", "--skin", "fine"]) == Exit.DONE
    assert said(whole).skin == "fine"
    assert run(["after", DOG, "--session", "3", "--skin", "fine"]) == Exit.BAD_INPUT
    assert "found 3, in which nothing began" in capsys.readouterr().err
    assert run(["after", DOG, "--why", "no_time"]) == Exit.BAD_INPUT
    assert "only for a session that was stopped" in capsys.readouterr().err


def test_a_session_that_is_running_is_not_asked_about(
    capsys: pytest.CaptureFixture[str],
) -> None:
    runner = runner_for(LONG_BACK, journal_folder(DOG, rehearsal=False), FakeTime())
    try:
        assert run(["after", DOG, "--skin", "fine"]) == Exit.BUSY
        assert "another session of Juniper is running" in capsys.readouterr().err
    finally:
        runner.close()
