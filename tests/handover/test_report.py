"""The report read back: its words by pypdf, its picture by PDFium."""

import hashlib
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from pypdf import PdfReader

from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.handover.recheck import recheck
from coach.handover.report import report_pdf
from coach.journal.diary_entries import AfterSession, Correction
from coach.journal.signing import DeviceKey
from tests.handover.conftest import MADE
from tests.handover.dogs import said, session
from tests.handover.weeks import weeks

# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
SIZES = {"A4": (595, 842), "Letter": (612, 792)}


def handed(folder: Path, key: DeviceKey, to: Path, paper: str = "A4") -> Path:
    made = Made(at=MADE.at, program=MADE.program, paper=paper)
    return write_handover(folder, to, made=made, signer=key, with_names=True, zipped=False).path


def words(path: Path) -> str:
    """All the text, with single blanks."""
    pages = PdfReader(path / "report.pdf").pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_three_weeks_fit_on_one_page_with_every_figure_of_the_summary(
    paper: str, key: DeviceKey, tmp_path: Path
) -> None:
    weeks(tmp_path / "barnaby", key)
    folder = handed(tmp_path / "barnaby", key, tmp_path, paper)
    (page,) = PdfReader(folder / "report.pdf").pages
    assert (round(page.mediabox.width), round(page.mediabox.height)) == SIZES[paper]
    text = words(folder)
    summary: dict[str, Any] = json.loads((folder / "summary.json").read_text())
    for place in summary["places"]:
        assert f"{place['counted_s']:g}/{place['prescribed_s']:g}" in text
        assert f"{place['spots_complete']}/{place['spots']}" in text
        assert place["term"] in text
    # 2 a week for 3 weeks, then 1 a week for 6 (the plan).
    assert summary["course"]["whole_course"] == 12
    ics = (folder / "course.ics").read_bytes()
    assert ics.count(b"BEGIN:VEVENT") == 12
    # RFC 5545, 3.1: lines of at most 75 octets, ended by CRLF.
    assert max(map(len, ics.split(b"\r\n"))) <= 75
    for said_there in (
        "Look first: red skin after 2026-11-16; stopped for the dog on 2026-11-09, 2026-11-16;",
        # Nine were begun; one had 2 of 25 spots, one 9 of them, one a spot with the laser off.
        f"{summary['course']['due']} of 12 due so far, 9 begun (6 complete, 3 in part",
        "peak 400 mW, duty 0.5",
        "Barnaby, 38 kg",
        "demo-big-hips, revision 1",
        "905 nm",
        "200 mW mean",
        "coached, not measured",
        "2026-11-09 the dog was unhappy",
        "lip licking",
        "2026-11-16 red",
        "the laser was off",
        "Got up by himself afterwards.",
        "A: assessment (the vet's)",
        "P: plan (the vet's)",
        summary["record"]["sha256"],
        "date and signature of the vet",
    ):
        assert said_there in text, said_there
    # Nothing follows the two headings that are the vet's but the next heading.
    assert re.search(
        r"A: assessment \(the vet's\) P: plan \(the vet's\) date and signature of the vet: How it",
        text,
    )
    assert not re.search(r"\bmeasured (dose|energy|joules)", text)


def test_the_picture_keeps_within_the_paper_and_marks_tell_apart_in_black_and_white(
    key: DeviceKey, tmp_path: Path
) -> None:
    weeks(tmp_path / "barnaby", key)
    folder = handed(tmp_path / "barnaby", key, tmp_path)
    summary = json.loads((folder / "summary.json").read_text())

    def picture(share: float) -> np.ndarray[Any, Any]:
        """The page with every spot given to this share, as grey values."""
        for spot in summary["spots"]:
            spot["counted_s"] = spot["prescribed_s"] * share
        with pypdfium2.PdfDocument(report_pdf(summary)) as pdf:
            pixels: np.ndarray[Any, Any] = np.asarray(
                pdf[0].render(scale=2, grayscale=True).to_pil()
            )
        return pixels

    whole, part, none = picture(1.0), picture(0.5), picture(0.0)
    edge = round(2 * 72 / 25.4 * 8)
    inked = whole < 250
    assert inked[edge:-edge, edge:-edge].sum() == inked.sum() > 20_000
    dark = [int((page < 128).sum()) for page in (whole, part, none)]
    # A filled mark has more ink than a half, and a half more than a ring with a thin cross.
    assert dark[0] > dark[1] + 500 > dark[2] + 500
    assert not np.array_equal(part, none)


