"""What the record keeps and tells, against what went in: header, corrections, diary, tallies."""

import dataclasses
import errno
import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from coach.body.site import Site
from coach.journal import diary
from coach.journal import repair as repairing
from coach.journal.diary import DiaryError, diary_files, read_diary, write_entry
from coach.journal.diary_entries import AfterSession, Correction, Entry
from coach.journal.disk import held_by
from coach.journal.header import header_of
from coach.journal.journal import Journal, JournalUnreadable, read_journal, scan_journal
from coach.journal.journal_lines import Scan
from coach.journal.repair import repair
from coach.plan.files import PlanFile
from coach.plan.spots import Spot, spots_in
from coach.record.corrections import corrected, lines_at
from coach.record.course_tally import Sums, course_of
from coach.record.tally import LeftSpot, SessionTally, tally_of
from coach.record.verify import LIMITS, verify, verify_all, verify_json, verify_lines
from coach.reports.course_text import over_lines
from coach.reports.session_text import course_lines, report_lines
from coach.session import commands as cmd
from coach.session.machine import Options
from coach.units import NS_PER_S
from tests.plan.worlds import PLAN, PLANS, read
from tests.record.conftest import MakeJournal
from tests.record.test_tally import session
from tests.record.test_what_is_named import FailingDisk
from tests.worlds import Clock, Lines, QuickDisk, header_for, spots_for

S = NS_PER_S
STAMP = Clock().stamp
DOG = "Prinz Otto"
ENTRY = AfterSession(session="000001-x", skin="fine")


# The header


def test_a_header_gives_back_every_spot_and_what_the_plan_said() -> None:
    plan_file = PlanFile(path=PLANS / "spine.toml", plan=read(PLAN), digest="cd" * 32)
    one = Spot(
        index=0,
        region="stifle",
        side="left",
        aspect="medial",
        number=1,
        of=2,
        hold_ns=40 * S,
        move_ns=11 * S,
        settle=True,
        note="slowly",
        position="right lateral",
        turn_ns=3 * S,
    )
    two = dataclasses.replace(one, index=1, side="right", aspect=None, number=2, hold_ns=7 * S)
    options = Options(advance="wait", laser_button=True, repeats_allowed=2)
    header = header_of(
        plan_file,
        (one, two),
        options,
        version="1.2",
        rehearsal=True,
        left_for_next=(two,),
    )
    # As a journal keeps it.
    told = json.loads(json.dumps(header))
    assert spots_in(told["spots"]) == (one, two)
    assert told["options"] == {
        name: getattr(options, name)
        for name in ("advance", "laser_button", "repeats_allowed", "owner_sits")
    }
    tally = tally_of(Lines(told).lines)
    assert (tally.program, tally.rehearsal) == ("1.2", True)
    # What stands in the plan of tests/plan/worlds.py.
    assert (tally.plan_id, tally.plan_revision, tally.plan_digest) == ("spine", 3, "cd" * 32)
    assert tally.prescriber == "Dr. Ada Muster (invented)"
    assert (tally.dog, tally.weight_kg) == ("Juniper", "9.5")
    assert (tally.power_uw, tally.beam_area_um2) == (100_000, 50_000_000)
    assert tally.left_for_next == (
        LeftSpot(site=Site("stifle", "right", None, 2), of=2, planned_ns=7 * S),
    )
    assert [(s.settle, s.note, s.of, s.aspect) for s in tally.spots] == [
        (True, "slowly", 2, "medial"),
        (True, "slowly", 2, None),
    ]


# Corrections


def one_side() -> SessionTally:
    """Two spots on the left, 30 s each, held whole and 12 s, with a pause and a repeat."""
    spots = tuple(
        dataclasses.replace(spot, side="left", number=spot.index + 1, of=2)
        for spot in spots_for((30, 30))
    )
    lines = Lines(header_for(spots))
    lines.add("session_started", {"at_ns": 0})
    for spot, seconds in enumerate((30, 12)):
        lines.add("hold_started", {"at_ns": 0, "spot": spot, "left_ns": 0})
        lines.add("paused", {"at_ns": 0, "spot": spot, "reason": "dog_moved"})
        lines.add("spot_again", {"at_ns": 0, "spot": spot})
        lines.add(
            "hold_ended", {"at_ns": 0, "spot": spot, "given_ns": seconds * S, "reason": "complete"}
        )
    return tally_of(lines.lines)


