"""The README's table of what whoever owns the disk can do unnoticed: row by row as it is."""

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.folder import write_handover
from coach.handover.recheck import recheck
from coach.journal.closed_index import NAME
from coach.journal.diary import NAME as DIARY
from coach.journal.diary_entries import FunctionScore
from coach.journal.signing import DeviceKey, device_key
from coach.paths import device_key_file
from coach.record.course_tally import Sums
from coach.record.summary_cache import summary_of
from tests.handover.conftest import MADE
from tests.handover.dogs import said, session
from tests.handover.test_tamper import (
    DAYS,
    Home,
    edited,
    edited_by_a_stranger,
    flipped,
    line_removed,
    list_removed,
    middle_removed,
    newest_edited_unsigned,
    newest_removed,
    renumbered,
    repair_forged,
    replayed,
    slipped_in,
    tables_edited,
)

pytestmark = pytest.mark.usefixtures("plain_report")
ROOT = Path(__file__).parents[2]


def end_forgotten(home: Home) -> None:
    home.logs[3].unlink()
    lines = (home.journals / NAME).read_bytes().splitlines(keepends=True)
    (home.journals / NAME).write_bytes(b"".join(lines[:-1]))


def older_folder(home: Home) -> None:
    kept = home.folder.with_name("kept")
    shutil.copytree(home.journals, kept)
    session(home.folder, "2026-11-18", key=device_key(device_key_file()))
    shutil.rmtree(home.journals)
    kept.rename(home.journals)


def invented_with_the_key(home: Home) -> None:
    session(home.folder, "2026-11-18", key=device_key(device_key_file()))


def diary_written_anew(home: Home) -> None:
    said(home.folder, FunctionScore(score_0_10=2))
    (home.folder / DIARY).unlink()
    said(home.folder, FunctionScore(score_0_10=9))


def handover_edited(home: Home) -> None:
    done = handed(home)
    tables_edited(done)


def handed(home: Home) -> Path:
    key = device_key(device_key_file())
    to = home.folder.parents[2] / "handed"
    return write_handover(
        home.folder, to, made=MADE, signer=key, with_names=True, zipped=False
    ).path


# What is done, by the words of the README; whether it is told.
ROWS: dict[str, tuple[tuple[Callable[[Home], None], ...], bool]] = {
    "changes, drops or adds lines of a log": ((flipped, line_removed), True),
    "writes a log anew, unsigned or signed with another key": (
        (edited_by_a_stranger, newest_edited_unsigned),
        True,
    ),
    "copies a session under another number, or renames it": ((replayed, renumbered), True),
    "takes a log away: the first, one between, the newest": (
        (lambda home: home.logs[0].unlink(), middle_removed, newest_removed),
        True,
    ),
    "slips in a log, or takes the list away": ((slipped_in, list_removed), True),
    "passes off a log as a repaired one": ((repair_forged,), True),
    "changes a handover, its tables, logs or list": ((handover_edited,), True),
    "takes the newest logs away, and the end of the list with them": ((end_forgotten,), False),
    "puts back the whole folder as it was some sessions ago": ((older_folder,), False),
    "signs what never was, with the device's own key": ((invented_with_the_key,), False),
    "writes the diary anew, before it is handed over": ((diary_written_anew,), False),
}
ACTS = [(row, act, told) for row, (acts, told) in ROWS.items() for act in acts]


@pytest.fixture
def home(dog: Path, key: DeviceKey) -> Home:
    return Home(dog, [session(dog, day, key=key) for day in DAYS])


@pytest.mark.parametrize(("row", "act", "told"), ACTS)
def test_the_row_is_true(
    home: Home, key: DeviceKey, row: str, act: Callable[[Home], None], told: bool
) -> None:
    act(home)
    handed_over = home.folder.parents[2] / "handed"
    path = next(handed_over.iterdir()) if handed_over.exists() else handed(home)
    found = recheck(path, key=key.public_key).findings
    on_device = run(["verify"])
    if act is handover_edited:
        assert found
        assert on_device == Exit.DONE
        return
    assert bool(found) == told, found
    assert (on_device == Exit.NOT_WHOLE) == told


def test_the_table_of_the_readme_is_this_one() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    table = text.split("whoever owns the disk", 1)[1].split("\n\n", 1)[0]
    rows = dict(re.findall(r"^\| ([^|]+?) +\| (told|\*\*not told\*\*)", table, re.MULTILINE))
    assert {row: told == "told" for row, told in rows.items()} == {
        row: told for row, (_acts, told) in ROWS.items()
    }


def test_what_the_cache_trusts_is_size_and_time_and_verify_looks_further(home: Home) -> None:
    """The README's words on the summary: a cache that lies is found by verify, then made anew."""
    kept = home.folder / "summary"
    before = summary_of(home.journals, kept=kept).sums("Pip")
    assert before != Sums()
    edited(home.logs[3], device_key(device_key_file()))
    assert summary_of(home.journals, kept=kept).sums("Pip") != before
