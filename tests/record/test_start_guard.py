"""``coach session`` asks the plan and the journals before it starts; real journals, real program.

How often and how far apart is the prescriber's to say; the numbers here are invented.
"""

import datetime
import os
import pty
import re
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from coach.appliance.clock import boot_id
from coach.bedside.runner import header_of
from coach.cli import run
from coach.cli.exits import Exit
from coach.journal.journal import Journal, journal_files, read_journal
from coach.journal.journal_lines import Trust
from coach.plan.files import PlanFile, load_plan
from coach.plan.spots import spots_of
from coach.record.tally import tally_of
from coach.session import commands as cmd
from coach.session.machine import Machine, Options
from coach.units import NS_PER_S
from tests.programs import coach
from tests.worlds import Clock, QuickDisk

ROOT = Path(__file__).parents[2]
PLAIN = ["--plain", "--silent"]
HOUR_NS = 3600 * NS_PER_S
HOLD_S = 5

PLAN = """\
coach_plan = 1
[plan]
id = "short"
revision = 2
prescriber = "Dr. Ada Muster (invented)"
prescribed_on = 2020-01-01
valid_until = 2099-12-31
[dog]
name = "Juniper"
weight_kg = 9.5
[laser]
label = "invented laser"
laser_class = "3B"
wavelength_nm = 808
mean_power_mw = 100
[[course]]
name = "induction"
times_a_week = 3
weeks = 1
[settle]
leave_out = true
[limits]
LIMITS
[[regions]]
region = "lumbar"
sides = ["left"]
spots = 1
seconds_each_spot = 5
"""


@pytest.fixture
def folder(own_world: Path) -> Path:
    return own_world / "state" / "dogs" / "juniper" / "journals"


def plan_with(place: Path, limits: str, *, old: str = "", new: str = "") -> Path:
    place.mkdir(parents=True, exist_ok=True)
    path = place / "plan.toml"
    path.write_text(PLAN.replace("LIMITS", limits).replace(old, new), encoding="utf-8")
    return path


def held(
    folder: Path,
    plan: Path,
    *,
    hours_ago: float,
    boot: str | None = None,
    trust: Trust = "unknown",
    gives: bool = True,
) -> Path:
    """A session of the plan that ended so long ago by the monotonic clock of this boot."""
    plan_file: PlanFile = load_plan(plan, today=datetime.date(2026, 1, 1))
    spots = spots_of(plan_file.plan)
    ended = datetime.datetime.now().astimezone() - datetime.timedelta(hours=hours_ago)
    clock = Clock(
        now_ns=time.monotonic_ns() - round(hours_ago * HOUR_NS),
        boot_id=boot_id() if boot is None else boot,
        wall=ended.isoformat(timespec="milliseconds"),
        trust=trust,
    )
    header = header_of(plan_file, spots, Options(), version="0", rehearsal=False)
    journal = Journal.create(folder, header=header, stamp=clock.stamp, disk=QuickDisk())
    machine = Machine(spots, Options())
    # The time within the session is its own: only its stamps matter here.
    steps = [machine.do(cmd.Start(), 0)]
    if gives:
        steps.append(machine.tick(60 * NS_PER_S))
        steps.append(machine.tick(120 * NS_PER_S))
    for step in steps:
        for event in step.events:
            journal.append(event.kind, event.payload())
    given_ns = list(machine.sitting.given_ns)
    assert given_ns == [HOLD_S * NS_PER_S if gives else 0]
    journal.finish({"given_ns": given_ns})
    journal.close()
    return journal.path


def really(plan: Path, *words: str, stdin: str = "\nstop\n") -> subprocess.CompletedProcess[str]:
    return coach("session", str(plan), *PLAIN, *words, stdin=stdin)


def refused(capsys: pytest.CaptureFixture[str], folder: Path, plan: Path, *words: str) -> str:
    """What the owner is told; no journal comes of it."""
    before = journal_files(folder)
    assert run(["session", str(plan), *PLAIN, *words]) == Exit.NOT_ALLOWED
    assert journal_files(folder) == before
    return capsys.readouterr().err


