"""``coach take``: what a new plan changes is said, and only what may follow is taken."""

import datetime
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach import paths
from coach.appliance.drives import Drive
from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.changes import changes
from coach.handover.take_plan import put_in_place
from coach.journal.disk import DISK
from coach.journal.signing import DeviceKey, device_key
from coach.plan.files import load_plan
from coach.plan.model import Plan
from coach.plan.read import read_plan
from tests.handover.dogs import PLAN

TODAY = datetime.date(2026, 11, 25)
Run = Callable[..., tuple[int, str]]
BASE = PLAN


@pytest.fixture
def take(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Writes a plan file and takes it; gives exit code and all that was printed."""

    def taken(text: str, *more: str, name: str = "new.toml") -> tuple[int, str]:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        code = run(["take", str(path), "--yes", *more])
        out = capsys.readouterr()
        return code, out.out + out.err

    return taken


def in_use() -> str:
    return (paths.dog_folder("Juniper") / "plan.toml").read_text(encoding="utf-8")


def test_the_next_revision_is_told_taken_dated_and_the_old_one_kept(take: Run) -> None:
    assert take(BASE)[0] == Exit.DONE
    new = (
        BASE.replace("revision = 1", "revision = 2", 1)
        .replace("seconds_each_spot = 40", "seconds_each_spot = 60", 1)
        .replace('region = "tail_base"', 'region = "hip"')
        .replace(
            'sides = ["middle"]\nspots = 1', 'sides = ["left"]\naspects = ["lateral"]\nspots = 1'
        )
        .replace("spots = 4", "spots = 5")
        .replace("mean_power_mw = 100", "mean_power_mw = 120")
        .replace("times_a_week = 3", "times_a_week = 4")
        .replace("repeats_allowed = 1", "repeats_allowed = 0")
    )
    code, told = take(new)
    assert code == Exit.DONE
    assert in_use() == new
    for text in (
        "Not signed",
        "60 seconds on each spot, before 40.",
        "5 spots on each side, before 4.",
        "New: hip",
        "No longer: ",
        "The mean power of the laser is now 120 mW, before 100 mW.",
        "The course is now: 4 a week for 2 weeks",
        "A spot may be given again 0 times, before 1.",
        "A session now has ",
        "Taken on 20",
    ):
        assert text in told, text
    (old,) = (paths.dog_folder("Juniper") / "old-plans").iterdir()
    assert old.read_text() == BASE
    assert re.fullmatch(r"until-\d{8}T\d{6}-demo-long-back-r1\.toml", old.name)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("revision = 2", "revision = 1"), "found revision 1; allowed: revision 3 or later"),
        (("revision = 2", "revision = 2 "), "found revision 2; allowed: revision 3"),
        (("", ""), "in use already"),
        (('id = "demo-long-back"', 'id = "other"'), "allowed: a revision of 'demo-long-back'"),
        (("2026-11-01", "2026-10-01"), "found revision 2"),
        (("2099-12-31", "2020-12-31"), "this plan has run out"),
        (("spots = 4", "spots = 400"), "regions[3].spots: found 400"),
    ],
)
def test_what_may_not_follow_is_refused_and_nothing_changes(
    take: Run, change: tuple[str, str], told: str
) -> None:
    now = BASE.replace("revision = 1", "revision = 2", 1)
    assert take(now)[0] == Exit.DONE
    new = now.replace("2026-11-01", "2020-11-01") if "2020" in change[1] else now
    code, text = take(new.replace(*change, 1))
    assert code == Exit.BAD_INPUT
    assert told in " ".join(text.split())
    assert in_use() == now


def test_an_older_day_with_a_later_number_is_refused(take: Run) -> None:
    assert take(BASE)[0] == Exit.DONE
    older = BASE.replace("revision = 1", "revision = 2", 1).replace("2026-11-01", "2026-10-31", 1)
    code, text = take(older)
    assert code == Exit.BAD_INPUT
    assert "found a plan of 2026-10-31; allowed: one of 2026-11-01 or later" in text


def test_nobody_is_asked_in_vain_and_no_means_no(
    take: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert take(BASE)[0] == Exit.DONE
    path = tmp_path / "stick"
    path.mkdir()
    (path / "next.toml").write_text(BASE.replace("revision = 1", "revision = 2", 1))
    (path / "notes.toml").write_text("x = 1")
    for answer, code, revision in (("no", 2, 1), ("", 2, 1), ("yes", 0, 2)):
        monkeypatch.setattr("builtins.input", lambda answer=answer: answer)
        assert run(["take", str(path)]) == code
        assert f"revision = {revision}\n" in in_use()
    assert "Nothing but the number of the revision." in capsys.readouterr().out
    (path / "third.toml").write_text(BASE)
    assert run(["take", str(path)]) == Exit.BAD_INPUT
    assert "found next.toml, third.toml; allowed: one plan" in capsys.readouterr().err


def test_the_plan_on_a_stick_is_taken_and_the_stick_let_go(
    take: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert take(BASE)[0] == Exit.DONE
    stick = tmp_path / "stick"
    stick.mkdir()
    (stick / "plan.toml").write_text(BASE.replace("revision = 1", "revision = 2", 1))
    drive = Drive(device="/dev/x1", name="VET", size_bytes=10**9, folder=None, read_only=True)
    said: list[str] = []
    monkeypatch.setattr("coach.cli.stick.drives", lambda: [drive])
    monkeypatch.setattr("coach.appliance.drives.mounted", lambda one, _: replace(one, folder=stick))
    monkeypatch.setattr("coach.appliance.drives.let_go", lambda one, _: said.append(one.device))
    assert run(["take", "--stick", "--yes"]) == Exit.DONE
    assert "1: VET, 1 GB" in capsys.readouterr().out
    assert "revision = 2\n" in in_use()
    assert said == ["/dev/x1"]
    assert run(["take", "--stick", str(stick)]) == Exit.BAD_INPUT


def test_a_plan_that_has_run_out_can_be_followed(take: Run) -> None:
    folder = paths.dog_folder("Juniper")
    folder.mkdir(parents=True)
    over = BASE.replace("2099-12-31", "2026-11-02")
    (folder / "plan.toml").write_text(over)
    code, told = take(BASE.replace("revision = 1", "revision = 2", 1))
    assert code == Exit.DONE, told
    assert "The plan holds until 2099-12-31, before until 2026-11-02." in told


def test_signatures_of_known_unknown_and_forged_plans(
    take: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "new.toml"
    path.write_text(BASE)
    assert run(["key", "--sign", str(path)]) == Exit.DONE
    assert run(["key", "--sign", str(path)]) == Exit.BAD_INPUT
    assert "there is a signature already" in capsys.readouterr().err
    key: DeviceKey = device_key(paths.device_key_file())
    code, told = take(BASE)
    assert "Signed with a key that is not known here" in told
    assert run(["take", "--know", key.public_key, "--name", "Dr. Ada (invented)"]) == Exit.DONE
    assert run(["take", "--know", "12", "--name", "x"]) == Exit.BAD_INPUT
    assert "64 hex digits" in capsys.readouterr().err
    new = BASE.replace("revision = 1", "revision = 2", 1)
    (tmp_path / "second.toml").write_text(new)
    assert run(["key", "--sign", str(tmp_path / "second.toml")]) == Exit.DONE
    code, told = take(new, name="second.toml")
    assert (code, "Signed by Dr. Ada (invented)" in told) == (Exit.DONE, True)
    forged = new.replace("revision = 2", "revision = 3").replace("= 30 ", "= 300 ", 1)
    code, told = take(forged, name="second.toml")
    assert code == Exit.BAD_INPUT
    assert "THE SIGNATURE DOES NOT HOLD" in told
    assert in_use() == new


def test_no_plan_is_taken_while_a_session_runs(take: Run) -> None:
    assert take(BASE)[0] == Exit.DONE
    journals = paths.dog_folder("Juniper") / "journals"
    DISK.make_folder(journals)
    lock = DISK.lock(journals, "2026-11-25T10:00:00+01:00")
    try:
        code, told = take(BASE.replace("revision = 1", "revision = 2", 1))
    finally:
        DISK.close(lock)
    assert code == Exit.BAD_INPUT
    assert "a session is running" in told
    assert in_use() == BASE


def test_a_full_disk_leaves_the_old_plan_in_use(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, take: Run
) -> None:
    assert take(BASE)[0] == Exit.DONE
    new = tmp_path / "next.toml"
    new.write_text(BASE.replace("revision = 1", "revision = 2", 1))
    plan_file = load_plan(new, today=TODAY)

    def full(fd: int) -> None:
        raise OSError(28, "No space left on device", "plan.toml")

    monkeypatch.setattr("os.fsync", full)
    folder = paths.dog_folder("Juniper")
    at = datetime.datetime(2026, 11, 25, tzinfo=datetime.UTC)
    with pytest.raises(OSError, match="No space"):
        put_in_place(plan_file, folder, at=at)
    assert in_use() == BASE
    assert [p.name for p in folder.rglob("*") if p.is_file()] == ["plan.toml"]


def plan(text: str) -> Plan:
    return read_plan(text, file="p.toml", today=TODAY)


@given(
    st.lists(
        st.sampled_from(
            [
                ("move_seconds = 8", "move_seconds = 12"),
                ('advance = "auto"', 'advance = "wait"'),
                ("weight_kg = 9.5", "weight_kg = 10.25"),
                ("wavelength_nm = 808", "wavelength_nm = 810"),
                ("beam_area_cm2 = 0.5", "beam_area_cm2 = 0.6"),
                ("seconds_each_side = 30", "leave_out = true"),
                ("valid_until = 2099-12-31", "valid_until = 2027-01-31"),
                ('note = "From the side', 'priority = 2\nnote = "From a side'),
                ("weeks = 2", "weeks = 3"),
                ('name = "induction"', 'name = "induction"\nstarts_on = 2026-11-30'),
                ('name = "taper"', 'name = "taper"\nrest_days = ["sunday"]'),
                ('clinic = "Practice', 'clinic = "Clinic'),
                ("[dog]", "[limits]\nmost_a_day = 1\n[dog]"),
            ]
        ),
        unique=True,
    )
)
def test_nothing_that_differs_is_passed_over(edits: list[tuple[str, str]]) -> None:
    text = BASE
    for was, now in edits:
        assert was in text
        text = text.replace(was, now, 1)
    told = changes(plan(BASE), plan(text))
    assert len(told) >= len(edits)
    assert (told == []) == (edits == [])
    for line in told:
        assert "{" not in line
        # No name of a field of the plan file is shown to an owner.
        assert not re.search(r"[a-z]+_[a-z]+|[a-z]\.[a-z]", line), line


def test_what_the_prescriber_left_unsaid_is_told_before_the_plan_is_taken(take: Run) -> None:
    silent = BASE.replace("seconds_each_side = 30", "")
    assert silent != BASE
    code, told = take(silent)
    assert code == Exit.DONE
    told = " ".join(told.split())
    assert "Ask your vet to look at this again:" in told
    assert "- settle: the plan does not say how long the opening at the top of the neck" in told
    assert "settle: the plan" not in take(BASE.replace("revision = 1", "revision = 2"))[1]
