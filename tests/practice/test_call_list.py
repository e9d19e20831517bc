"""Many handovers in a folder: read as they come, told when they cannot be, listed for all."""

import csv
import datetime
import io
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.practice.call_list import CallList, call_list
from coach.practice.reading import read_handover
from coach.practice.rules import house_rules
from tests.practice.many import TODAY, held, many, write

EngineName = Literal["sqlite", "duckdb"]
ENGINES: list[Any] = ["sqlite", "duckdb"]
AT = f"{TODAY}T10:00:00+01:00"


def ago(days: int) -> datetime.date:
    return TODAY - datetime.timedelta(days=days)


def listed(folder: Path, engine: EngineName = "sqlite") -> CallList:
    if engine == "duckdb":
        pytest.importorskip("duckdb", reason="the extra caseload is not installed")
    return call_list(folder, TODAY, house_rules(), engine=engine)


def why(found: CallList) -> list[tuple[str, str]]:
    return [(dog.why.rule if dog.why else "", dog.dog) for dog in found.dogs]


@pytest.fixture
def practice(tmp_path: Path) -> Path:
    """Eight invented dogs, one with two handovers, one with a namesake."""
    folder = tmp_path / "in"
    on = {"whole_course": 10, "planned": 2, "given": 2, "missed": 0}

    def dog(name: str, *sessions: dict[str, str], key: str = "a", **course: int) -> None:
        place = folder / f"{name}-{key}"
        write(place, dog=name, device=key, made_at=AT, sessions=sessions, course=on | course)

    dog("Fine", held(1, ago(9)), held(2, ago(2)))
    dog("Red", held(1, ago(9)), held(2, ago(2), skin="red", tolerance_0_10="5"))
    dog("Healed", held(1, ago(40), skin="red", signals="yawns"), held(2, ago(2)))
    dog("Unhappy", held(1, ago(3), state="stopped", reason="dog_unhappy"), held(2, ago(2)))
    dog("Busy", held(1, ago(3), state="stopped", reason="no_time"), given=1)
    dog("Yawning", held(1, ago(1), signals="yawns"), held(2, ago(2)))
    dog("Done", held(1, ago(3)), given=10, planned=10, whole_course=10)
    dog("Broken", {"session": "000001-x", "counts": "no", "journal": "unreadable"}, planned=0)
    dog("Fine", held(1, ago(9), skin="red"), held(2, ago(2), skin=""), key="b")
    # An older handover of Red: what it says of the same session has been overtaken.
    write(
        folder / "older" / "Red",
        dog="Red",
        device="a",
        made_at="2026-11-20T10:00:00+01:00",
        sessions=[held(0, ago(20)), held(1, ago(9), state="stopped", reason="hot_skin")],
    )
    return folder


@pytest.mark.parametrize("engine", ENGINES)
def test_what_needs_a_call_comes_first(practice: Path, engine: EngineName) -> None:
    found = listed(practice, engine)
    assert (found.handovers, found.remarks) == (10, ())
    assert why(found) == [
        ("red_skin", "Red"),
        ("red_skin", "Fine"),
        ("stopped_for_dog", "Unhappy"),
        ("bad_log", "Broken"),
        ("behind", "Busy"),
        ("early_sign", "Yawning"),
        ("", "Done"),
        ("", "Fine"),
        ("", "Healed"),
    ]
    red = found.dogs[0]
    # Sessions 0, 1 and 2; session 1 as the newer handover tells it.
    assert (red.sessions, red.handovers, red.tolerance) == (3, 2, 5)
    assert [reason.rule for reason in red.reasons] == ["red_skin", "tolerance_fall"]
    assert red.changed == ("1 more session since 2026-11-20", "tolerance 8 to 5")
    assert found.dogs[1].device == "b"
    busy = found.dogs[4]
    assert (busy.behind, busy.given, busy.last_session) == (1, 1, ago(3))
    assert (found.dogs[3].sessions, found.dogs[3].tolerance) == (0, None)


@pytest.mark.parametrize("engine", ENGINES)
def test_zip_files_are_read_beside_folders(practice: Path, engine: EngineName) -> None:
    before = why(listed(practice, engine))
    for place in (practice / "Red-a", practice / "Done-a"):
        shutil.make_archive(str(place), "zip", place)
        shutil.rmtree(place)
    (practice / "photos.zip").write_bytes(b"PK no zip")
    after = listed(practice, engine)
    assert why(after) == before
    assert [remark.split(":")[1] for remark in after.remarks] == [" left out"]


def test_both_engines_give_the_same_for_many_dogs(tmp_path: Path) -> None:
    many(tmp_path, dogs=40, sessions_each=12)
    # Among them a summary that is longer than the others.
    long = tmp_path / "dog-00007-01" / "summary.json"
    summary = json.loads(long.read_bytes())
    long.write_text(json.dumps({"notes": "x" * 300_000, **summary}))
    one, two = listed(tmp_path), listed(tmp_path, "duckdb")
    assert len(one.dogs) == 40
    assert len({rule for rule, _ in why(one)}) >= 5
    assert one == two


