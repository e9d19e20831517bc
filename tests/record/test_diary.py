"""The diary of a dog on a real disk: what is written is read, whatever happens to the file."""

import json
import os
import random
import stat
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from coach.journal.diary import DiaryBusy, DiaryError, diary_files, read_diary, write_entry
from coach.journal.diary_entries import (
    ActivitiesNamed,
    AfterSession,
    Correction,
    Entry,
    FunctionScore,
    InstrumentTotal,
    LessonDone,
    activities_of,
    answers_of,
    entry_of,
)
from coach.journal.disk import Disk
from tests.sim.disk import Fault, PulledPlug, SimDisk
from tests.worlds import Clock, QuickDisk

CLOCK = Clock()
DOG = "Prinz Otto"
SESSION = "000012-20250101T190000-demo-r1"
ENTRIES: tuple[Entry, ...] = (
    ActivitiesNamed(activities=("stairs", "sofa", "getting up"), by="Ada"),
    FunctionScore(
        score_0_10=0,
        activities={"stairs": 0, "sofa": 4, "getting up": 2},
        total=InstrumentTotal(instrument="the clinic's own form", value=Decimal("3.50")),
    ),
    AfterSession(
        session=SESSION, skin="warm", tolerance_0_10=10, words="Slept.\nÄrmel 🐕", by="Bo"
    ),
    Correction(session=SESSION, line=7, spot=2, what="wrong_side", text="It was the right one."),
    LessonDone(right=2, of=3, by="Bo"),
)


def write(folder: Path, entry: Entry, disk: Disk | None = None, dog: str = DOG) -> None:
    write_entry(folder, entry, dog=dog, stamp=CLOCK.stamp, disk=disk or QuickDisk())


def test_every_entry_is_read_as_it_was_said_with_its_line_and_time(folder: Path) -> None:
    for entry in ENTRIES:
        write(folder, entry, Disk())
    reading = read_diary(folder)
    assert reading.entries == ENTRIES
    assert reading.remarks == ()
    assert reading.dog == DOG
    assert [told.line for told in reading.told] == [2, 3, 4, 5, 6]
    some = read_diary(folder, Correction, FunctionScore)
    assert some.told == (reading.told[1], reading.told[3])
    assert {(told.wall, told.trust) for told in reading.told} == {(CLOCK.wall, "synchronised")}
    assert stat.S_IMODE((folder / "diary.jsonl").stat().st_mode) == 0o600


def test_a_line_has_the_fields_that_others_read(folder: Path) -> None:
    for entry in ENTRIES:
        write(folder, entry)
    lines = [json.loads(line) for line in (folder / "diary.jsonl").read_bytes().splitlines()]
    assert [line["kind"] for line in lines] == [
        "diary_opened",
        "activities_named",
        "function_score",
        "after_session",
        "correction",
        "lesson_done",
    ]
    assert lines[2]["data"]["total"] == {"instrument": "the clinic's own form", "value": "3.50"}
    assert lines[3]["data"] == {
        "session": SESSION,
        "stop_reason": None,
        "skin": "warm",
        "tolerance_0_10": 10,
        "words": "Slept.\nÄrmel 🐕",
        "by": "Bo",
        "went_wrong": None,
    }


def test_no_diary_yet_is_an_empty_one(folder: Path) -> None:
    reading = read_diary(folder)
    assert (reading.dog, reading.told, reading.remarks) == (None, (), ())


