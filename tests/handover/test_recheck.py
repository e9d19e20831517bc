"""``coach verify`` on a handover: every changed figure is found and named."""

import csv
import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.folder import write_handover, write_manifest
from coach.handover.recheck import recheck
from coach.journal.diary_entries import AfterSession, Correction, FunctionScore
from coach.journal.signing import DeviceKey
from tests.handover.conftest import MADE
from tests.handover.dogs import PLAN, said, session

pytestmark = pytest.mark.usefixtures("plain_report")


@pytest.fixture
def handover(dog: Path, key: DeviceKey, tmp_path: Path) -> Path:
    """A handover with something of everything."""
    # The plan under which the sessions of tests/worlds.py are held.
    plan = PLAN.replace('"Juniper"', '"Pip"').replace('"demo-long-back"', '"demo"')
    (dog / "plan.toml").write_text(plan)
    one = session(dog, "2026-11-10", key=key, helper="Alex")
    two = session(dog, "2026-11-12", key=key, stop_after=3)
    said(
        dog,
        AfterSession(session=one.stem, skin="warm", tolerance_0_10=7),
        FunctionScore(score_0_10=6, activities={"stairs": 3}),
        Correction(session=two.stem, spot=2, what="laser_was_off"),
    )
    return write_handover(dog, tmp_path, made=MADE, signer=key, with_names=True, zipped=False).path


def test_as_written_it_agrees_also_when_zipped_and_without_names(
    handover: Path, dog: Path, key: DeviceKey, capsys: pytest.CaptureFixture[str]
) -> None:
    assert recheck(handover, key=key.public_key).findings == ()
    for names, zipped in ((True, True), (False, False), (False, True)):
        path = write_handover(
            dog, handover.parent, made=MADE, signer=key, with_names=names, zipped=zipped
        ).path
        assert run(["verify", str(path)]) == Exit.DONE, capsys.readouterr().out
    assert "every figure agrees" in capsys.readouterr().out
    assert run(["verify", "--json", str(handover), "--key", "0" * 64]) == Exit.NOT_WHOLE
    (told,) = json.loads(capsys.readouterr().out)["handovers"]
    assert "ANOTHER KEY" in told["findings"][0]


def resigned(folder: Path) -> None:
    """A careful cheat lists and signs what was changed anew, with a key of their own."""
    (folder / "manifest.json").unlink()
    write_manifest(folder, DeviceKey(Ed25519PrivateKey.generate().private_bytes_raw()))


@pytest.mark.parametrize("name", ["spots.csv", "sessions.csv"])
def test_every_figure_of_the_tables_that_is_changed_is_named(handover: Path, name: str) -> None:
    path = handover / name
    table = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
    for row in table[1:]:
        row[:] = [f"{cell}1" for cell in row]
    text = io.StringIO(newline="")
    csv.writer(text).writerows(table)
    path.write_bytes(text.getvalue().encode())
    findings = recheck(handover).findings
    for number in range(2, len(table) + 1):
        for heading in table[0]:
            place = f"{name}:{number}: {heading}: found "
            assert any(text.startswith(place) for text in findings), place


def numbers(value: object, place: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
    """The places of all numbers in decoded JSON."""
    if isinstance(value, dict):
        return [p for key, item in value.items() for p in numbers(item, (*place, key))]
    if isinstance(value, list):
        return [p for number, item in enumerate(value) for p in numbers(item, (*place, number))]
    return [place] if isinstance(value, int | float) and not isinstance(value, bool) else []


def test_every_number_of_the_summary_that_is_changed_is_found(handover: Path) -> None:
    path = handover / "summary.json"
    changed = json.loads(path.read_text())
    places = [place for place in numbers(changed) if place != ("handover",)]
    assert len(places) > 60
    for place in places:
        item = changed
        for step in place[:-1]:
            item = item[step]
        item[place[-1]] += 1
    path.write_text(json.dumps(changed))
    findings = recheck(handover).findings
    for place in places:
        named = "".join(f"[{s + 1}]" if isinstance(s, int) else f".{s}" for s in place)
        assert any(f"summary.json: {named[1:]}: found " in text for text in findings), place


@pytest.mark.parametrize(
    ("what", "change", "told"),
    [
        ("a journal", "journals/*", "the logs, the diary or the plan were changed"),
        ("the diary", "diary.jsonl", "the logs, the diary or the plan were changed"),
        ("the plan", "plan.toml", "the logs, the diary or the plan were changed"),
        ("the report", "report.pdf", "report.pdf: differs from the report"),
        ("the days", "course.ics", "course.ics: event "),
        ("what is what", "README.txt", "README.txt:1: differs"),
    ],
)
def test_a_cheat_who_signs_anew_is_found_by_the_logs_and_by_the_key(
    handover: Path, key: DeviceKey, what: str, change: str, told: str
) -> None:
    path = next(iter(sorted(handover.glob(change))))
    was, now = (
        (b"STATUS:CONFIRMED", b"STATUS:CANCELLED") if change == "course.ics" else (b"o", b"0")
    )
    path.write_bytes(path.read_bytes().replace(was, now, 1))
    assert any("changed since" in text for text in recheck(handover).findings)
    resigned(handover)
    found = recheck(handover, key=key.public_key).findings
    assert any("ANOTHER KEY" in text for text in found)
    assert any(told in text for text in found), found


def removed(folder: Path) -> None:
    (folder / "spots.csv").unlink()


def added(folder: Path) -> None:
    (folder / "journals" / "more.txt").write_text("?")


def unlisted(folder: Path) -> None:
    (folder / "manifest.json").unlink()


def noise(folder: Path) -> None:
    (folder / "summary.json").write_bytes(b"\xff[" * 500)


def cut(folder: Path) -> None:
    path = sorted((folder / "journals").iterdir())[0]
    path.write_bytes(path.read_bytes()[:-90])


@pytest.mark.parametrize(
    ("harm", "told"),
    [
        (removed, "spots.csv: in the list, but missing"),
        (added, "journals/more.txt: not in the list"),
        (unlisted, "manifest.json: missing"),
        (noise, "summary.json: "),
        (cut, "the journal before it has changed since"),
    ],
)
def test_what_is_missing_or_too_much_is_told(
    handover: Path, harm: Callable[[Path], None], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    harm(handover)
    assert run(["verify", str(handover)]) == Exit.NOT_WHOLE
    assert told in capsys.readouterr().out


def test_a_zip_that_leads_out_of_itself_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "evil.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("../../outside.txt", "x")
    assert "leads out of it" in recheck(path).findings[0]
    assert not (tmp_path.parent / "outside.txt").exists()
    path.write_bytes(b"no zip")
    assert "cannot be read" in recheck(path).findings[0]


def test_without_names_the_tables_are_held_against_each_other(
    handover: Path, dog: Path, key: DeviceKey
) -> None:
    folder = write_handover(
        dog, handover.parent, made=MADE, signer=key, with_names=False, zipped=False
    ).path
    path = folder / "spots.csv"
    path.write_bytes(path.read_bytes().replace(b",40,given", b",41,given", 1))
    assert any("sessions.csv:2: given_s: found 140" in text for text in recheck(folder).findings)
