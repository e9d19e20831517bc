"""Many handovers: who needs a call; the same answer from two engines that know nothing of us."""

import csv
import datetime
import io
import json
import shutil
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.practice.caseload import caseload
from tests.handover.many import TODAY, held, many, write

RECENT = "2026-11-12"


def ago(days: int) -> datetime.date:
    return TODAY - datetime.timedelta(days=days)


@pytest.fixture
def practice(tmp_path: Path) -> Path:
    """Eight invented dogs, one with two handovers, one with two namesakes."""
    folder = tmp_path / "in"
    at = f"{TODAY}T10:00:00+01:00"
    on = {"whole_course": 10, "planned": 2, "given": 2, "missed": 0}

    def dog(name: str, *sessions: dict[str, str], key: str = "a", **course: int) -> None:
        place = folder / f"{name}-{key}"
        write(place, dog=name, device=key, made_at=at, sessions=sessions, course=on | course)

    dog("Fine", held(1, ago(9)), held(2, ago(2)))
    dog("Red", held(1, ago(9)), held(2, ago(2), skin="red", tolerance_0_10="3"))
    dog("Healed", held(1, ago(40), skin="red", signals="yawning"), held(2, ago(2)))
    dog("Unhappy", held(1, ago(3), state="stopped", reason="dog_unhappy"))
    dog("Busy", held(1, ago(3), state="stopped", reason="no_time"), given=1)
    dog("Yawning", held(1, ago(1), signals="yawning"))
    dog("Done", held(1, ago(3)), given=10, planned=10)
    dog("Broken", {"session": "000001-x", "counts": "no", "journal": "unreadable"})
    dog("Fine", held(1, ago(9), skin="red"), key="b")
    # An older handover of Red: what it says of the same session has been overtaken.
    write(
        folder / "older" / "Red",
        dog="Red",
        device="a",
        made_at="2026-11-20T10:00:00+01:00",
        sessions=[held(0, ago(20)), held(1, ago(9), state="stopped", reason="hot_skin")],
    )
    return folder


@pytest.mark.parametrize("engine", ["sqlite", "duckdb"])
def test_what_needs_a_call_comes_first(practice: Path, engine: str) -> None:
    if engine == "duckdb":
        pytest.importorskip("duckdb", reason="the extra caseload is not installed")
    found = caseload(practice, recent=RECENT, engine=engine)  # type: ignore[arg-type]
    assert (found.handovers, found.remarks) == (10, ())
    assert [(row["standing"], row["dog"], row["device"]) for row in found.rows] == [
        ("1 red skin", "Fine", "b"),
        ("1 red skin", "Red", "a"),
        ("2 stopped for the dog", "Unhappy", "a"),
        ("3 signals seen", "Yawning", "a"),
        ("4 a log is broken", "Broken", "a"),
        ("5 behind", "Busy", "a"),
        ("6 on its way", "Fine", "a"),
        ("6 on its way", "Healed", "a"),
        ("7 done", "Done", "a"),
    ]
    red = found.rows[1]
    # Sessions 0, 1 and 2; session 1 as the newer handover tells it.
    assert (red["sessions"], red["stopped"], red["dog_stops"], red["red_skin"]) == (3, 0, 0, 1)
    assert (red["last_session"], red["last_tolerance"]) == ("2026-11-23", 3)
    busy = found.rows[5]
    assert (busy["behind"], busy["last_state"], busy["last_reason"]) == (1, "stopped", "no_time")
    assert (found.rows[4]["sessions"], found.rows[4]["last_tolerance"]) == (0, None)


@pytest.mark.parametrize("engine", ["sqlite", "duckdb"])
def test_zip_files_are_read_beside_folders(practice: Path, engine: str) -> None:
    if engine == "duckdb":
        pytest.importorskip("duckdb", reason="the extra caseload is not installed")
    before = caseload(practice, recent=RECENT, engine=engine)  # type: ignore[arg-type]
    for place in (practice / "Red-a", practice / "Done-a"):
        shutil.make_archive(str(place), "zip", place)
        shutil.rmtree(place)
    (practice / "photos.zip").write_bytes(b"PK no zip")
    after = caseload(practice, recent=RECENT, engine=engine)  # type: ignore[arg-type]
    known = [{**row, "handover": ""} for row in before.rows]
    assert [{**row, "handover": ""} for row in after.rows] == known
    assert len(after.remarks) == 1
    assert "photos.zip: left out" in after.remarks[0]


def test_both_engines_give_the_same_for_many_dogs(tmp_path: Path) -> None:
    pytest.importorskip("duckdb", reason="the extra caseload is not installed")
    many(tmp_path, dogs=40, sessions_each=12)
    # Among them a summary that is longer than the others.
    long = tmp_path / "handover-00007" / "summary.json"
    summary = json.loads(long.read_bytes())
    long.write_text(json.dumps({"notes": "x" * 300_000, **summary}))
    one = caseload(tmp_path, recent=RECENT, engine="sqlite")
    two = caseload(tmp_path, recent=RECENT, engine="duckdb")
    assert len(one.rows) == 40
    assert len({row["standing"] for row in one.rows}) >= 5
    assert one == two


