"""A session in one row, worked out by hand: 8 s of way to each spot, 10 s and 20 s held."""

from typing import Any

import pytest

from coach.record.session_row import Brief, brief_of
from coach.record.tally import tally_of
from coach.session import commands as cmd
from coach.units import NS_PER_S
from tests.record.test_tally import session
from tests.worlds import Lines, header_for, spots_for

S = NS_PER_S
FJ_PER_J = 10**15


def brief(lines: Lines, *, damage: str = "") -> Brief:
    return brief_of("000004-x.jsonl", 4, tally_of(lines.lines), lines.lines, damage=damage)


def test_a_session_that_was_finished() -> None:
    lines = session([10, 20])
    row = brief(lines)
    assert (row.name, row.number, row.dog) == ("000004-x.jsonl", 4, "Pip")
    assert (row.plan_id, row.plan_revision, row.plan_digest) == ("demo", 1, "ab" * 32)
    assert (row.rehearsal, row.state, row.reason, row.closed) == (False, "finished", "", False)
    assert (row.spots, row.whole) == (2, 2)
    # 500 mW for 30 s: 15 J.
    assert (row.planned_ns, row.given_ns) == (30 * S, 30 * S)
    assert (row.planned_fj, row.given_fj) == (15 * FJ_PER_J, 15 * FJ_PER_J)
    assert row.opened_wall == lines.lines[0]["wall"]
    assert row.ended_wall == lines.lines[-1]["wall"]
    assert (row.trust, row.damage) == ("synchronised", "")
    # The last light was at the end of the second hold.
    last = next(line for line in reversed(lines.lines) if line["kind"] == "hold_ended")
    assert (row.light_mono_ns, row.light_wall) == (46 * S, last["wall"])
    assert (row.light_boot, row.light_trusted) == ("boot-one", True)
    # Two ways of 8 s were planned, and nothing else came between.
    assert (row.between_planned_ns, row.between_ns) == (16 * S, 16 * S)
    assert row.matters
    assert row.counts("Pip")
    assert not row.counts("Rex")


def test_a_session_that_was_stopped_counts_what_it_gave() -> None:
    lines = session([10, 20], (30, cmd.Stop("no_time")))
    # Much later somebody looks after the log: that was no light.
    lines.add("notice", {"what": "no_sound_device", "at_ns": 900 * S})
    row = brief(lines)
    assert (row.state, row.reason, row.spots, row.whole) == ("stopped", "no_time", 2, 1)
    assert (row.planned_ns, row.given_ns) == (30 * S, 14 * S)
    assert row.given_fj == 7 * FJ_PER_J
    assert row.light_mono_ns == 30 * S
    # How long the ways took is learnt from whole sessions only.
    assert (row.between_planned_ns, row.between_ns) == (0, 0)


def test_a_plug_that_was_pulled_leaves_the_last_heartbeat_as_the_last_light() -> None:
    row = brief(session([10], until_s=15))
    assert (row.light_mono_ns, row.given_ns) == (15 * S, 7 * S)


@pytest.mark.parametrize(
    ("trust", "trusted"), [("synchronised", True), ("rtc", True), ("unknown", False)]
)
def test_only_a_clock_that_knows_nothing_is_not_trusted(trust: str, trusted: bool) -> None:
    lines = session([10])
    for line in lines.lines:
        line["trust"] = trust
    assert brief(lines).light_trusted is trusted


def test_what_is_damaged_matters_and_tells_no_light() -> None:
    row = brief(session([10]), damage="line 5")
    assert (row.damage, row.light_wall, row.light_mono_ns) == ("line 5", "", 0)
    assert (row.light_boot, row.light_trusted) == ("", False)
    assert (row.between_planned_ns, row.between_ns) == (0, 0)
    assert row.matters


@pytest.mark.parametrize("header", [{}, {"rehearsal": True}])
def test_without_light_or_with_the_laser_off_it_does_not_matter(header: dict[str, Any]) -> None:
    spots = spots_for([10])
    never = brief(Lines(header_for(spots, **header)))
    assert (never.state, never.light_wall, never.light_trusted) == ("not_begun", "", False)
    assert not never.matters
    assert not never.counts("Pip")
    rehearsed = brief(session([10], rehearsal=True))
    assert rehearsed.rehearsal
    assert not rehearsed.matters
    assert not rehearsed.counts("Pip")
