"""What is kept of journals that say odd things: nothing is counted twice, nothing odd is kept.

Each of these faults, put in by the mutation tool, had turned nothing red before.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from coach.journal.journal import Journal
from coach.journal.repair import repair
from coach.record.course_tally import Sums, course_of
from coach.record.summary_cache import Unread, summary_of
from coach.record.tally import tally_of
from coach.record.verify import verify
from coach.units import NS_PER_S
from tests.record.conftest import MakeJournal
from tests.record.test_lines_and_disk import chained
from tests.worlds import Clock, Lines, QuickDisk, header_for, spots_for

S = NS_PER_S


@pytest.mark.parametrize("odd", [{"data": []}, {"kind": 7}])
def test_a_line_whose_sum_holds_but_that_no_program_can_use_is_left_out(
    make_journal: MakeJournal, odd: dict[str, Any]
) -> None:
    path = make_journal()
    told = [json.loads(line) for line in path.read_bytes().splitlines()]
    for one in told:
        del one["sum"]
    told[2].update(odd)
    path.write_bytes(b"".join(chained(*told)))
    # Damage further on, so that there is something to repair.
    path.write_bytes(path.read_bytes().replace(b'"seq":5,', b'"seq":6,', 1))
    fixed = repair(path, disk=QuickDisk())
    assert fixed.left_out == (3, 5)
    assert verify(fixed.path).verdict == "whole"


def begun(*holds: tuple[str, dict[str, Any]]) -> Lines:
    lines = Lines(header_for(spots_for([10, 10])))
    lines.add("session_started", {"at_ns": 0})
    for kind, data in holds:
        lines.add(kind, {"at_ns": 0, "spot": 0, **data})
    return lines


def test_every_cut_is_counted_and_what_was_held_before_it() -> None:
    hold = ("hold_started", {"left_ns": 0})
    lines = begun(
        hold,
        ("heartbeat", {"given_ns": 3 * S}),
        ("session_resumed", {}),
        hold,
        ("heartbeat", {"given_ns": 2 * S}),
        ("session_resumed", {}),
        hold,
        ("hold_ended", {"given_ns": 5 * S, "reason": "complete"}),
    )
    tally = tally_of(lines.lines)
    assert tally.cuts == 2
    assert [spot.given_ns // S for spot in tally.spots] == [10, 0]


def test_a_spot_that_was_skipped_and_asked_for_again_is_skipped_no_more() -> None:
    lines = begun(
        ("spot_skipped", {"reason": "sore"}),
        ("spot_again", {}),
        ("hold_started", {"left_ns": 0}),
        ("hold_ended", {"given_ns": 4 * S, "reason": "paused"}),
    )
    lines.add("session_stopped", {"at_ns": 0, "reason": "no_time"})
    first, second = tally_of(lines.lines).spots
    assert (first.outcome, first.reason, first.repeats) == ("cut_short", "no_time", 1)
    assert (second.outcome, second.reason) == ("not_reached", "no_time")


def test_only_spots_that_had_all_their_seconds_are_whole() -> None:
    lines = begun(
        ("hold_started", {"left_ns": 0}),
        ("hold_ended", {"given_ns": 10 * S, "reason": "complete"}),
        ("hold_started", {"spot": 1, "left_ns": 0}),
        ("hold_ended", {"spot": 1, "given_ns": 4 * S, "reason": "stopped"}),
    )
    sums = Sums()
    for _again in range(3):
        sums.put(tally_of(lines.lines))
    course = course_of(sums)
    assert [(side.part.planned, side.part.whole) for side in course.sides] == [(3, 3), (3, 0)]
    assert (course.total.planned, course.total.whole) == (6, 3)


def test_a_journal_that_cannot_be_tallied_keeps_its_place_among_the_others(folder: Path) -> None:
    for _again in range(2):
        opened = Journal.create(
            folder, header=header_for(spots_for([10])), stamp=Clock().stamp, disk=QuickDisk()
        )
        opened.append("hold_started", {"at_ns": 1, "spot": 7, "left_ns": 0})
        opened.append("hold_ended", {"at_ns": 1, "spot": 7, "given_ns": 1, "reason": "complete"})
        opened.close()
    found = summary_of(folder).unread
    assert [(one.name[:6], one.number, one.nothing_begun) for one in found] == [
        ("000001", 1, False),
        ("000002", 2, False),
    ]
    assert all(isinstance(one, Unread) for one in found)
    assert all(one.why.startswith(": line 3 cannot be tallied: ") for one in found)