@pytest.mark.parametrize(
    ("kind", "data", "field"),
    [
        ("after_session", {"session": SESSION, "tolerance_0_10": 11}, "tolerance_0_10"),
        ("after_session", {"session": SESSION, "tolerance_0_10": -1}, "tolerance_0_10"),
        ("after_session", {"session": SESSION, "tolerance_0_10": "5"}, "tolerance_0_10"),
        ("after_session", {"session": SESSION, "tolerance_0_10": 5.0}, "tolerance_0_10"),
        ("after_session", {"session": SESSION, "tolerance_0_10": True}, "tolerance_0_10"),
        ("after_session", {"session": SESSION, "skin": "blue"}, "skin"),
        ("after_session", {"session": SESSION, "words": "x" * 2001}, "words"),
        ("after_session", {"session": SESSION, "words": "a\x1b[2J"}, "words"),
        ("after_session", {"session": ""}, "session"),
        ("after_session", {}, "session"),
        ("function_score", {"score_0_10": 11}, "score_0_10"),
        ("function_score", {"activities": {"stairs": 5}}, "activities"),
        ("function_score", {"activities": {str(n): 1 for n in range(6)}}, "activities"),
        ("function_score", {"total": {"instrument": "x", "value": "NaN"}}, "total"),
        ("function_score", {"total": {"instrument": "x", "value": "-1"}}, "total"),
        ("activities_named", {"activities": ["stairs", "sofa"]}, "activities"),
        ("activities_named", {"activities": list("abcdef")}, "activities"),
        ("activities_named", {"activities": ["stairs", "Stairs ", "sofa"]}, "activities"),
        ("correction", {"session": SESSION, "what": "typo"}, "what"),
        ("correction", {"session": SESSION, "what": "note", "line": 0}, "line"),
        ("lesson_done", {"right": -1, "of": 3}, "right"),
        ("lesson_done", {"right": 4, "of": 3}, "right"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_what_is_out_of_range_is_refused_and_named(
    kind: str, data: dict[str, object], field: str
) -> None:
    with pytest.raises(ValidationError) as refused:
        entry_of(kind, data)
    assert field in str(refused.value)


def test_an_entry_of_a_newer_program_is_told_and_left_alone(folder: Path) -> None:
    class Newer(Entry):
        kind = "weather"

    write(folder, Newer())
    write(folder, ENTRIES[0])
    reading = read_diary(folder)
    assert reading.entries == ENTRIES[:1]
    assert len(reading.remarks) == 1
    assert "weather" in reading.remarks[0]


def test_another_dogs_diary_is_not_written_in(folder: Path) -> None:
    write(folder, ENTRIES[0])
    before = (folder / "diary.jsonl").read_bytes()
    with pytest.raises(DiaryError, match="diary of Prinz Otto; allowed: that of Otto"):
        write(folder, ENTRIES[1], dog="Otto")
    assert (folder / "diary.jsonl").read_bytes() == before
    # The same dog, spelt otherwise in the next revision of its plan.
    write(folder, ENTRIES[1], dog="PRINZ OTTO")
    assert read_diary(folder).entries == ENTRIES[:2]


@settings(max_examples=60)
@given(data=st.data())
def test_a_diary_cut_anywhere_goes_on_and_keeps_every_whole_entry(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("dog")
    for entry in ENTRIES[:3]:
        write(folder, entry)
    path = folder / "diary.jsonl"
    whole = path.read_bytes()
    cut = data.draw(st.integers(0, len(whole)))
    os.truncate(path, cut)
    # A line without its line end is whole all the same.
    ends = [at for at, byte in enumerate(whole) if byte == ord("\n")]
    kept = max(0, sum(cut >= end for end in ends) - 1)
    write(folder, ENTRIES[3])
    reading = read_diary(folder)
    assert reading.entries == (*ENTRIES[:kept], ENTRIES[3])
    # No byte is gone: what was cut off stands in one of the files.
    left = b"".join(file.read_bytes() for file in diary_files(folder))
    assert whole[:cut] in left


def test_a_changed_line_ends_the_trust_and_a_new_diary_begins(folder: Path) -> None:
    for entry in ENTRIES[:3]:
        write(folder, entry)
    path = folder / "diary.jsonl"
    changed = path.read_bytes().replace(b'"score_0_10":0', b'"score_0_10":9')
    path.write_bytes(changed)
    assert read_diary(folder).entries == ENTRIES[:1]
    write(folder, ENTRIES[3])
    write(folder, ENTRIES[4])
    reading = read_diary(folder)
    assert reading.entries == (ENTRIES[0], *ENTRIES[3:])
    assert [file.name for file in diary_files(folder)] == [
        "diary-damaged-0001.jsonl",
        "diary.jsonl",
    ]
    assert diary_files(folder)[0].read_bytes() == changed
    assert any("line 3" in remark and "damaged" in remark for remark in reading.remarks)


@pytest.mark.parametrize("content", [b"", b"cat", b"\x00\xff" * 50, b'{"v":1,"s'])
def test_what_is_no_diary_is_set_aside(folder: Path, content: bytes) -> None:
    folder.mkdir()
    (folder / "diary.jsonl").write_bytes(content)
    write(folder, ENTRIES[0])
    assert read_diary(folder).entries == ENTRIES[:1]
    assert diary_files(folder)[0].read_bytes() == content


@pytest.mark.parametrize(
    "kind", ["crash in write", "crash after write", "disk full", "I/O error in write"]
)
def test_a_failing_disk_loses_at_most_the_entry_that_it_refused(folder: Path, kind: str) -> None:
    write(folder, ENTRIES[0])
    for seed in range(20):
        disk = SimDisk(dice=random.Random(seed), faults=[Fault(kind, at=1)])
        before = read_diary(folder).entries
        entry = AfterSession(session=f"s{seed}", skin="fine")
        with pytest.raises((DiaryError, PulledPlug)):
            write(folder, entry, disk)
        disk.bury(power_cut=False)
        after = read_diary(folder).entries
        assert after in (before, (*before, entry))
        write(folder, entry)
        assert read_diary(folder).entries == (*after, entry)


def test_a_new_diary_and_every_entry_are_on_the_disk_before_anybody_is_told(folder: Path) -> None:
    class Watched(QuickDisk):
        calls: list[str]

        def sync(self, fd: int) -> None:
            self.calls.append("sync")

        def sync_folder(self, folder: Path) -> None:
            self.calls.append(f"sync {folder.name}")

    disk = Watched()
    folder.mkdir()
    for expected in (["sync", f"sync {folder.name}"], ["sync"]):
        disk.calls = []
        write(folder, ENTRIES[0], disk)
        # A new name is only there for good once its folder has been synced; later the file is.
        assert disk.calls[disk.calls.index("sync") :] == expected


def test_two_programs_do_not_write_at_once(folder: Path) -> None:
    disk = QuickDisk()
    write(folder, ENTRIES[0])
    lock = disk.lock(folder, "now")
    with pytest.raises(DiaryBusy, match=f"process {os.getpid()}"):
        write(folder, ENTRIES[1])
    disk.close(lock)
    write(folder, ENTRIES[1])
    assert read_diary(folder).entries == ENTRIES[:2]


def test_later_answers_are_added_to_earlier_ones() -> None:
    said = [
        AfterSession(session="a", stop_reason="no_time", words="Later more."),
        AfterSession(session="b", skin="red"),
        AfterSession(session="a", skin="fine", by="Bo"),
        AfterSession(session="a", tolerance_0_10=0, words="She slept."),
        ENTRIES[0],
    ]
    assert answers_of(said) == {
        "a": AfterSession(
            session="a",
            stop_reason="no_time",
            skin="fine",
            tolerance_0_10=0,
            words="Later more.\nShe slept.",
            by="Bo",
        ),
        "b": AfterSession(session="b", skin="red"),
    }


def test_the_activities_are_those_named_last() -> None:
    later = ActivitiesNamed(activities=("walk", "car", "bed"))
    assert activities_of([]) == ()
    assert activities_of([*ENTRIES, later, ENTRIES[4]]) == ("walk", "car", "bed")
