"""Five courses on paper: what stands first, and that no text lies over another or off the page."""

import datetime
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from coach.handover.anonymise import Names
from coach.handover.build_info import Record
from coach.handover.dog_case import read_case
from coach.handover.page import MARGIN_MM
from coach.handover.pictures import STEPS, step_of
from coach.handover.report import report_pdf
from coach.handover.summary import summary_of
from coach.handover.summary_json import SummaryJson
from coach.journal.diary_entries import AfterSession, Correction, FunctionScore
from coach.journal.signing import DeviceKey
from tests.handover.conftest import MADE
from tests.handover.dogs import PLAN, said, session

FIRST = datetime.date(2026, 11, 2)
POINTS_A_MM = 72 / 25.4
Make = Callable[[Path, DeviceKey], None]


def _held(folder: Path, key: DeviceKey, days: tuple[int, ...], **how: Any) -> list[Path]:
    folder.mkdir(parents=True)
    plan = PLAN.replace('"Juniper"', '"Pip"').replace('"demo-long-back"', '"demo"')
    (folder / "plan.toml").write_text(plan)
    return [
        session(folder, (FIRST + datetime.timedelta(days=day)).isoformat(), key=key, **how)
        for day in days
    ]


def perfect(folder: Path, key: DeviceKey) -> None:
    # Three a week for two weeks, then two a week: as the plan has it, 9 due by 25 November of 10.
    for path in _held(folder, key, (0, 2, 4, 7, 9, 11, 14, 17, 21)):
        said(folder, AfterSession(session=path.stem, skin="fine", tolerance_0_10=9))


def too_few(folder: Path, key: DeviceKey) -> None:
    _held(folder, key, (0, 9))


def too_many(folder: Path, key: DeviceKey) -> None:
    _held(folder, key, tuple(range(22)))


def unhappy(folder: Path, key: DeviceKey) -> None:
    signs = [{"spot": 1, "signals": ["lip_licking", "yawning"], "outcome": "went_on"}]
    news = [{"point": "worse", "answer": "yes", "outcome": "vet_not_asked"}]
    paths = _held(folder, key, (0, 2, 4), stop_after=2, signals=signs, news=news)
    for number, path in enumerate(paths):
        answer = AfterSession(
            session=path.stem, skin="red", tolerance_0_10=2, words="He would not lie down. " * 9
        )
        score = FunctionScore(score_0_10=4 - number, activities={"stairs": 1, "the sofa": 2})
        off = Correction(session=path.stem, spot=1, what="laser_was_off", text="the cable " * 9)
        said(folder, answer, score, off)


def broken(folder: Path, key: DeviceKey) -> None:
    (path, *_) = _held(folder, key, (0, 2, 4))
    lines = path.read_bytes().splitlines(keepends=True)
    lines[8] = lines[8].replace(b"given_ns", b"given_nS")
    path.write_bytes(b"".join(lines))
    (folder / "journals" / "000004-20261109T190000-demo-r1.jsonl").write_bytes(b"\0noise")


COURSES: dict[str, tuple[Make, str]] = {
    "perfect": (perfect, "Nothing to look at first."),
    "too_few": (too_few, "Look first: 7 sessions fewer than due."),
    "too_many": (too_many, "Look first: 12 sessions beyond the course; 13 sessions more than due."),
    "unhappy": (
        unhappy,
        "Look first: red skin after 2026-11-02, 2026-11-04, 2026-11-06; stopped for the dog on",
    ),
    "broken": (broken, "the record: "),
}


def summary_in(folder: Path) -> SummaryJson:
    """The summary of a dog's folder, through JSON as it is handed over."""
    case = read_case(folder, today=datetime.date(2026, 11, 25))
    made = json.dumps(summary_of(case, MADE, Names(), Record(sha256="0" * 64)))
    found: SummaryJson = json.loads(made)
    return found


def boxes(pdf: bytes) -> list[list[tuple[float, float, float, float, str]]]:
    """Left, bottom, right, top and text of every line of text, page by page, in points."""
    pages = []
    with pypdfium2.PdfDocument(pdf) as read:
        for page in read:
            text = page.get_textpage()
            rects = [text.get_rect(number) for number in range(text.count_rects())]
            pages.append([(*rect, text.get_text_bounded(*rect)) for rect in rects])
    return pages


def overlaps(pdf: bytes) -> list[tuple[str, str]]:
    """Pairs of texts that lie over each other by more than a hair (0.4 mm both ways)."""
    hair = 0.4 * POINTS_A_MM
    found = []
    for page in boxes(pdf):
        for number, (l1, b1, r1, t1, one) in enumerate(page):
            for l2, b2, r2, t2, other in page[number + 1 :]:
                wide, tall = min(r1, r2) - max(l1, l2), min(t1, t2) - max(b1, b2)
                if wide > hair and tall > hair:
                    found.append((one, other))
    return found


@pytest.mark.parametrize("name", COURSES)
def test_what_matters_stands_first_and_nothing_lies_over_anything(
    name: str, key: DeviceKey, tmp_path: Path
) -> None:
    make, first = COURSES[name]
    make(tmp_path / "pip", key)
    summary = summary_in(tmp_path / "pip")
    pdf = report_pdf(summary)
    with pypdfium2.PdfDocument(pdf) as read:
        whole = " ".join(" ".join(p.get_textpage().get_text_range().split()) for p in read)
        size = read[0].get_size()
    assert first in whole
    # Subjective, objective, assessment, plan.
    order = [whole.index(text) for text in ("S: what", "O: given", "A: assess", "P: plan (the")]
    assert order == sorted(order)
    assert order[0] > whole.index(first[:11])
    assert overlaps(pdf) == []
    edge = (MARGIN_MM - 1) * POINTS_A_MM
    for page in boxes(pdf):
        for left, bottom, right, top, text in page:
            assert left >= edge, text
            assert right <= size[0] - edge, text
            assert bottom >= edge - 4 * POINTS_A_MM, text
            assert top <= size[1] - edge + 4 * POINTS_A_MM, text


def test_two_texts_in_one_place_are_found(key: DeviceKey, tmp_path: Path) -> None:
    from coach.handover.page import Page

    page = Page("A4", made_at=datetime.datetime.fromisoformat(MADE.at), title="two")
    for text in ("Look first", "Nothing"):
        page.set_xy(30, 30)
        page.lines(text)
    assert len(overlaps(bytes(page.output()))) == 1


def test_spots_are_shown_in_six_steps() -> None:
    shares = (0, 0.01, 0.25, 0.3, 0.5, 0.6, 0.75, 0.9, 0.9995, 1, 1.04, 1.05, 2)
    assert [step_of(share) for share in shares] == [0, 1, 1, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5]
    assert [step_of(share) for share, _ in STEPS] == [0, 1, 2, 3, 4, 5]
