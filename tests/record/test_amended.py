"""Corrections: the log stays, the tally counts by them, both are told."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach import paths
from coach.cli import run
from coach.cli.exits import Exit
from coach.journal.diary_entries import Correction
from coach.journal.journal import read_journal
from coach.record.corrections import corrected
from coach.record.tally import SessionTally, tally_of
from tests.handover.dogs import session
from tests.worlds import Lines, header_for, spots_for


@pytest.fixture
def dog(own_world: Path) -> Path:
    """The folder of an invented dog with one session of 30, 30, 40 and 40 s at 500 mW."""
    folder = paths.dog_folder("Pip")
    session(folder, "2026-11-10")
    return folder


def test_a_correction_counts_in_the_tally_and_the_log_stays(
    dog: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (journal,) = (dog / "journals").glob("0*.jsonl")
    before = journal.read_bytes()
    what = ["--what", "laser_was_off", "--spot", "1", "--text", "flat battery", "--by", "Alex"]
    assert run(["amend", *what]) == Exit.DONE
    out = capsys.readouterr().out
    assert "spot 1: the laser was off, flat battery (said by Alex)" in out
    assert "says 140 s, 70.00 J in all" in " ".join(out.split())
    assert "110/140" in out
    assert journal.read_bytes() == before
    assert run(["tally"]) == Exit.DONE
    out = capsys.readouterr().out
    assert "corrected afterwards" in out
    assert max(map(len, out.splitlines())) <= 60
    assert run(["tally", "--json"]) == Exit.DONE
    told = json.loads(capsys.readouterr().out)
    # 140 s as logged; 30 s of it with the laser off. 0.5 W x 110 s = 55 J.
    assert told["sessions"][0]["total"]["given_j"] == "55.000000"
    assert told["logged"][0]["total"]["given_s"] == "140.000000"
    assert told["corrections"][0]["what"] == "laser_was_off"
    assert run(["amend", "--what", "not_this_dog"]) == Exit.DONE
    assert "It does not count." in capsys.readouterr().out
    assert run(["tally", "--json"]) == Exit.DONE
    assert json.loads(capsys.readouterr().out)["sessions"] == []


def test_everything_that_is_wrong_is_told_and_nothing_is_written(
    dog: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = ["--what", "oops", "--spot", "9", "--line", "1", "--by", "x" * 50]
    assert run(["amend", *wrong]) == Exit.BAD_INPUT
    err = capsys.readouterr().err
    for text in (
        "--what: found 'oops'; allowed: wrong_side, wrong_region, laser_was_off",
        "--spot: found 9; allowed: 1 to 4",
        "--line: found 1; allowed: a line about a spot",
        "--by: found",
        "--line: found with --spot",
    ):
        assert text in err
    assert run(["amend", "--session", "7", "--what", "note"]) == Exit.BAD_INPUT
    assert "--session: found 7; allowed: 1 to 1" in capsys.readouterr().err
    assert not (dog / "diary.jsonl").exists()


def whole() -> SessionTally:
    lines = Lines(header_for(spots_for((30, 20, 10, 40))))
    lines.add("session_started", {"at_ns": 0})
    for spot, seconds in enumerate((30, 20, 10, 25)):
        end = {"at_ns": 0, "spot": spot, "given_ns": seconds * 10**9, "reason": "complete"}
        lines.add("hold_started", {"at_ns": 0, "spot": spot, "left_ns": 0})
        lines.add("hold_ended", end)
    return tally_of(lines.lines)


def test_what_the_other_side_had_by_mistake_makes_up_for_what_it_missed() -> None:
    # Spot 3 (left, 10 s) was held on the right, where spot 4 had 25 of its 40 s: 35 s there.
    tally = whole()
    other = Correction(session="s", spot=3, what="wrong_side")
    then = corrected(tally, [other], at_line=lambda _: None).tally
    assert then is not None
    third, fourth = then.spots[2:4]
    assert (third.given_ns, third.outcome, third.reason) == (0, "skipped", "wrong_side")
    assert (fourth.given_ns // 10**9, fourth.outcome) == (35, "cut_short")
    # Spot 1 too: spot 2 had its 20 s and gets 30 s more; it stays whole, without a reason.
    both = [other, Correction(session="s", spot=1, what="wrong_side")]
    then = corrected(tally, both, at_line=lambda _: None).tally
    assert then is not None
    second = then.spots[1]
    assert (second.given_ns // 10**9, second.outcome, second.reason) == (50, "given", "")


corrections = st.lists(
    st.builds(
        Correction,
        session=st.just("s"),
        spot=st.none() | st.integers(1, 6),
        what=st.sampled_from(["wrong_side", "wrong_region", "laser_was_off", "note"]),
    ),
    max_size=6,
)


@given(corrections)
def test_no_correction_ever_makes_time_and_only_a_side_moves_it(entries: list[Correction]) -> None:
    tally = whole()
    then = corrected(tally, entries, at_line=lambda _: None).tally
    assert then is not None
    last = {}
    for entry in entries:
        if entry.what != "note":
            chosen = range(4) if entry.spot is None else (entry.spot - 1,)
            last.update({spot: entry.what for spot in chosen if spot < 4})
    kept = sum(
        spot.given_ns for spot in tally.spots if last.get(spot.index) in (None, "wrong_side")
    )
    assert then.total().given_ns == kept
    assert then.total().planned_ns == tally.total().planned_ns
    for side, other in (("left", "right"), ("right", "left")):
        given_ns = sum(spot.given_ns for spot in then.spots if spot.side == side)
        stayed = sum(s.given_ns for s in tally.spots if s.side == side and s.index not in last)
        came = sum(
            s.given_ns for s in tally.spots if s.side == other and last.get(s.index) == "wrong_side"
        )
        assert given_ns == stayed + came


def test_both_sides_mixed_up_are_given_all_the_same() -> None:
    tally = whole()
    entry = Correction(session="s", what="wrong_side")
    then = corrected(tally, [entry], at_line=lambda _: None).tally
    assert then is not None
    # Left had 30 and 10 s, right 20 and 25 s, of 30 and 10, and 20 and 40, that were due.
    found = [(s.side, s.given_ns // 10**9, s.planned_ns // 10**9, s.outcome) for s in then.spots]
    assert found == [
        ("left", 20, 30, "cut_short"),
        ("right", 30, 20, "given"),
        ("left", 25, 10, "given"),
        ("right", 10, 40, "cut_short"),
    ]


def test_the_middle_has_no_other_side() -> None:
    lines = Lines(header_for([replace(spot, side="middle") for spot in spots_for((30,))]))
    end = {"at_ns": 0, "spot": 0, "given_ns": 30 * 10**9, "reason": "complete"}
    lines.add("session_started", {"at_ns": 0})
    lines.add("hold_started", {"at_ns": 0, "spot": 0, "left_ns": 0})
    lines.add("hold_ended", end)
    tally = tally_of(lines.lines)
    for spot, given_s in ((None, 30), (1, 0)):
        entry = Correction(session="s", spot=spot, what="wrong_side")
        then = corrected(tally, [entry], at_line=lambda _: None).tally
        assert then is not None
        assert then.total().given_ns == given_s * 10**9


def test_a_journal_that_was_corrected_verifies_as_before(dog: Path) -> None:
    (journal,) = (dog / "journals").glob("0*.jsonl")
    reading = read_journal(journal)
    assert run(["amend", "--what", "wrong_side", "--spot", "2"]) == Exit.DONE
    assert read_journal(journal) == reading
    assert run(["verify", str(journal)]) == Exit.DONE
