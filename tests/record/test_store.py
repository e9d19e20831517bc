"""The summary of a dog's journals: the same as reading them all, whatever happened to either."""

import json
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.journal.journal import JournalReading, journal_files, read_journal
from coach.record import summary_cache
from coach.record.course_tally import Sums
from coach.record.past_sessions import Earlier, earlier_sessions
from coach.record.summary_cache import Summary, check, summary_of
from coach.record.tally import tally_of
from tests.homes import FIRST, KINDS, evening, write_home, write_session


def said(summary: Summary) -> tuple[object, ...]:
    """All that a summary says."""
    return (summary.briefs, summary.unread, summary.sums("Pip"), summary.remarks("Pip"))


def test_it_says_what_the_journals_say_and_is_made_only_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, kept = tmp_path / "journals", tmp_path / "summary"
    went = write_home(folder, 150)
    first = summary_of(folder, kept=kept)
    # The truth: the holds, counted by the one who wrote the journals.
    assert [brief.given_ns for brief in first.briefs] == [sum(one.given_ns) for one in went]
    assert sum(value[3] for value in first.sums("Pip").places.values()) == sum(
        sum(one.given_ns) for one in went
    )
    assert len(list(kept.glob("*.json"))) == 2
    read: list[Path] = []

    def noted(path: Path) -> JournalReading:
        read.append(path)
        return read_journal(path)

    monkeypatch.setattr(summary_cache, "read_journal", noted)
    assert said(summary_of(folder, kept=kept)) == said(first) == said(summary_of(folder))
    assert len(read) == 150  # all of them by the last call, which keeps nothing
    read.clear()
    write_session(folder, 151, evening(3, (4, 3, 2, 2)), begins=FIRST)
    assert len(summary_of(folder, kept=kept).briefs) == 151
    assert [path.name[:6] for path in read] == ["000151"]


