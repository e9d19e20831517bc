"""A spot that the dog minded is not offered again on the same day (common practice, no source)."""

import datetime
from pathlib import Path

import pytest

from coach.journal.diary import write_entry
from coach.journal.diary_entries import AfterSession
from coach.journal.journal import Journal
from coach.record.resting_spots import minded, minded_on
from coach.session import commands as cmd
from coach.session.machine import Machine, Options
from coach.units import NS_PER_S
from tests.worlds import Clock, Lines, QuickDisk, header_for, spots_for

SPOTS = spots_for([20, 20, 20, 20])


def session(*commands: cmd.Command) -> list[dict[str, object]]:
    """The lines of a session in which each command comes in the middle of the next hold."""
    lines = Lines(header_for(SPOTS))
    machine = Machine(SPOTS, Options())
    now_ns = 0
    lines.add_events(machine.do(cmd.Start(), now_ns).events)
    for command in commands:
        now_ns += 10 * NS_PER_S
        lines.add_events(machine.do(command, now_ns).events)
    return lines.lines


@pytest.mark.parametrize("reason", ["sore", "dog_objects", "lump_or_wound"])
def test_a_spot_that_was_left_out_for_the_dog_rests(reason: cmd.SkipReason) -> None:
    lines = session(cmd.Skip("out_of_reach"), cmd.Skip(reason), cmd.Skip("asked"))
    assert minded(lines) == {SPOTS[1].site}


@pytest.mark.parametrize("reason", ["dog_unhappy", "hot_skin"])
def test_the_spot_of_a_stop_for_the_dog_rests(reason: cmd.StopReason) -> None:
    assert minded(session(cmd.Skip(), cmd.Skip(), cmd.Stop(reason))) == {SPOTS[2].site}


@pytest.mark.parametrize("reason", ["asked", "no_time", "closed"])
def test_the_spot_of_another_stop_does_not(reason: cmd.StopReason) -> None:
    assert minded(session(cmd.Skip(), cmd.Stop(reason))) == frozenset()


def test_what_the_owner_says_afterwards_counts_as_well() -> None:
    lines = session(cmd.Skip(), cmd.Stop("asked"))
    assert minded(lines, said="hot_skin") == {SPOTS[1].site}
    assert minded(lines, said="no_time") == frozenset()


def test_a_stop_before_the_first_spot_is_about_no_spot() -> None:
    lines = Lines(header_for(SPOTS))
    lines.add_events(Machine(SPOTS, Options()).do(cmd.Stop("dog_unhappy"), 0).events)
    assert minded(lines.lines) == frozenset()


def kept(journals: Path, day: str, lines: list[dict[str, object]]) -> Path:
    stamp = Clock(wall=f"{day}T19:00:00.000+01:00").stamp
    journal = Journal.create(journals, header=header_for(SPOTS), stamp=stamp, disk=QuickDisk())
    for line in lines[1:]:
        journal.append(str(line["kind"]), line["data"])  # type: ignore[arg-type]
    journal.close()
    return journal.path


def test_what_the_dog_minded_counts_for_its_day_in_all_sessions_that_can_be_read(
    tmp_path: Path,
) -> None:
    journals = tmp_path / "journals"
    kept(journals, "2026-11-24", session(cmd.Skip("sore")))
    kept(journals, "2026-11-25", session(cmd.Skip(), cmd.Skip("sore")))
    stopped = kept(journals, "2026-11-25", session(cmd.Skip(), cmd.Skip(), cmd.Stop("asked")))
    kept(journals, "2026-11-25", session(cmd.Skip("sore"))).write_bytes(b"no log")
    day = datetime.date(2026, 11, 25)

    def found(on: datetime.date) -> set[int]:
        places = minded_on(on, journals=journals, folder=tmp_path)
        return {spot.index for spot in SPOTS if spot.site in places}

    assert found(day) == {1}
    entry = AfterSession(session=stopped.stem, stop_reason="hot_skin")
    write_entry(tmp_path, entry, dog="Pip", stamp=Clock().stamp, disk=QuickDisk())
    assert found(day) == {1, 2}
    assert found(day + datetime.timedelta(days=1)) == set()