def test_parquet_is_written_and_gives_the_same_answers(
    practice: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    duckdb = pytest.importorskip("duckdb", reason="the extra caseload is not installed")
    before = caseload(practice, recent=RECENT)
    pool = tmp_path / "pools" / "one"
    words = ["caseload", str(practice), "--parquet", str(pool), "--today", TODAY.isoformat()]
    assert run(words) == Exit.DONE
    # An independent look at the files: eight dogs, one of them twice, one namesake.
    for name, rows in (("handovers", 10), ("sessions", 14)):
        path = pool / f"{name}.parquet"
        assert path.read_bytes()[:4] == b"PAR1"  # Apache Parquet, file format, magic number
        assert duckdb.sql(f"SELECT count(*) FROM '{path}'").fetchall() == [(rows,)]
        assert path.stat().st_mode & 0o777 == 0o600
    assert caseload(pool, recent=RECENT, engine="duckdb") == before
    deeper = caseload(pool.parent, recent=RECENT, engine="duckdb")
    assert [row["dog"] for row in deeper.rows] == [row["dog"] for row in before.rows]
    assert deeper.rows[0]["handover"] == f"one/{before.rows[0]['handover']}"
    # It is never written over, and the engine that cannot read it says so.
    capsys.readouterr()
    assert run(words) == Exit.BAD_INPUT
    assert "is there already; allowed: a new folder" in capsys.readouterr().err
    assert run(["caseload", str(pool)]) == Exit.BAD_INPUT
    assert "Parquet, which --engine duckdb reads" in capsys.readouterr().err
    (pool / "handovers.parquet").write_bytes(b"PAR1 no more")
    assert run(["caseload", str(pool), "--engine", "duckdb"]) == Exit.BAD_INPUT
    assert "handovers.parquet" in capsys.readouterr().err


def test_a_table_that_somebody_made_into_parquet_is_read_with_its_own_types(
    practice: Path,
) -> None:
    duckdb = pytest.importorskip("duckdb", reason="the extra caseload is not installed")
    before = caseload(practice, recent=RECENT)
    for place in (practice / "Red-a", practice / "Busy-a"):
        # Numbers as numbers, empty cells null.
        text = duckdb.read_csv(str(place / "sessions.csv"), header=True, all_varchar=True)
        typed = text.project("* REPLACE (CAST(tolerance_0_10 AS TINYINT) AS tolerance_0_10)")
        typed.write_parquet(str(place / "sessions.parquet"))
        (place / "sessions.csv").unlink()
    assert caseload(practice, recent=RECENT, engine="duckdb") == before
    other = caseload(practice, recent=RECENT)
    assert len(other.remarks) == 2
    # With all types guessed, 19:00 here has become another hour there: refused, not misread.
    done = practice / "Done-a"
    guessed = duckdb.read_csv(str(done / "sessions.csv"), header=True)
    guessed.write_parquet(str(done / "sessions.parquet"))
    (done / "sessions.csv").unlink()
    (practice / "Busy-a" / "sessions.parquet").write_bytes(b"no table")
    damaged = caseload(practice, recent=RECENT, engine="duckdb")
    assert len(damaged.rows) == len(before.rows) - 2
    assert "Busy-a: left out" in damaged.remarks[0]
    assert "opened: found TIMESTAMP WITH TIME ZONE; allowed: text" in damaged.remarks[1]


def test_it_is_printed_for_people_for_programs_and_as_a_table(
    practice: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    today = ["--today", TODAY.isoformat()]
    assert run(["caseload", str(practice), *today]) == Exit.DONE
    out = capsys.readouterr().out
    assert "9 dogs in 10 handovers; recent: since 2026-11-12" in out
    assert out.index("red skin") < out.index("behind") < out.index("done")
    assert "Busy (demo r1): 1 of 10 given" in out
    assert "the last one stopped no time" in out
    assert run(["caseload", str(practice), "--json", *today]) == Exit.DONE
    told = json.loads(capsys.readouterr().out)
    assert run(["caseload", str(practice), "--csv", *today]) == Exit.DONE
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out, newline=""), strict=True))
    assert [row["dog"] for row in table] == [dog["dog"] for dog in told["dogs"]]
    assert run(["caseload", str(practice), "--csv", "--json"]) == Exit.BAD_INPUT


def test_what_cannot_be_read_is_told_and_the_rest_is_listed(
    practice: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, text in (("noise", "\0["), ("empty", "{}"), ("list", "[1]")):
        (practice / name).mkdir()
        (practice / name / "summary.json").write_text(text)
    (practice / "Done-a" / "sessions.csv").write_text("session,dog\r\n")
    assert run(["caseload", str(practice)]) == Exit.BAD_INPUT
    out = capsys.readouterr()
    assert "Unhappy" in out.out
    assert "Done" not in out.out
    assert out.err.count("left out") == 4
    assert "sessions.csv lacks opened, counts" in out.err
    assert run(["caseload", str(practice / "nowhere")]) == Exit.BAD_INPUT
    with (practice / "Unhappy-a" / "sessions.csv").open("a", newline="") as stream:
        stream.write("short,row\r\n")
    for engine in ("sqlite", "duckdb"):
        assert run(["caseload", str(practice), "--engine", engine]) == Exit.BAD_INPUT
        out = capsys.readouterr()
        assert "Unhappy-a: left out: sessions.csv:" in out.err
        assert "Unhappy " not in out.out
        assert "Healed" in out.out
    (practice.parent / "none").mkdir()
    assert run(["caseload", str(practice.parent / "none")]) == Exit.DONE
    assert "No handover was found." in capsys.readouterr().out
