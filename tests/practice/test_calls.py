"""Calls: noted beside the handovers, by two people at once, and what they answer."""

import datetime
import json
import multiprocessing
import os
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.practice.call_list import call_list
from coach.practice.calls import add_call, read_calls
from coach.practice.rules import house_rules
from tests.practice.many import TODAY, held, write

NOW = datetime.datetime(2026, 11, 25, 11, tzinfo=datetime.UTC)
MADE = "2026-11-25T08:00:00+00:00"
DAY = datetime.timedelta(days=1)


def dues(given: int) -> dict[str, object]:
    days = ("2026-11-16", "2026-11-18", "2026-11-20", "2026-11-23", "2026-12-20")
    told = [
        {"number": n, "planned_on": day, "day": day, "state": "given" if n <= given else "ask"}
        for n, day in enumerate(days, start=1)
    ]
    return {"start": days[0], "whole_course": 5, "planned": 4, "given": given, "dues": told}


def reasons(folder: Path, today: datetime.date = TODAY) -> dict[str, list[str]]:
    found = call_list(folder, today, house_rules())
    return {dog.dog: [reason.rule for reason in dog.reasons] for dog in found.dogs}


def noted(folder: Path, dog: str, until: datetime.date | None = None) -> None:
    add_call(
        folder,
        at=NOW,
        dog=dog,
        device="a",
        by="Robin (invented)",
        until=until,
        handover_made="2026-11-25T08:00:00Z",
    )


@pytest.fixture
def practice(tmp_path: Path) -> Path:
    """One dog that snapped and is behind, one that is fine. Both are invented."""
    sessions = [held(1, TODAY - 9 * DAY), held(2, TODAY - DAY, signals="snaps")]
    write(tmp_path / "s", dog="Snap", device="a", made_at=MADE, sessions=sessions, course=dues(2))
    write(tmp_path / "f", dog="Fine", device="a", made_at=MADE, sessions=[held(1, TODAY - DAY)])
    return tmp_path


def test_a_call_answers_what_was_known_and_nothing_that_comes_later(practice: Path) -> None:
    assert reasons(practice)["Snap"] == ["stop_sign", "behind"]
    noted(practice, "Snap")
    assert reasons(practice)["Snap"] == []
    # What only time can change rests for a week.
    assert reasons(practice, TODAY + 6 * DAY)["Snap"] == []
    assert reasons(practice, TODAY + 7 * DAY)["Snap"] == ["behind"]
    # A handover that was made later tells of a session that was before the call: it is new here.
    sessions = [
        held(1, TODAY - 9 * DAY),
        held(2, TODAY - DAY, signals="snaps"),
        held(3, TODAY, signals="growls"),
    ]
    later = "2026-11-26T08:00:00+00:00"
    write(practice / "s2", dog="Snap", device="a", made_at=later, sessions=sessions, course=dues(3))
    found = call_list(practice, TODAY + DAY, house_rules()).dogs[0]
    assert [(reason.rule, reason.what) for reason in found.reasons] == [("stop_sign", "growls")]
    assert (found.called, found.called_by) == (TODAY, "Robin (invented)")


def test_until_puts_the_dog_back_on_its_day(practice: Path) -> None:
    noted(practice, "Fine", until=TODAY + 3 * DAY)
    noted(practice, "Snap", until=TODAY + 20 * DAY)
    assert reasons(practice, TODAY + 2 * DAY) == {"Snap": [], "Fine": []}
    assert reasons(practice, TODAY + 3 * DAY)["Fine"] == ["call_again"]
    assert reasons(practice, TODAY + 10 * DAY)["Snap"] == []
    assert reasons(practice, TODAY + 20 * DAY)["Snap"][0] == "call_again"
    # The next call answers that one.
    add_call(
        practice,
        at=NOW + 20 * DAY,
        dog="Snap",
        device="a",
        by="Ada (invented)",
        handover_made="2026-11-25T08:00:00Z",
    )
    assert reasons(practice, TODAY + 20 * DAY)["Snap"] == []


