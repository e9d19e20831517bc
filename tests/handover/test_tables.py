"""Tables, summary and list of a handover, read by others: csv, jsonschema, UCUM, zipfile."""

import csv
import errno
import io
import json
import os
import stat
import zipfile
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter
from ucumvert import InvalidUcumError, parse_ucum

from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.handover.summary_json import SummaryJson
from coach.handover.tables import (
    SESSION_COLUMNS,
    SPOT_COLUMNS,
    Column,
    csv_bytes,
    harmless,
)
from coach.journal.diary_entries import AfterSession, Correction, FunctionScore, InstrumentTotal
from coach.journal.signing import DeviceKey
from tests.handover.conftest import MADE
from tests.handover.dogs import PLAN, said, session

pytestmark = pytest.mark.usefixtures("plain_report")

SCHEMA = json.loads((files("coach.handover") / "summary.schema.json").read_text())
# people.md of the project's sources after RCVS guidance 13 and Jenkins & Carroll 2011: what a
# record holds for each spot given.
RECORD_FIELDS = (
    "plan, plan_revision, session, dog, weight_kg, started, ended, who, position, region, "
    "region_term, prescriber_note, uberon, side, aspect, spot_number, spots_of, technique, "
    "prescribed_s, given_s, interruptions, reason, wavelength_nm, mean_power_mw, frequency_hz, "
    "duty_cycle, beam_area_cm2, given_j, given_j_cm2, tolerance_0_10, signals, skin, correction"
)


def rows(path: Path) -> list[dict[str, str]]:
    """By the csv module of the standard library, in its strict form."""
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream, strict=True))


def made(dog: Path, key: DeviceKey, to: Path, **more: object) -> Path:
    options: dict[str, object] = {"with_names": True, "zipped": False, "made": MADE, **more}
    return write_handover(dog, to, signer=key, **options).path  # type: ignore[arg-type]