def test_the_same_summary_gives_the_same_bytes_in_any_process(
    key: DeviceKey, tmp_path: Path
) -> None:
    session(tmp_path / "pip", "2026-11-10", key=key)
    folder = handed(tmp_path / "pip", key, tmp_path)
    assert recheck(folder).findings == ()
    program = (
        "import hashlib, json, sys; from coach.handover.report import report_pdf; "
        "print(hashlib.sha256(report_pdf(json.load(open(sys.argv[1])))).hexdigest())"
    )
    other = subprocess.run(
        [sys.executable, "-c", program, folder / "summary.json"],
        env={**os.environ, "PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland"},
        capture_output=True,
        text=True,
        check=True,
    )
    here = hashlib.sha256((folder / "report.pdf").read_bytes()).hexdigest()
    assert other.stdout.strip() == here


def test_what_is_wrong_stands_on_its_face_and_the_rest_goes_on(
    key: DeviceKey, tmp_path: Path
) -> None:
    dog = tmp_path / "pip"
    damaged = session(dog, "2026-11-10", key=key)
    session(dog, "2026-11-11", key=key, close=False)
    session(dog, "2026-11-12", key=key)
    lines = damaged.read_bytes().splitlines(keepends=True)
    lines[8] = lines[8].replace(b"given_ns", b"given_nS")
    damaged.write_bytes(b"".join(lines))
    (dog / "journals" / "000004-20261113T190000-demo-r1.jsonl").write_bytes(b"\0noise")
    (dog / "plan.toml").write_text("coach_plan = 1\n[plan]\n")
    text = words(handed(dog, key, tmp_path))
    assert "Look first: the record: " in text
    assert "damaged: line 9" in text
    assert "NOT READ" in text
    assert "the plan is not used" in text
    assert "3 counted of 4 logged" in text
    assert str(tmp_path) not in text


def test_no_session_yet_is_said(key: DeviceKey, tmp_path: Path) -> None:
    (tmp_path / "pip").mkdir()
    text = words(handed(tmp_path / "pip", key, tmp_path))
    assert "No session that counts: nothing was given." in text
    assert "0 counted of 0 logged" in text


@pytest.mark.long
def test_letters_of_any_script_and_notes_of_any_length_print_or_are_told(
    key: DeviceKey, tmp_path: Path
) -> None:
    dog = tmp_path / "dog"
    name = "Žofie Ёлка שלום 🐕"
    paths = [session(dog, f"2026-11-{day}", dog=name, key=key) for day in range(10, 18)]
    for path in paths:
        said(dog, AfterSession(session=path.stem, words="Wort " * 390), dog=name)
        entry = Correction(session=path.stem, what="note", text="ⴰabc﷽ " * 280)
        said(dog, entry, dog=name)
    folder = handed(dog, key, tmp_path)
    text = words(folder)
    assert "Žofie Ёлка" in text
    assert ":dog2:" in text
    assert "are written out in Latin letters" in text
    assert "and 5 more in sessions.csv" in text
    assert len(PdfReader(folder / "report.pdf").pages) <= 2
    assert json.loads((folder / "summary.json").read_text())["dog"]["name"] == name


def test_what_went_wrong_stands_first(key: DeviceKey, tmp_path: Path) -> None:
    path = session(tmp_path / "barnaby", "2026-11-10", key=key)
    said(tmp_path / "barnaby", AfterSession(session=path.stem, went_wrong="eye"))
    folder = handed(tmp_path / "barnaby", key, tmp_path)
    (wrong,) = json.loads((folder / "summary.json").read_text())["went_wrong"]
    assert (wrong["session"], wrong["what"], wrong["spot"]) == (path.stem, "eye", None)
    text = words(folder)
    title, after = text.split("WENT WRONG. 2026-11-10 light in an eye", 1)
    assert len(title) < 80
    assert "Prescribed" not in title
    assert after


@pytest.mark.parametrize(
    ("power_uw", "says"),
    [(50_000, "50 mW mean (measured 2026-11-01)"), (500_000, "500 mW mean as stated")],
)
def test_the_power_that_was_gone_by_is_named_and_the_irradiance_shown(
    power_uw: int, says: str, key: DeviceKey, tmp_path: Path
) -> None:
    """500 mW stated, 50 mW measured: whichever joules are computed with, it is called so."""
    laser = {
        "label": "invented laser",
        "wavelength_nm": ["905"],
        "mean_power_uw": power_uw,
        "beam_area_um2": 50_000_000,
        "output_check": {"measured_power_uw": 50_000, "on": "2026-11-01"},
    }
    session(tmp_path / "pip", "2026-11-20", key=key, header={"laser": laser})
    text = words(handed(tmp_path / "pip", key, tmp_path))
    assert says in text
    # Over 0.5 cm2.
    assert f"0.5 cm2 at the skin, {power_uw // 500} mW/cm2" in text
