"""What release 0.1.0 left on disks is read, verified and summed for ever.

`tests/data/0.1.0` was written by that release and is never made anew: a dog's folder after five
evenings of the real program (one with a pause and a skipped spot; one killed in a hold, carried on,
then given up; one that never began; one refused at the questions; one killed in a hold and left
open), and two handovers of invented weeks. Dog, people and laser are invented.
"""

import datetime
import json
import shutil
import zipfile
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from coach.handover.recheck import recheck
from coach.journal.diary import read_diary
from coach.journal.diary_entries import AfterSession, Correction, FunctionScore
from coach.journal.journal import journal_files, read_journal
from coach.plan.files import load_plan
from coach.record.dog_record import read_whole
from coach.record.tally import tally_of
from coach.record.verify import verify_all

OLD = Path(__file__).parent.parent / "data" / "0.1.0"
DOG = OLD / "juniper"
HANDOVERS = ("handover.zip", "handover-without-names.zip")
TODAY = datetime.date(2026, 11, 28)
# The key that signed the handovers; that of the dog's folder was made by the program.
KEY = "03a107bff3ce10be1d70dd18e74bc09967e4d6309ba50d5f1ddc8664125531b8"


def held_ns(path: Path) -> Counter[int]:
    """Nanoseconds a spot, counted without the program: ends of holds, else the last heartbeat."""
    held: Counter[int] = Counter()
    beat: tuple[int, int] | None = None
    for raw in path.read_bytes().splitlines():
        try:
            line: dict[str, Any] = json.loads(raw)
        except ValueError:
            # The line that was being written when the program was killed.
            continue
        data = line["data"]
        if line["kind"] == "heartbeat":
            beat = data["spot"], data["given_ns"]
        elif line["kind"] == "hold_ended":
            held[data["spot"]] += data["given_ns"]
            beat = None
        elif line["kind"] in ("session_resumed", "session_cut_off") and beat is not None:
            held[beat[0]] += beat[1]
            beat = None
    if beat is not None:
        held[beat[0]] += beat[1]
    return held


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The handover with its logs, as a folder."""
    folder = tmp_path_factory.mktemp("handover")
    with zipfile.ZipFile(OLD / HANDOVERS[0]) as archive:
        archive.extractall(folder)
    return folder


def test_the_sessions_of_0_1_0_hold(unpacked: Path) -> None:
    for folder, left_open in ((DOG / "journals", 1), (unpacked / "journals", 0)):
        results = verify_all(journal_files(folder))
        assert all(result.findings == () for result in results)
        closed = results[: len(results) - left_open]
        assert {(result.verdict, result.signature) for result in closed} == {("whole", "good")}
        cut = results[len(closed) :]
        assert [(one.verdict, one.signature) for one in cut] == [("not_closed", "none")] * left_open


def test_the_sessions_of_0_1_0_are_summed_by_their_own_header(unpacked: Path) -> None:
    paths = [*journal_files(DOG / "journals"), *journal_files(unpacked / "journals")]
    for path in paths:
        tally = tally_of(read_journal(path).lines)
        held = held_ns(path)
        assert [spot.given_ns for spot in tally.spots] == [
            held[index] for index in range(len(tally.spots))
        ]
        # 100 mW is 0.1 J a second: so many millionths of a nanojoule a nanosecond.
        assert tally.total().given_fj == sum(held.values()) * 100_000
    # 30 s at the top of the neck on each side, which the plan did not order in words.
    first = tally_of(read_journal(paths[0]).lines)
    assert [spot.planned_ns // 10**9 for spot in first.spots] == [30, 30, 6, 6, 6]
    assert [spot.settle for spot in first.spots] == [True, True, False, False, False]


def test_the_course_of_0_1_0_adds_up(tmp_path: Path) -> None:
    # A copy: what is read may leave a lock or a summary behind.
    shutil.copytree(DOG, tmp_path / "juniper")
    whole = read_whole(tmp_path / "juniper" / "journals", "Juniper", kept=None)
    held = sum((held_ns(path) for path in journal_files(DOG / "journals")), Counter[int]())
    # The household said that the laser was off on the fourth spot of the first session.
    first = journal_files(DOG / "journals")[0]
    off = held_ns(first)[3]
    assert off == 6 * 10**9
    given = sum(values[3] for values in whole.sums.places.values())
    assert given == sum(held.values()) - off


def test_the_diary_of_0_1_0_is_read(unpacked: Path) -> None:
    for folder in (DOG, unpacked):
        diary = read_diary(folder)
        assert diary.remarks == ()
        kinds = {type(entry) for entry in diary.entries}
        assert {AfterSession, Correction, FunctionScore} <= kinds


def test_the_plans_of_0_1_0_are_read(unpacked: Path) -> None:
    for folder, plan_id in ((DOG, "old-ways"), (unpacked, "demo-long-back")):
        assert load_plan(folder / "plan.toml", today=TODAY).plan.about.id == plan_id


@pytest.mark.parametrize("name", HANDOVERS)
def test_the_handovers_of_0_1_0_agree_with_themselves(name: str) -> None:
    result = recheck(OLD / name, key=KEY)
    assert result.findings == ()
    assert result.public_key == KEY


def test_a_changed_figure_in_a_handover_of_0_1_0_is_found(unpacked: Path, tmp_path: Path) -> None:
    folder = tmp_path / "changed"
    shutil.copytree(unpacked, folder)
    summary = json.loads((folder / "summary.json").read_text())
    summary["totals"]["given_s"] += 1
    (folder / "summary.json").write_text(json.dumps(summary))
    assert any("totals.given_s" in finding for finding in recheck(folder).findings)