def test_it_is_printed_for_people_for_programs_and_as_a_table(
    practice: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    today = ["--today", TODAY.isoformat()]
    assert run(["caseload", str(practice), *today]) == Exit.DONE
    out = capsys.readouterr().out
    assert "Call today, 2026-11-25: 6 of 9 dogs (10 handovers)" in out
    assert out.index("red or hot skin") < out.index("sessions behind") < out.index("No reason")
    assert "1 of 10 of the course, 1 session, last 2026-11-22" in out
    assert all(len(line) <= 100 for line in out.splitlines())
    assert run(["caseload", str(practice), "--json", *today]) == Exit.DONE
    told = json.loads(capsys.readouterr().out)
    assert run(["caseload", str(practice), "--csv", *today]) == Exit.DONE
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out, newline=""), strict=True))
    assert [row["dog"] for row in table] == [dog["dog"] for dog in told["dogs"]]
    assert table[0]["rule"] == told["dogs"][0]["reasons"][0]["rule"] == "red_skin"
    assert run(["caseload", str(practice), "--csv", "--json"]) == Exit.BAD_INPUT
    assert run(["caseload", "--rules"]) == Exit.DONE
    listed_rules = capsys.readouterr().out
    assert all(rule in listed_rules for rule in house_rules().rules)