def test_what_went_to_a_side_that_was_not_planned_is_given_there() -> None:
    tally = one_side()
    then = corrected(tally, [Correction(session="s", what="wrong_side")], at_line=lambda _: None)
    assert then.effects == {0: {"wrong_side": 30 * S}, 1: {"wrong_side": 12 * S}}
    assert then.remarks == ()
    assert then.tally is not None
    told = [
        (s.index, s.side, s.number, s.planned_ns // S, s.given_ns // S, s.outcome, s.reason)
        for s in then.tally.spots
    ]
    assert told == [
        (0, "left", 1, 30, 0, "skipped", "wrong_side"),
        (1, "left", 2, 30, 0, "skipped", "wrong_side"),
        (2, "right", 1, 0, 30, "given", "wrong_side"),
        (3, "right", 2, 0, 12, "given", "wrong_side"),
    ]
    assert [(s.repeats, s.pauses) for s in then.tally.spots] == [
        (1, ("dog_moved",)),
        (1, ("dog_moved",)),
        (0, ()),
        (0, ()),
    ]


def test_a_line_stands_for_its_spot_and_what_points_at_nothing_is_told() -> None:
    lines: list[dict[str, Any]] = [
        {"seq": seq, "kind": "paused", "data": data}
        for seq, data in enumerate(({"spot": 1}, {}, {"spot": 0}), start=1)
    ]
    look = lines_at(lines)
    found = [look(number) for number in (0, 1, 2, 3, 4)]
    assert [at and at.spot for at in found] == [None, 1, None, 0, None]
    then = corrected(
        one_side(),
        [
            Correction(session="s", what="laser_was_off", line=1),
            Correction(session="s", what="laser_was_off", line=2),
            Correction(session="s", what="wrong_side", spot=3),
            Correction(session="s", what="note", spot=9),
        ],
        at_line=look,
    )
    assert then.effects == {1: {"laser_was_off": 12 * S}}
    assert then.remarks == (
        "a correction points at line 2, no spot of this session",
        "a correction points at spot 3, no spot of this session",
    )
    assert then.tally is not None
    assert [spot.given_ns // S for spot in then.tally.spots] == [30, 0]


# The diary


@pytest.mark.parametrize("call", ["create", "write", "sync", "lock"])
def test_a_diary_that_cannot_be_written_is_named_and_free_again(folder: Path, call: str) -> None:
    with pytest.raises(DiaryError) as failed:
        write_entry(folder, ENTRY, dog=DOG, stamp=STAMP, disk=FailingDisk(call))
    path = folder / "diary.jsonl"
    assert (failed.value.path, failed.value.errno) == (path, errno.EROFS)
    assert str(failed.value) == f"{path}: only to be read"
    assert held_by(folder) is None


def test_a_disk_that_takes_no_byte_of_a_diary_has_failed(folder: Path) -> None:
    write_entry(folder, ENTRY, dog=DOG, stamp=STAMP, disk=QuickDisk())
    before = read_diary(folder)
    with pytest.raises(DiaryError, match="nothing was written") as failed:
        write_entry(folder, ENTRY, dog=DOG, stamp=STAMP, disk=FailingDisk("write nothing"))
    assert failed.value.errno == errno.EIO
    assert read_diary(folder) == before


def test_what_cannot_be_used_of_a_diary_is_told_with_file_and_line(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Wrong(Entry):
        kind = "after_session"
        session: str = "s"
        tolerance_0_10: int = 99

    for entry in (ENTRY, Wrong(), ENTRY):
        write_entry(folder, entry, dog=DOG, stamp=STAMP, disk=QuickDisk())
    path = folder / "diary.jsonl"
    reading = read_diary(folder)
    assert [(told.path, told.line, told.entry) for told in reading.told] == [
        (path, 2, ENTRY),
        (path, 4, ENTRY),
    ]
    (remark,) = reading.remarks
    assert remark.startswith(f"{path}: line 3: not used: tolerance_0_10: found 99: ")
    with path.open("ab") as file:
        file.write(b'{"v":1')
    assert read_diary(folder).remarks[0] == (
        f"{path}: line 5: 6 bytes of a line that was cut while it was written are set aside"
    )
    size = path.stat().st_size - 6
    monkeypatch.setattr(diary, "MOST_BYTES", size)
    assert len(read_diary(folder).told) == 2
    monkeypatch.setattr(diary, "MOST_BYTES", size - 1)
    (remark,) = read_diary(folder).remarks
    assert remark.startswith(f"{path}: not read: ")
    assert "more than 0 MiB" in remark


def test_damaged_diaries_are_kept_under_numbers_that_go_on(folder: Path) -> None:
    folder.mkdir()
    (folder / "diary-damaged-0007.jsonl").write_bytes(b"older")
    (folder / "diary.jsonl").write_bytes(b"cat")
    write_entry(folder, ENTRY, dog=DOG, stamp=STAMP, disk=QuickDisk())
    assert [path.name for path in diary_files(folder)] == [
        "diary-damaged-0007.jsonl",
        "diary-damaged-0008.jsonl",
        "diary.jsonl",
    ]
    reading = read_diary(folder)
    assert (reading.dog, reading.entries) == (DOG, (ENTRY,))
    assert [remark.split(": ")[:2] for remark in reading.remarks] == [
        [str(folder / f"diary-damaged-000{n}.jsonl"), "not read"] for n in (7, 8)
    ]


# What verification tells


def test_all_that_was_found_of_a_journal_is_in_the_json(make_journal: MakeJournal) -> None:
    path = make_journal(closed=False)
    raw = path.read_bytes()
    count = len(raw.splitlines())
    path.write_bytes(raw + b'{"v":1')
    (told,) = verify_json(verify_all([path]))["journals"]
    assert told == {
        "path": str(path),
        "verdict": "not_closed",
        "lines": count,
        "damaged_line": None,
        "findings": [],
        "remarks": [f"line {count + 1}: 6 bytes of a line that was cut are set aside"],
        "signature": "none",
        "public_key": None,
    }
    path.write_bytes(raw[:-1])
    (told,) = verify_json(verify_all([path]))["journals"]
    assert (told["verdict"], told["remarks"]) == ("damaged", [])
    assert told["findings"] == ["the last line lacks its line end"]
    path.write_bytes(b"cat\n")
    (told,) = verify_json(verify_all([path]))["journals"]
    assert (told["verdict"], told["lines"], told["damaged_line"]) == ("unreadable", 0, 1)
    assert told["findings"] == [
        "found something else; allowed: the first line of a session journal"
    ]
    every = verify_json([])
    assert every == {"schema": 1, "journals": [], "limits": list(LIMITS)}


def test_a_repaired_journal_is_told_as_such_and_is_whole(make_journal: MakeJournal) -> None:
    path = make_journal()
    path.write_bytes(path.read_bytes().replace(b'"given_ns":1000000000', b'"given_ns":1', 1))
    damaged = verify(path)
    assert damaged.damaged_line is not None
    result = verify(repair(path, disk=QuickDisk()).path)
    assert (result.verdict, result.damaged_line) == ("whole", None)
    assert result.remarks == (
        f"repaired from {path.name}, without its lines {damaged.damaged_line}",
    )
    assert "  whole: every line follows" in "\n".join(verify_lines([result]))
    told = " ".join(" ".join(report_lines(tally_of(read_journal(result.path).lines))).split())
    assert f"without its lines {damaged.damaged_line}; what was left out is not counted." in told


def test_a_journal_that_cannot_be_tallied_is_damaged(folder: Path) -> None:
    opened = Journal.create(
        folder, header=header_for(spots_for([10])), stamp=STAMP, disk=QuickDisk()
    )
    opened.append("hold_started", {"at_ns": 1, "spot": 7, "left_ns": 0})
    opened.append("hold_ended", {"at_ns": 1, "spot": 7, "given_ns": 1, "reason": "complete"})
    opened.close()
    result = verify(opened.path)
    assert result.verdict == "damaged"
    assert result.findings[0].startswith("line 3 cannot be tallied: IndexError")
    assert read_journal(opened.path).damage is None


# What is told of a session and of a course


def test_what_was_out_of_the_ordinary_is_told_of_a_session() -> None:
    lines = session([10, 20, 30, 40], (10, cmd.Stop("no_time")))
    lines.add("overruled", {"texts": ["it is too soon", "it is late"], "because": "the vet said"})
    lines.add("notice", {"what": "player_lost"})
    lines.add("session_closed", {"given_ns": [1 * S, 0, 0, 0]})
    told = " ".join(" ".join(report_lines(tally_of(lines.lines))).split())
    assert "Started by the owner although it is too soon; it is late: the vet said" in told
    assert "meanwhile: player lost" in told
    assert "DOES NOT FIT: the closing record does not agree with the lines before it" in told
    assert "lower back, left, spot 1 of 2: cut short (no time left), 2 of 10 s" in told
    assert (
        "3 spots not reached (no time left), from lower back, right, spot 1 of 2 to lower back, "
        "right, spot 2 of 2"
    ) in told
    assert told.count("not reached") == 1


def test_what_does_not_count_is_told_with_the_sums_of_what_does() -> None:
    once = tally_of(session([10, 20]).lines)
    rehearsed = tally_of(
        session([10, 20], header=header_for(spots_for([10, 20]), rehearsal=True)).lines
    )
    told = "\n".join(course_lines([once, rehearsed, once]))
    assert "REHEARSAL, laser off: nothing of this counts." in told
    together = told.partition("Pip: 2 sessions together")[2]
    assert "(1 not counted: rehearsed or never begun)" in together
    # Twice 10 s at 0.5 W on 1 cm2.
    rows = [line.split() for line in together.splitlines() if line.split()[:1] == ["left"]]
    assert rows == [["left", "2/2", "20/20", "10.00/10.00", "10.0/10.0"]]


def test_what_was_missed_over_the_course_is_told_with_its_reason() -> None:
    header = header_for(spots_for([10, 20]))
    header["left_for_next"] = [
        {"region": "lumbar", "side": "right", "aspect": None, "number": 2, "of": 2, "hold_ns": S}
    ]
    sums = Sums()
    sums.put(tally_of(session([10, 20], (30, cmd.Skip("sore")), header=header).lines))
    sums.put(tally_of(session([10, 20], (10, cmd.Stop("no_time"))).lines))
    course = course_of(sums)
    lines = over_lines("Pip", course, corrected={"laser_was_off": 1}, not_counted=2)
    told = " ".join(" ".join(lines).split())
    assert "Pip: 2 sessions over the course (2 not counted: rehearsed or never begun)" in told
    assert "Corrected afterwards in 1 session: the laser was off" in told
    # 10 + 4 and 2 + 0 of twice 30 s: 16 of 60 is 26.7 %.
    assert "Plan demo, revision 1: 2 sessions, 26 % of their seconds" in told
    assert "lower back: left 60 % of its plan, right 10 %" in told
    assert "lower back, left: 1 x cut short (no time left)" in told
    assert "lower back, right: 1 x skipped (sore)" in told
    assert "lower back, right: 1 x not reached (no time left)" in told
    assert "lower back, right: 1 x left for next time" in told
    assert "1 of 4 planned spots got at least 95 % of their seconds (25 %)." in told
    assert "The worst-off tenth of the spots (1) got 0 of 20 s." in told
    assert course.total.share == Fraction(16, 60)


def test_a_region_on_one_side_only_is_not_held_against_another() -> None:
    sums = Sums()
    sums.put(one_side())
    course = course_of(sums)
    assert [(side.side, side.part.given_ns // S) for side in course.sides] == [("left", 42)]
    assert course.evenness == ()


def test_where_the_beam_area_is_unknown_the_course_says_so() -> None:
    sums = Sums()
    sums.put(tally_of(session([10], beam_area_um2=None).lines))
    told = " ".join(
        " ".join(over_lines("Pip", course_of(sums), corrected={}, not_counted=0)).split()
    )
    assert "J/cm2 is blank where the beam area is unknown or was not always the same." in told
    assert "Not given as planned" not in told
    assert "left for next time" not in told


def test_who_treated_is_kept() -> None:
    lines = Lines(header_for(spots_for([10])))
    lines.add("helper", {"name": "Ada"})
    assert tally_of(lines.lines).helper == "Ada"


def test_a_file_that_shrinks_while_it_is_repaired_is_refused(
    make_journal: MakeJournal, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make_journal()
    lines = path.read_bytes().replace(b'"given_ns":1000000000', b'"given_ns":1', 1)
    path.write_bytes(lines)

    def shrinking(found: Path) -> Scan:
        scan = scan_journal(found)
        found.write_bytes(lines[:100])
        return scan

    monkeypatch.setattr(repairing, "scan_journal", shrinking)
    with pytest.raises(JournalUnreadable, match="a file that changes while it is read") as refused:
        repair(path, disk=QuickDisk())
    assert refused.value.path == path
    assert list(path.parent.glob("*-repaired-*")) == []
