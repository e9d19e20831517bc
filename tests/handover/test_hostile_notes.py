"""Hostile words of a household in everything that leaves the house: PDF, QR, ICS, CSV, FHIR."""

import csv
import io
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from coach.handover.anonymise import Names
from coach.handover.dog_case import read_case
from coach.handover.folder import write_handover
from coach.handover.qr_code import session_texts
from coach.handover.recheck import recheck
from coach.journal.diary_entries import AfterSession, Correction
from coach.journal.signing import DeviceKey
from tests.e2e.virtual import TODAY
from tests.handover.conftest import MADE
from tests.handover.dogs import PLAN, said, session

NOTES = [
    '=HYPERLINK("http://x.invalid")\x1b[2J\x07\x00',
    'line\r\nBEGIN:VEVENT\r\nUID:evil\r\nEND:VEVENT\nnext, "quoted"; \\n',
    "</text><script>alert(1)</script>&amp;{{7*7}}${x}%s%n",
    "\u202e\u2066\u200f\ufeff\u2028\u0301" + "\U0001f415" * 50 + "\u05e9\u05dc\u05d5\u05dd",
    "x" * 400,
]


@pytest.mark.long
@pytest.mark.parametrize("note", NOTES)
def test_hostile_notes_stay_words(dog: Path, key: DeviceKey, tmp_path: Path, note: str) -> None:
    plan = PLAN.replace('"Juniper"', '"Pip"').replace('"demo-long-back"', '"demo"')
    (dog / "plan.toml").write_text(plan)
    path = session(dog, "2026-11-10", key=key, helper=note[:40])
    said(
        dog,
        AfterSession(session=path.stem, skin="warm", note=note),
        Correction(session=path.stem, what="note", note=note),
    )
    made = replace(MADE, fhir=True)
    done = write_handover(dog, tmp_path, made=made, signer=key, with_names=True, zipped=False)
    assert recheck(done.path, key=key.public_key).findings == ()
    assert (done.path / "report.pdf").read_bytes().startswith(b"%PDF")
    bundle = json.loads((done.path / "fhir.json").read_bytes())
    assert bundle["resourceType"] == "Bundle"
    ics = (done.path / "course.ics").read_bytes().decode()
    assert "UID:evil" not in re.split(r"\r\n", ics)
    assert ics.count("BEGIN:VEVENT") == ics.count("\r\nBEGIN:VEVENT\r\n")
    for name in ("spots.csv", "sessions.csv"):
        text = (done.path / name).read_text(encoding="utf-8")
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
        assert all(None not in row for row in rows)
        assert not any(cell.startswith("=") for row in rows for cell in row.values())
    (one,) = read_case(dog, today=TODAY).sessions
    assert all(session_texts(one, Names()))