def test_what_cannot_be_read_is_told_and_the_rest_is_listed(
    practice: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, text in (("noise", "\0["), ("empty", "{}"), ("list", "[1]"), ("deep", "[" * 99999)):
        (practice / name).mkdir()
        (practice / name / "summary.json").write_text(text)
    huge = json.loads((practice / "Busy-a" / "summary.json").read_text())
    huge["plan_now"]["revision"] = 10**30
    (practice / "huge").mkdir()
    (practice / "huge" / "summary.json").write_text(json.dumps(huge))
    (practice / "Done-a" / "sessions.csv").write_text("session,dog\r\n")
    table = practice / "Unhappy-a" / "sessions.csv"
    table.write_bytes(table.read_bytes() + b"short,row\r\n")
    for _again in range(2):
        # The second time nothing is read anew, and everything is told again.
        assert run(["caseload", str(practice), "--today", TODAY.isoformat()]) == Exit.BAD_INPUT
        out = capsys.readouterr()
        assert "Busy" in out.out
        assert "Done" not in out.out
        assert out.err.count("left out") == 6
        assert "sessions.csv lacks opened, counts" in out.err
        # The rows before the broken one still count.
        assert "Unhappy (demo r1): stopped for the dog's sake" in out.out
        assert "Unhappy-a: sessions.csv:4: found a row that lacks cells" in out.err
    assert run(["caseload", str(practice / "nowhere")]) == Exit.BAD_INPUT
    assert run(["caseload"]) == Exit.BAD_INPUT
    (practice.parent / "none").mkdir()
    assert run(["caseload", str(practice.parent / "none")]) == Exit.DONE
    assert "No handover was found." in capsys.readouterr().out


def test_pipes_links_and_locked_folders_do_not_stop_the_list(practice: Path) -> None:
    os.mkfifo(practice / "Fine-a" / "plan.toml")
    (practice / "away").symlink_to(practice / "Red-a")
    found = listed(practice)
    assert len(found.dogs) == 8 + 1 - 1
    assert [remark.split(": ", 1)[1] for remark in found.remarks] == [
        "left out: plan.toml: found a pipe; allowed: an ordinary file"
    ]


def test_only_what_is_new_or_changed_is_read_again(
    practice: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[str] = []
    true: Callable[..., Any] = read_handover

    def noted(files: Any, *, name: str, **more: Any) -> Any:
        read.append(name)
        return true(files, name=name, **more)

    monkeypatch.setattr("coach.practice.store.read_handover", noted)
    first = listed(practice)
    assert len(read) == 10
    read.clear()
    assert listed(practice) == first
    assert read == []
    # A new one: only that. A changed one: all of that dog. One that is gone: the dog's others.
    write(practice / "new", dog="New", device="n", made_at=AT, sessions=[held(1, ago(1))])
    listed(practice)
    assert read == ["new"]
    read.clear()
    table = practice / "Red-a" / "sessions.csv"
    table.write_bytes(table.read_bytes().replace(b"red", b"fine"))
    assert ("red_skin", "Red") not in why(listed(practice))
    assert sorted(read) == ["Red-a", "older/Red"]
    read.clear()
    shutil.rmtree(practice / "Red-a")
    assert [dog.sessions for dog in listed(practice).dogs if dog.dog == "Red"] == [2]
    assert read == ["older/Red"]


def test_a_store_that_is_damaged_is_made_anew(practice: Path, own_world: Path) -> None:
    first = listed(practice)
    kept = next((own_world / "cache" / "practice").glob("*.sqlite"))
    assert kept.stat().st_mode & 0o777 == 0o600
    whole = kept.read_bytes()
    for damaged in (b"noise", whole[: len(whole) // 2], whole[:5000] + b"\0" * (len(whole) - 5000)):
        kept.write_bytes(damaged)
        assert listed(practice) == first
    # Where nothing can be kept, all is read each time, and that is told.
    shutil.rmtree(kept.parent)
    kept.parent.write_text("a file in the way")
    found = listed(practice)
    assert found.dogs == first.dogs
    assert len(found.remarks) == 1
    assert "everything is read anew each time" in found.remarks[0]


def test_a_half_copied_handover_is_told_and_its_dog_stays_in_the_list(practice: Path) -> None:
    place = practice / "Fine-a"
    raw = (place / "sessions.csv").read_bytes()
    files = {"sessions.csv": {"bytes": len(raw), "sha256": "0" * 64}}
    (place / "manifest.json").write_text(json.dumps({"files": files}))
    part = raw[: raw.rindex(b"\r\n", 0, -2) + 2]
    (place / "sessions.csv").write_bytes(part)
    found = listed(practice)
    told = f"sessions.csv: {len(part)} bytes, {len(raw)} in the list of files"
    assert told in found.remarks[0]
    assert "copied in part, or changed" in found.remarks[0]
    assert ("bad_log", "Fine") in why(found)


def test_two_versions_of_one_handover_are_told(practice: Path) -> None:
    copy = practice / "copy"
    shutil.copytree(practice / "Busy-a", copy)
    assert listed(practice).remarks == ()
    summary = (copy / "summary.json").read_text()
    (copy / "summary.json").write_text(summary.replace('"given": 1', '"given": 2'))
    found = listed(practice)
    assert len(found.remarks) == 1
    assert "two versions of the handover" in found.remarks[0]
    assert "Busy-a and copy; copy is used" in found.remarks[0]


def test_clocks_of_1970_do_not_hide_a_dog(tmp_path: Path) -> None:
    first = datetime.date(1970, 1, 1)
    write(
        tmp_path / "Lost",
        dog="Lost",
        device="a",
        made_at="1970-01-01T01:00:00+01:00",
        sessions=[held(1, first, clock="unknown", skin="red")],
    )
    came = datetime.datetime(2026, 11, 24, 12, tzinfo=datetime.UTC).timestamp()
    for path in (tmp_path / "Lost").iterdir():
        os.utime(path, (came, came))
    found = listed(tmp_path)
    assert [reason.rule for reason in found.dogs[0].reasons] == ["red_skin", "clock"]
    assert found.dogs[0].reasons[0].last == datetime.date(2026, 11, 24)
    assert "its clock said 1970-01-01" in found.remarks[0]


def test_what_files_say_cannot_act_on_a_terminal_or_a_spreadsheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sessions = [held(1, ago(1), words="\x1b]0;owned\x07 drags =1+1", skin="red")]
    write(tmp_path / "x", dog="=cmd\x1b[31m", device="a", made_at=AT, sessions=sessions)
    today = ["--today", TODAY.isoformat()]
    assert run(["caseload", str(tmp_path), *today]) == Exit.DONE
    assert "\x1b" not in capsys.readouterr().out
    assert run(["caseload", str(tmp_path), "--csv", *today]) == Exit.DONE
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert next(csv.DictReader(io.StringIO(out, newline="")))["dog"].startswith("'=cmd")


def test_a_lake_is_written_and_gives_the_same_answers(
    practice: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    duckdb = pytest.importorskip("duckdb", reason="the extra caseload is not installed")
    before = listed(practice)
    lake = tmp_path / "lakes" / "one"
    words = ["caseload", str(practice), "--parquet", str(lake)]
    assert run(words) == Exit.DONE
    # An independent look at the files: ten handovers, one session told twice; hive's folders.
    for name, rows in (("handovers", 10), ("sessions", 16)):
        paths = list((lake / name).rglob("*.parquet"))
        assert all(path.read_bytes()[:4] == b"PAR1" for path in paths)  # Apache Parquet, magic
        assert all(path.parent.name.startswith("month=") for path in paths)
        assert {path.parent.parent.name for path in paths} == {"practice=practice"}
        glob = f"{lake}/{name}/*/*/*.parquet"
        assert duckdb.sql(f"SELECT count(*) FROM '{glob}'").fetchall() == [(rows,)]
        assert all(path.stat().st_mode & 0o777 == 0o600 for path in paths)
    again = listed(lake, "duckdb")
    assert why(again) == why(before)
    assert again.dogs[0].handover == f"practice/{before.dogs[0].handover}"
    # It is never written over, and the engine that cannot read it says so.
    capsys.readouterr()
    assert run(words) == Exit.BAD_INPUT
    assert "is there already; allowed: a new folder" in capsys.readouterr().err
    assert run(["caseload", str(lake)]) == Exit.BAD_INPUT
    assert "allowed: --engine duckdb" in capsys.readouterr().err
    for path in (lake / "handovers").rglob("*.parquet"):
        path.write_bytes(b"PAR1 no more")
    assert run(["caseload", str(lake), "--engine", "duckdb"]) == Exit.BAD_INPUT
    assert f"{lake}: its files cannot be read" in capsys.readouterr().err