def test_the_command_notes_lists_and_refuses(
    practice: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    here = ["--in", str(practice)]
    assert run(["call", *here]) == Exit.DONE
    assert "No call was noted here." in capsys.readouterr().out
    assert run(["call", "snap", *here, "--by", "Robin", "--note", "rests\nher"]) == Exit.DONE
    assert run(["call", *here]) == Exit.DONE
    assert "Snap by Robin: rests her" in capsys.readouterr().out
    calls = read_calls(practice).calls
    assert [(call.dog, call.handover_made) for call in calls] == [("Snap", "2026-11-25T08:00:00Z")]
    for words, told in (
        (["Snapp"], 'did you mean "Snap"?'),
        (["Snap", "--until", "2020-01-01"], "--until: found 2020-01-01; allowed: today or later"),
        (["Snap", "--by", "x" * 81], "--by"),
        (["Snap", "--note", "x" * 2001], "--note"),
    ):
        assert run(["call", *words, *here]) == Exit.BAD_INPUT
        assert told in capsys.readouterr().err
    write(practice / "t", dog="Snap", device="b", made_at=MADE, sessions=[held(1, TODAY)])
    assert run(["call", "Snap", *here]) == Exit.BAD_INPUT
    assert "found 2 dogs of that name; allowed: --computer" in capsys.readouterr().err
    assert run(["call", "Snap", "--computer", "b", *here]) == Exit.DONE
    assert len(read_calls(practice).calls) == 2
    assert run(["call", "Snap", "--in", str(practice / "nowhere")]) == Exit.BAD_INPUT
    assert run(["call", "--in", str(practice / "nowhere")]) == Exit.BAD_INPUT


def test_a_line_that_is_cut_in_half_is_told_and_swallows_nothing(
    practice: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    noted(practice, "Fine")
    noted(practice, "Snap")
    path = practice / "calls.jsonl"
    whole = path.read_bytes()
    first = whole.index(b"\n") + 1
    for length in range(first + 1, len(whole)):
        path.write_bytes(whole[:length])
        found = read_calls(practice)
        # Only the line end is missing where the last byte alone is gone.
        lost = 1 if length < len(whole) - 1 else 0
        assert len(found.calls) == 2 - lost, length
        assert len(found.remarks) == lost
    path.write_bytes(whole[: first + 20])
    noted(practice, "Snap")
    assert path.read_bytes().startswith(whole[: first + 20] + b"\n{")
    found = read_calls(practice)
    assert [call.dog for call in found.calls] == ["Fine", "Snap"]
    assert f"{path}:2: found something that is no call; passed over" in found.remarks[0]
    path.write_bytes(whole + b"\xff[" + b"[" * 100_000 + b'\n{"call": 1}\n\n')
    assert run(["call", "--in", str(practice)]) == Exit.BAD_INPUT
    told = capsys.readouterr()
    assert "Fine" in told.out
    assert told.err.count("passed over") == 2


def _noting(folder: str, who: str, count: int) -> None:
    for number in range(count):
        add_call(Path(folder), at=NOW, dog=f"Dog {number}", device="a", by=who, note="x" * 900)


def test_two_people_at_once_lose_nothing(tmp_path: Path) -> None:
    spawn = multiprocessing.get_context("fork")
    people = [spawn.Process(target=_noting, args=(str(tmp_path), who, 40)) for who in "AB"]
    for one in people:
        one.start()
    for one in people:
        one.join()
    found = read_calls(tmp_path)
    assert found.remarks == ()
    assert sorted(call.by for call in found.calls) == ["A"] * 40 + ["B"] * 40
    assert all(json.loads(line) for line in (tmp_path / "calls.jsonl").read_text().splitlines())


def test_a_folder_without_rights_is_told_and_nothing_is_noted(
    practice: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # Root may write everywhere: the refusal is put in.
    true = os.open

    def refused(path: object, flags: int, *more: int, **named: int) -> int:
        if str(path).endswith("calls.jsonl") and flags & os.O_CREAT:
            raise PermissionError(13, "Permission denied", str(path))
        return true(path, flags, *more, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", refused)
    assert run(["call", "Snap", "--in", str(practice), "--by", "Robin"]) == Exit.NOT_WRITTEN
    assert "Permission denied; nothing was noted" in capsys.readouterr().err
    assert read_calls(practice).calls == ()