def test_a_session_too_soon_is_refused_with_what_to_do(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(tmp_path, "least_hours_between = 20\nmost_a_week = 3")
    held(folder, plan, hours_ago=2)
    told = refused(capsys, folder, plan, "--because", "she limps")
    assert re.search(r"the last session ended 2:\d\d h ago", told)
    assert re.search(r"wait another 1[78]:\d\d h", told)
    assert "--because" not in told
    assert "nothing started" in told


def test_a_session_in_which_nothing_was_given_is_none(folder: Path, tmp_path: Path) -> None:
    plan = plan_with(tmp_path, "least_hours_between = 20\nmost_a_day = 1\nmost_a_week = 3")
    held(folder, plan, hours_ago=2, gives=False)
    done = really(plan)
    assert done.returncode == Exit.ENDED_EARLY, done.stderr


def test_where_the_plan_leaves_it_to_the_owner_the_reason_is_logged(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(tmp_path, "least_hours_between = 20\nowner_may_overrule = true")
    held(folder, plan, hours_ago=2)
    assert "--because" in refused(capsys, folder, plan)
    done = really(plan, "--because", "the vet said so on the phone")
    assert done.returncode == Exit.ENDED_EARLY, done.stderr
    lines = read_journal(journal_files(folder)[-1]).lines
    (line,) = [line for line in lines if line["kind"] == "overruled"]
    assert line["data"]["reasons"] == ["too_soon"]
    assert line["data"]["because"] == "the vet said so on the phone"
    assert lines.index(line) == 1
    assert tally_of(lines).overruled[-1] == "the vet said so on the phone"
    assert "although the last session ended" in " ".join(done.stdout.split())


def test_at_a_terminal_the_owner_is_asked_why(folder: Path, tmp_path: Path) -> None:
    plan = plan_with(tmp_path, "least_hours_between = 20\nowner_may_overrule = true")
    held(folder, plan, hours_ago=2)
    ours, theirs = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-m", "coach", "session", str(plan), *PLAIN, "--by", "Ada"],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        cwd=ROOT,
    )
    os.close(theirs)
    shown = b""
    answers = [(b"Start anyway?", b"2\n"), (b"Why start anyway", b"x\n")]
    answers += [(b"3 to 200", b"the vet said so\n")]
    answers += [(b"Question 1 of", b"stop\n")]
    with child:
        for question, answer in answers:
            while question not in shown:
                shown += os.read(ours, 4096)
            os.write(ours, answer)
        with suppress(OSError):
            while os.read(ours, 4096):
                pass
        assert child.wait() == Exit.ENDED_EARLY
    os.close(ours)
    assert b"The last session ended 2:" in shown
    lines = read_journal(journal_files(folder)[-1]).lines
    assert lines[1]["data"]["because"] == "the vet said so"


@pytest.mark.parametrize("reason", ["", "x", "x" * 201, "bell \x07 rings"])
def test_a_reason_must_be_one(
    reason: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as error:
        run(["session", str(tmp_path / "plan.toml"), "--because", reason])
    assert error.value.code == Exit.BAD_INPUT
    assert "3 to 200 characters" in capsys.readouterr().err


def test_so_many_a_day_and_a_week_and_in_all(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(tmp_path, "most_a_day = 1\nmost_a_week = 3")
    for hours in (100, 50, 0.001):
        held(folder, plan, hours_ago=hours)
    told = refused(capsys, folder, plan)
    assert "1 session today; the plan allows at most 1" in told
    assert "3 sessions in seven days; the plan allows at most 3" in told
    assert "all 3 sessions of the course have been held" in told


def test_a_clock_that_cannot_tell_is_said_and_asked_about(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(tmp_path, "least_hours_between = 20")
    held(folder, plan, hours_ago=100, boot="another boot")
    assert "the clock cannot tell how long ago session number 1 was" in refused(
        capsys, folder, plan
    )
    done = really(plan, "--because", "it was last week")
    assert done.returncode == Exit.ENDED_EARLY, done.stderr


def test_sessions_are_counted_by_their_number_not_by_the_clock(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(tmp_path, "least_hours_between = 20")
    # The newest by its number carries the oldest time.
    held(folder, plan, hours_ago=1)
    held(folder, plan, hours_ago=90)
    done = really(plan)
    assert done.returncode == Exit.ENDED_EARLY, done.stderr
    assert [int(path.name[:6]) for path in journal_files(folder)] == [1, 2, 3]


def test_a_log_that_cannot_be_read_is_asked_about(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(tmp_path, "most_a_day = 1")
    path = held(folder, plan, hours_ago=100)
    path.write_bytes(b"\xff" * 5000)
    told = refused(capsys, folder, plan)
    assert str(path) in told
    assert "the log of session number 1 cannot be read" in told
    path.write_bytes(b"")
    assert really(plan).returncode == Exit.ENDED_EARLY


def test_a_damaged_log_counts_for_the_course_and_is_asked_about(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(tmp_path, "most_a_day = 1")
    path = held(folder, plan, hours_ago=100)
    path.write_bytes(path.read_bytes().replace(b'"kind":"hold_ended"', b'"kind":"hold_enDed"'))
    told = refused(capsys, folder, plan)
    assert "damaged: line" in told
    assert "the log of session number 1 cannot be read" in told


def test_the_right_plan_revision_and_dog(
    folder: Path, own_world: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(tmp_path, "owner_may_overrule = true")
    held(folder, plan, hours_ago=100)
    changed = plan_with(tmp_path / "changed", "", old="seconds_each_spot = 5", new="# x")
    changed.write_text(changed.read_text().replace("# x", "seconds_each_spot = 6"))
    words = ["--because", "never mind"]
    assert "changed, but still says revision 2" in refused(capsys, folder, changed, *words)
    older = plan_with(tmp_path / "older", "", old="revision = 2", new="revision = 1")
    assert "revision 2 of this plan was used before" in refused(capsys, folder, older, *words)
    assert "the plan is for Juniper, not for Rex" in refused(
        capsys, folder, plan, "--dog", "Rex", *words
    )
    of_rex = own_world / "state" / "dogs" / "rex"
    there = plan_with(of_rex, "owner_may_overrule = true")
    assert "the plan is for Juniper, not for rex" in refused(capsys, folder, there, *words)
    assert really(plan, "--dog", "Juniper").returncode == Exit.ENDED_EARLY


def test_a_session_of_another_dog_in_the_folder_is_told_and_not_counted(
    folder: Path, tmp_path: Path
) -> None:
    plan = plan_with(tmp_path, "most_a_day = 1")
    rex = plan_with(tmp_path / "rex", "", old='"Juniper"', new='"Rex"')
    held(folder, rex, hours_ago=0.001)
    done = really(plan)
    assert done.returncode == Exit.ENDED_EARLY
    assert "a session of Rex, not of Juniper; not counted" in done.stdout


def test_a_plan_of_the_future_is_never_just_begun(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_with(
        tmp_path, "", old="prescribed_on = 2020-01-01", new="prescribed_on = 2099-01-01"
    )
    assert "2099-01-01" in refused(capsys, folder, plan)


def test_no_room_on_the_disk_is_told_before_anything_starts(
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plan = plan_with(tmp_path, "owner_may_overrule = true")
    monkeypatch.setattr("coach.bedside.permission.free_bytes", lambda folder: 20_000)
    told = refused(capsys, folder, plan, "--because", "never mind")
    assert "the disk has 19 KiB left" in told
    assert "make room" in told
    assert run(["rehearse", str(plan), *PLAIN]) == Exit.NOT_ALLOWED


def test_the_plan_says_how_long_a_cut_session_may_be_carried_on(
    folder: Path, tmp_path: Path
) -> None:
    plan = plan_with(tmp_path, "carry_on_minutes = 200")
    path = held(folder, plan, hours_ago=3)
    lines = path.read_bytes().splitlines(keepends=True)
    # Cut in its hold, before the line that ends it.
    cut = next(n for n, line in enumerate(lines) if b'"kind":"hold_ended"' in line)
    path.write_bytes(b"".join(lines[:cut]))
    done = really(plan, "--carry-on")
    assert done.returncode == Exit.ENDED_EARLY, done.stderr
    assert journal_files(folder) == [path]
    assert tally_of(read_journal(path).lines).cuts == 1