def _change(folder: Path, kept: Path, what: str) -> None:
    victim = journal_files(folder)[3]
    block = kept / "000000.json"
    if what == "a journal is gone":
        victim.unlink()
    elif what == "a journal is damaged":
        content = bytearray(victim.read_bytes())
        content[len(content) // 2] ^= 1
        victim.write_bytes(content)
    elif what == "a journal was cut to nothing":
        victim.write_bytes(b"")
    elif what == "a journal was repaired":
        victim.with_name(f"{victim.stem}-repaired-1.jsonl").write_bytes(victim.read_bytes())
    elif what == "a journal was given another's content":
        victim.write_bytes(journal_files(folder)[4].read_bytes())
    elif what == "the summary is cut":
        block.write_bytes(block.read_bytes()[:-200])
    elif what == "the summary was edited":
        block.write_text(block.read_text().replace('"finished"', '"stopped"'))
    elif what == "the summary is of another release":
        block.write_text(block.read_text().replace('"format":1', '"format":0'))
    elif what == "the summary is no file":
        block.unlink()
        block.mkdir()
    elif what == "the summary is a list":
        block.write_text("[]\n[]\n[]\n[]\n")


@pytest.mark.parametrize(
    "what",
    [
        "a journal is gone",
        "a journal is damaged",
        "a journal was cut to nothing",
        "a journal was repaired",
        "a journal was given another's content",
        "the summary is cut",
        "the summary was edited",
        "the summary is of another release",
        "the summary is no file",
        "the summary is a list",
    ],
)
def test_a_summary_that_no_longer_fits_is_made_anew(tmp_path: Path, what: str) -> None:
    folder, kept = tmp_path / "journals", tmp_path / "summary"
    write_home(folder, 8)
    summary_of(folder, kept=kept)
    _change(folder, kept, what)
    assert said(summary_of(folder, kept=kept)) == said(summary_of(folder))
    assert said(summary_of(folder, kept=kept)) == said(summary_of(folder))


def test_a_session_that_runs_or_was_cut_off_is_never_kept_before_it_is_closed(
    tmp_path: Path,
) -> None:
    folder, kept = tmp_path / "journals", tmp_path / "summary"
    write_home(folder, 3)
    one = evening(0, (4, 3))
    path = write_session(folder, 4, one, begins=FIRST, closed=False)
    whole = path.read_bytes()
    path.write_bytes(b"".join(whole.splitlines(keepends=True)[:4]))
    assert len(summary_of(folder, kept=kept).briefs) == 4
    assert path.name not in (kept / "000000.json").read_text()
    path.write_bytes(whole)
    assert summary_of(folder, kept=kept).briefs[-1].given_ns == sum(one.given_ns)


def test_verification_finds_a_summary_that_lies_about_unchanged_journals(tmp_path: Path) -> None:
    folder, kept = tmp_path / "journals", tmp_path / "summary"
    write_home(folder, 5)
    summary_of(folder, kept=kept)
    assert check(folder, kept) == []
    # A journal whose size and time of change stayed the same: only reading it finds that.
    victim = journal_files(folder)[0]
    stat = victim.stat()
    victim.write_bytes(victim.read_bytes().replace(b'"reason":"sore"', b'"reason":"lame"'))
    os.utime(victim, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    (told,) = check(folder, kept)
    assert "something else than the journals" in told
    assert said(summary_of(folder, kept=kept)) == said(summary_of(folder))
    assert "damaged" in summary_of(folder, kept=kept).remarks("Pip")[0]


def test_where_nothing_can_be_written_the_journals_are_read(tmp_path: Path) -> None:
    folder, kept = tmp_path / "journals", tmp_path / "summary"
    went = write_home(folder, 3)
    kept.write_text("a file where the folder should be")
    assert len(summary_of(folder, kept=kept).briefs) == len(went)
    assert kept.read_text() == "a file where the folder should be"


def test_another_dogs_session_is_told_and_not_counted(tmp_path: Path) -> None:
    write_home(tmp_path, 2)
    write_session(tmp_path, 3, evening(0, (4,)), begins=FIRST, dog="Rex")
    summary = summary_of(tmp_path)
    assert len(summary.counted("Pip")) == 2
    assert sum(summary.sums("Pip").sessions.values()) == 2
    assert summary.remarks("Pip") == [
        f"{journal_files(tmp_path)[2]}: a session of Rex, not of Pip; not counted"
    ]


def test_a_start_is_told_the_same_whether_sessions_are_folded_together_or_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_home(tmp_path, 19)
    damaged = journal_files(tmp_path)[4]
    damaged.write_bytes(damaged.read_bytes()[:-80] + b"x" * 80)
    journal_files(tmp_path)[6].write_bytes(b"no journal")
    all_told = earlier_sessions(tmp_path, "Pip")
    monkeypatch.setattr(summary_cache, "BLOCK", 4)
    folded = earlier_sessions(tmp_path, "Pip", kept=tmp_path / "kept")
    again = earlier_sessions(tmp_path, "Pip", kept=tmp_path / "kept")
    assert folded == again
    assert folded.remarks == all_told.remarks
    # The newest two blocks are whole; of those before it is told what they were of.
    assert folded.past[-4:] == all_told.past[-4:]

    def plans(earlier: Earlier) -> list[tuple[str, int, str]]:
        return sorted((p.plan_id, p.plan_revision, p.plan_digest) for p in earlier.past)

    assert plans(folded) == plans(all_told)
    assert folded.past[0].ended is None


EVENINGS = [evening(seed, (4, 3, 2)) for seed in range(KINDS)]


@settings(max_examples=25)
@given(chosen=st.lists(st.integers(0, KINDS - 1), max_size=6), order=st.randoms())
def test_sums_add_in_any_order_and_can_be_taken_away(chosen: list[int], order: object) -> None:
    tallies = []
    for number, seed in enumerate(chosen):
        lines = _lines(number, seed)
        tallies.append(tally_of(lines))
    forwards, shuffled = Sums(), Sums()
    for tally in tallies:
        forwards.put(tally)
    order.shuffle(tallies)  # type: ignore[attr-defined]
    for tally in tallies:
        one = Sums()
        one.put(tally)
        shuffled.add(Sums.of_rows(json.loads(json.dumps(one.rows()))))
    assert forwards == shuffled
    for tally in tallies:
        shuffled.put(tally, -1)
    assert shuffled == Sums()


def _lines(number: int, seed: int) -> list[dict[str, object]]:
    from tests.worlds import Lines, header_for

    one = EVENINGS[seed]
    lines = Lines(header_for(one.spots, power_uw=500_000 + number % 2))
    lines.add_events(one.events)
    return lines.lines