def test_every_spot_given_is_a_row_with_all_that_a_record_asks(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    # The last line of a pause holds all that was seen in it.
    first = {"spot": 2, "signals": ["lip_licking"], "outcome": "watch"}
    seen = {"spot": 2, "signals": ["lip_licking", "yawning"], "outcome": "watch"}
    none = {"spot": 3, "signals": [], "outcome": "go"}
    path = session(dog, "2026-11-10", key=key, helper="Alex", signals=[first, seen, none])
    session(dog, "2026-11-12", key=key, stop_after=2)
    said(dog, AfterSession(session=path.stem, skin="warm", tolerance_0_10=7, words="calm"))
    folder = made(dog, key, tmp_path)
    spots = rows(folder / "spots.csv")
    assert set(RECORD_FIELDS.split(", ")) <= set(spots[0])
    assert len(spots) == 6
    third = spots[2]
    # 500 mW for 40 s make 20 J; over 1 cm2 of beam area 20 J/cm2 (E = P t, H = E / A).
    assert (third["given_s"], third["given_j"], third["given_j_cm2"]) == ("40", "20", "20")
    assert third["irradiance_mw_cm2"] == third["mean_power_mw"] == "500"
    assert third["started"] == "2026-11-10T19:00:00.000+01:00"
    assert third["uberon"].startswith("UBERON:")
    assert (third["who"], third["skin"], third["tolerance_0_10"]) == ("Alex", "warm", "7")
    assert [row["signals"] for row in spots] == ["", "", "lip_licking yawning", "", "", ""]
    whole, stopped = rows(folder / "sessions.csv")
    assert (whole["given_s"], whole["state"], whole["words"]) == ("140", "finished", "calm")
    assert (stopped["given_s"], stopped["state"], stopped["reason"]) == (
        "60",
        "stopped",
        "dog_unhappy",
    )
    assert [stopped[f"spots_{name}"] for name in ("planned", "given", "not_reached")] == list("422")
    raw = (folder / "spots.csv").read_bytes()
    assert raw.count(b"\r\n") == 7
    assert raw.count(b"\n") == 7


def test_the_summary_keeps_to_its_published_schema(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    assert TypeAdapter(SummaryJson).json_schema() == SCHEMA
    news = [
        {"point": "anything_new", "answer": "yes", "outcome": "asked"},
        {"point": "lump", "answer": "yes", "outcome": "ask_vet"},
        {"point": "lump", "answer": "yes", "outcome": "vet_agreed"},
        {"point": "fever", "answer": "no", "outcome": "go"},
    ]
    path = session(dog, "2026-11-10", key=key, stop_after=3, news=news)
    said(
        dog,
        AfterSession(session=path.stem, skin="red", tolerance_0_10=3),
        FunctionScore(
            score_0_10=6,
            activities={"stairs": 3},
            total=InstrumentTotal(instrument="Q", value="12"),
        ),
        Correction(session=path.stem, spot=1, what="laser_was_off", text="cable was out"),
    )
    summary = json.loads((made(dog, key, tmp_path) / "summary.json").read_text())
    jsonschema.validate(summary, SCHEMA)
    # 30 + 30 + 40 s given, the first 30 s with the laser off; 500 mW.
    assert (summary["totals"]["given_s"], summary["totals"]["counted_s"]) == (100, 70)
    assert (summary["totals"]["given_j"], summary["totals"]["counted_j"]) == (50, 35)
    left, right = summary["places"]
    assert (left["side"], left["prescribed_s"], left["given_s"], left["counted_s"]) == (
        "left",
        70,
        70,
        40,
    )
    assert (right["prescribed_s"], right["given_s"]) == (70, 30)
    assert summary["missed"][0]["outcome"] == "not_reached"
    assert summary["scores"][0]["total"] == 12
    assert [(new["point"], new["outcome"]) for new in summary["asked"]] == [("lump", "vet_agreed")]
    assert summary["days"] == [{"day": "2026-11-10", "sessions": 1, "state": "part"}]


@pytest.mark.filterwarnings("default")
def test_every_unit_is_one_of_ucum() -> None:
    # An independent parser of the UCUM grammar; it knows case (mW is not MW).
    units = {column.unit for column in (*SPOT_COLUMNS, *SESSION_COLUMNS)} - {""}
    assert {"s", "J", "J/cm2", "mW", "nm", "Hz", "cm2", "kg", "{spot}"} <= units
    for unit in sorted(units):
        parse_ucum(unit)
    with pytest.raises(InvalidUcumError):
        parse_ucum("joules")


def test_nothing_in_a_cell_runs_and_nothing_is_lost(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    evil = '=1+1,"x"\n@SUM(A1)'
    long = "schläft 🐕 שלום " * 140
    one = session(dog, "2026-11-10", key=key, helper="=cmd|' /C calc'!A0")
    two = session(dog, "2026-11-11", key=key, helper="-1+2")
    said(
        dog,
        AfterSession(session=one.stem, words=evil),
        AfterSession(session=two.stem, words=long[:2000]),
    )
    folder = made(dog, key, tmp_path)
    first, second = rows(folder / "sessions.csv")
    for row in (first, second):
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in row.values())
    assert first["words"][1:].startswith("=1+1")
    assert second["words"] == long[:2000].strip() or second["words"] == long[:2000]
    assert (harmless("-12.5"), harmless("=1"), harmless("@a")) == ("-12.5", "'=1", "'@a")


def test_a_prescriber_s_note_of_twenty_thousand_characters_stays_whole(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    from tests.worlds import header_for, spots_for

    spots = header_for(spots_for((30, 30, 40, 40), move_s=3))["spots"]
    note = ("Ein langer Satz; " * 1200)[:20_000]
    session(dog, "2026-11-10", key=key, header={"spots": [{**s, "note": note} for s in spots]})
    folder = made(dog, key, tmp_path)
    assert {row["prescriber_note"] for row in rows(folder / "spots.csv")} == {note}


def test_what_was_corrected_stays_with_what_counts_now(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    one = session(dog, "2026-11-10", key=key)
    two = session(dog, "2026-11-11", key=key)
    three = session(dog, "2026-11-12", key=key)
    line_of_spot_3 = next(
        number
        for number, line in enumerate(two.read_text().splitlines(), start=1)
        if json.loads(line)["data"].get("spot") == 2
    )
    said(
        dog,
        Correction(session=one.stem, spot=1, what="wrong_side"),
        Correction(session=two.stem, line=line_of_spot_3, what="wrong_region"),
        Correction(session=two.stem, spot=99, what="laser_was_off"),
        Correction(session=three.stem, what="not_this_dog"),
        Correction(session="000099-gone", what="note", text="?"),
    )
    folder = made(dog, key, tmp_path)
    spots = rows(folder / "spots.csv")
    assert len(spots) == 12
    assert [
        spots[0][c] for c in ("side", "given_s", "correction", "counted_side", "counted_s")
    ] == [
        "left",
        "30",
        "wrong_side",
        "right",
        "30",
    ]
    assert [spots[6][c] for c in ("given_s", "correction", "counted_side", "counted_s")] == [
        "40",
        "wrong_region",
        "",
        "0",
    ]
    assert {row["correction"] for row in spots[8:]} == {"not_this_dog"}
    summary = json.loads((folder / "summary.json").read_text())
    left, right = summary["places"]
    # Two sessions count. Left: 2 x 70 s as logged, less 30 s (other side) and 40 s (elsewhere).
    assert (left["prescribed_s"], left["given_s"], left["counted_s"]) == (140, 140, 70)
    assert (right["prescribed_s"], right["given_s"], right["counted_s"]) == (140, 140, 170)
    assert [entry["here"] for entry in summary["corrections"]] == [True] * 4 + [False]
    assert any("spot 99" in remark for remark in summary["remarks"])


def test_without_names_no_name_is_in_any_file(dog: Path, key: DeviceKey, tmp_path: Path) -> None:
    path = session(dog, "2026-11-10", key=key, helper="Alexandra", dog="Pip")
    said(dog, AfterSession(session=path.stem, words="Alexandra was away", by="Bertram"))
    folder = made(dog, key, tmp_path, with_names=False)
    again = made(dog, key, tmp_path, with_names=False)
    text = "".join(f.read_bytes().decode("utf-8", "replace") for f in folder.iterdir())
    for name in ("Pip", "pip", "Alexandra", "Bertram", "Invented", "demo"):
        assert name not in text + folder.name, name
    assert not (folder / "journals").exists()
    (one,), (two,) = rows(folder / "sessions.csv"), rows(again / "sessions.csv")
    assert one["dog"] == two["dog"] != ""


def test_nothing_that_is_there_is_ever_replaced_and_all_is_private(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    session(dog, "2026-11-10", key=key)
    taken = tmp_path / "pip-2026-11-10-to-2026-11-10"
    taken.mkdir()
    (tmp_path / "pip-2026-11-10-to-2026-11-10-2.zip").write_text("mine")
    folder = made(dog, key, tmp_path)
    packed = made(dog, key, tmp_path, zipped=True)
    third = made(dog, key, tmp_path, zipped=True)
    assert folder.name == "pip-2026-11-10-to-2026-11-10-2"
    assert packed.name == "pip-2026-11-10-to-2026-11-10.zip"
    assert third.name == "pip-2026-11-10-to-2026-11-10-3.zip"
    assert list(taken.iterdir()) == []
    for path in (folder, packed, *folder.rglob("*")):
        assert stat.S_IMODE(path.stat().st_mode) & 0o077 == 0, path
    with zipfile.ZipFile(packed) as archive:
        assert archive.testzip() is None
        assert set(archive.namelist()) == {
            p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()
        }
    assert not [p for p in tmp_path.iterdir() if ".part" in p.name]


def test_only_the_days_asked_for_leave_and_a_clock_not_trusted_is_taken_along(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    session(dog, "2026-11-01", key=key)
    session(dog, "1970-01-01", key=key, trust="unknown")
    session(dog, "2026-11-20", key=key)
    since = Made(at=MADE.at, program=MADE.program, since="2026-11-10")
    folder = made(dog, key, tmp_path, made=since)
    assert [row["opened"][:10] for row in rows(folder / "sessions.csv")] == [
        "1970-01-01",
        "2026-11-20",
    ]


@given(st.text())
def test_a_cell_comes_back_as_it_was_or_with_one_quote_before_it(text: str) -> None:
    columns = (Column("a", "", ""), Column("b", "", ""))
    table = csv_bytes(columns, [{"a": text, "b": "x"}]).decode("utf-8", "surrogatepass")
    (heading, row) = csv.reader(io.StringIO(table, newline=""), strict=True)
    assert (heading, row[1]) == (["a", "b"], "x")
    assert row[0] in (text, f"'{text}")
    if row[0].startswith(("=", "+", "-", "@")):
        float(row[0])


@pytest.mark.parametrize("at", [1, 4, 7])
def test_a_full_disk_leaves_nothing_behind(
    at: int, dog: Path, key: DeviceKey, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session(dog, "2026-11-10", key=key)
    to = tmp_path / "out"
    left = iter(range(at))

    def full(fd: int) -> None:
        if next(left, None) is None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("coach.handover.folder.os.fsync", full)
    assert run(["handover", "--to", str(to)]) == Exit.NOT_WRITTEN
    assert list(to.iterdir()) == []


@pytest.mark.parametrize("name", ["Ёлка 🐕", "שלום", "con", "a/../b", "x" * 80])
def test_every_dog_s_name_gives_a_name_for_a_stick(
    name: str, key: DeviceKey, tmp_path: Path
) -> None:
    from coach import paths

    folder = paths.dog_folder(name)
    session(folder, "2026-11-10", dog=name, key=key)
    path = made(folder, key, tmp_path / "stick")
    assert path.parent == tmp_path / "stick"
    assert set(path.name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert len(path.name) < 80
    assert rows(path / "sessions.csv")[0]["dog"] == name


def test_the_command_says_where_it_is_and_refuses_what_it_cannot_do(
    dog: Path, key: DeviceKey, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to = tmp_path / "out"
    assert run(["handover"]) == Exit.BAD_INPUT
    assert "allowed: one of none yet" in capsys.readouterr().err
    (dog / "plan.toml").write_text(PLAN.replace('"Juniper"', '"Pip"'))
    assert run(["handover", "Rex"]) == Exit.BAD_INPUT
    assert "allowed: one of Pip" in capsys.readouterr().err
    assert run(["handover", "--to", str(to)]) == Exit.DONE
    out = capsys.readouterr().out
    assert "0 sessions that count." in out
    assert "no-session" in out
    damaged = session(dog, "2026-11-10", key=key)
    damaged.write_bytes(damaged.read_bytes().replace(b'"heartbeat"', b'"heArtbeat"', 1))
    assert run(["handover", "--to", str(to), "--zip"]) == Exit.DONE
    out = capsys.readouterr().out
    assert "damaged" in out
    assert str(tmp_path / "coach-home") not in out
    blocked = tmp_path / "file"
    blocked.write_text("")
    assert run(["handover", "--to", str(blocked)]) == Exit.BAD_INPUT
    with pytest.raises(SystemExit):
        run(["handover", "--since", "yesterday"])
    assert "such as 2026-11-01" in capsys.readouterr().err
