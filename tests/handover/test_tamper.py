"""What whoever owns the disk does to the evidence, act by act, and who tells it.

Each act is done to the home of an invented dog whose four sessions this device has signed, then
looked at four ways: ``coach verify`` on the device (with its own key, unasked), ``coach verify
--key`` over the logs elsewhere, a handover that the unknowing device made of it and signed, and
the practice's list. Acts on a handover come after them.
"""

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.folder import write_handover, write_manifest
from coach.handover.log_doubts import doubts
from coach.handover.recheck import recheck
from coach.journal import journal_lines
from coach.journal.closed_index import NAME
from coach.journal.journal_lines import GENESIS
from coach.journal.repair import repair
from coach.journal.repair_check import stamp_of
from coach.journal.signing import DeviceKey
from tests.handover.conftest import MADE
from tests.handover.dogs import session
from tests.record.test_order import as_of_0_1_0, chained, harmed
from tests.worlds import QuickDisk

pytestmark = pytest.mark.usefixtures("plain_report")

DAYS = ("2026-11-10", "2026-11-12", "2026-11-14", "2026-11-16")
STRANGER = DeviceKey(b"\x07" * 32)


@dataclass(frozen=True)
class Home:
    """A dog's folder and its logs."""

    folder: Path
    logs: list[Path]

    @property
    def journals(self) -> Path:
        return self.folder / "journals"

    def copy(self, of: int, number: int) -> Path:
        path = self.logs[of - 1]
        return Path(shutil.copy(path, path.with_name(f"{number:06d}{path.name[6:]}")))


@pytest.fixture
def home(dog: Path, key: DeviceKey) -> Home:
    return Home(dog, [session(dog, day, key=key) for day in DAYS])


def edited(path: Path, signer: DeviceKey | None) -> None:
    """The same session with twice the seconds on its first spot, chained anew."""
    total, out = GENESIS, b""
    for raw in path.read_bytes().splitlines():
        fields = json.loads(raw)
        data = fields["data"]
        data.pop("signed", None)
        if fields["kind"] == "session_opened":
            data["spots"][0]["hold_ns"] *= 2
        if fields["kind"] == "hold_ended" and data["spot"] == 0:
            data["given_ns"] *= 2
        if fields["kind"] == "session_closed":
            data["given_ns"][0] *= 2
        line, total = journal_lines.encode(
            seq=fields["seq"],
            stamp=stamp_of(fields),
            kind=fields["kind"],
            data=data,
            previous=total,
            signer=signer if fields["kind"] == "session_closed" else None,
        )
        out += line
    path.write_bytes(out)


def flipped(home: Home) -> None:
    harmed(home.logs[1])


def line_removed(home: Home) -> None:
    lines = home.logs[1].read_bytes().splitlines(keepends=True)
    home.logs[1].write_bytes(b"".join(lines[:5] + lines[6:]))


def tail_cut(home: Home) -> None:
    lines = home.logs[1].read_bytes().splitlines(keepends=True)
    home.logs[1].write_bytes(b"".join(lines[:-3]))


def newest_tail_cut(home: Home) -> None:
    lines = home.logs[3].read_bytes().splitlines(keepends=True)
    home.logs[3].write_bytes(b"".join(lines[:-3]))


def replayed(home: Home) -> None:
    home.copy(3, 5)


def replayed_over(home: Home) -> None:
    home.logs[3].write_bytes(home.logs[2].read_bytes())


def replayed_0_1_0(home: Home) -> None:
    as_of_0_1_0(home.journals)
    home.copy(3, 5)


def renumbered(home: Home) -> None:
    home.logs[3].rename(home.logs[3].with_name("000009" + home.logs[3].name[6:]))


def edited_by_a_stranger(home: Home) -> None:
    edited(home.logs[1], STRANGER)


def newest_edited_by_a_stranger(home: Home) -> None:
    edited(home.logs[3], STRANGER)


def newest_edited_unsigned(home: Home) -> None:
    edited(home.logs[3], None)


def first_removed(home: Home) -> None:
    home.logs[0].unlink()


def first_removed_and_from_the_list(home: Home) -> None:
    home.logs[0].unlink()
    (home.journals / NAME).unlink()


def middle_removed(home: Home) -> None:
    home.logs[1].unlink()


def newest_removed(home: Home) -> None:
    home.logs[3].unlink()


def list_removed(home: Home) -> None:
    (home.journals / NAME).unlink()


def list_cut(home: Home) -> None:
    lines = (home.journals / NAME).read_bytes().splitlines(keepends=True)
    (home.journals / NAME).write_bytes(b"".join(lines[:3]))


def slipped_in(home: Home) -> None:
    session(home.folder, "2026-11-17", key=STRANGER)


def left_open_slipped_in(home: Home) -> None:
    session(home.folder, "2026-11-17", close=False)


def repair_forged(home: Home) -> None:
    new = repair(harmed(home.logs[1]), disk=QuickDisk()).path
    more = new.read_bytes().replace(b'"given_ns":30000000000', b'"given_ns":90000000000')
    new.write_bytes(chained(more))


def repair_without_its_source(home: Home) -> None:
    repair(harmed(home.logs[1]), disk=QuickDisk())
    home.logs[1].unlink()


def another_dogs_session(home: Home) -> None:
    other = home.folder.with_name("rex")
    other.mkdir()
    path = session(other, "2026-11-18", dog="Rex", key=STRANGER)
    shutil.copy(path, home.journals / ("000005" + path.name[6:]))


ACTS: list[Callable[[Home], None]] = [
    flipped,
    line_removed,
    tail_cut,
    newest_tail_cut,
    replayed,
    replayed_over,
    replayed_0_1_0,
    renumbered,
    edited_by_a_stranger,
    newest_edited_by_a_stranger,
    newest_edited_unsigned,
    first_removed,
    first_removed_and_from_the_list,
    middle_removed,
    newest_removed,
    list_removed,
    list_cut,
    slipped_in,
    left_open_slipped_in,
    repair_forged,
    repair_without_its_source,
    another_dogs_session,
]


def test_untouched_all_four_say_good(
    home: Home, key: DeviceKey, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["verify"]) == Exit.DONE
    assert run(["verify", "--key", key.public_key, str(home.journals)]) == Exit.DONE
    assert doubts(home.journals, key=key.public_key) == []
    to = tmp_path / "practice"
    done = write_handover(home.folder, to, made=MADE, signer=key, with_names=True, zipped=True)
    assert recheck(done.path, key=key.public_key).findings == ()
    assert run(["caseload", str(to)]) == Exit.DONE
    assert "4 sessions" in capsys.readouterr().out


@pytest.mark.parametrize("act", ACTS, ids=lambda act: act.__name__)
def test_what_is_done_to_a_home_is_never_good(
    home: Home,
    key: DeviceKey,
    act: Callable[[Home], None],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    act(home)
    assert run(["verify"]) == Exit.NOT_WHOLE, capsys.readouterr().out
    elsewhere = tmp_path / "elsewhere"
    shutil.copytree(home.journals, elsewhere)
    assert run(["verify", "--key", key.public_key, str(elsewhere)]) == Exit.NOT_WHOLE
    # Before it signs, the device tells its owner what it did not write.
    assert doubts(home.journals, key=key.public_key)
    assert run(["handover", "Pip", "--to", str(tmp_path / "practice"), "--zip"]) == Exit.DONE
    assert "Not as this device wrote it" in capsys.readouterr().err
    (path,) = (tmp_path / "practice").iterdir()
    assert recheck(path, key=key.public_key).findings
    assert recheck(path).findings
    assert run(["caseload", str(tmp_path / "practice")]) == Exit.DONE
    told = capsys.readouterr().out
    sessions = int(re.findall(r"(\d+) sessions?, last", told)[0])
    # What is a copy, another dog's or without its source is in no list; the rest verify tells.
    assert sessions <= 4 + (act in (slipped_in, left_open_slipped_in)), told


def tables_edited(folder: Path) -> None:
    path = folder / "sessions.csv"
    path.write_bytes(path.read_bytes().replace(b"finished", b"stopped"))


def summary_edited(folder: Path) -> None:
    path = folder / "summary.json"
    path.write_bytes(path.read_bytes().replace(b'"Pip"', b'"Rex"'))


def log_edited(folder: Path) -> None:
    edited(sorted((folder / "journals").glob("0*"))[3], STRANGER)


def log_left_out(folder: Path) -> None:
    sorted((folder / "journals").glob("0*"))[0].unlink()


def logs_left_out(folder: Path) -> None:
    for path in (folder / "journals").iterdir():
        path.unlink()


def since_claimed(folder: Path) -> None:
    sorted((folder / "journals").glob("0*"))[0].unlink()
    path = folder / "summary.json"
    summary = json.loads(path.read_bytes())
    summary["made"]["since"] = "2026-11-11"
    path.write_text(json.dumps(summary, indent=2, ensure_ascii=False) + "\n")


HANDED: list[Callable[[Path], None]] = [
    tables_edited,
    summary_edited,
    log_edited,
    log_left_out,
    logs_left_out,
    since_claimed,
]


@pytest.mark.parametrize("signer", [None, STRANGER], ids=["as it is", "signed anew"])
@pytest.mark.parametrize("act", HANDED, ids=lambda act: act.__name__)
def test_what_is_done_to_a_handover_is_never_good(
    home: Home,
    key: DeviceKey,
    act: Callable[[Path], None],
    signer: DeviceKey | None,
    tmp_path: Path,
) -> None:
    done = write_handover(
        home.folder, tmp_path, made=MADE, signer=key, with_names=True, zipped=False
    )
    act(done.path)
    if signer is not None:
        (done.path / "manifest.json").unlink()
        write_manifest(done.path, signer)
    assert recheck(done.path, key=key.public_key).findings
    # Without a key of the device nobody knows that a stranger signed, but the logs say so.
    assert recheck(done.path).findings


@pytest.mark.parametrize("act", [tables_edited, summary_edited], ids=lambda act: act.__name__)
def test_the_practices_list_tells_what_is_not_as_it_was_signed(
    home: Home,
    key: DeviceKey,
    act: Callable[[Path], None],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    to = tmp_path / "practice"
    done = write_handover(home.folder, to, made=MADE, signer=key, with_names=True, zipped=False)
    act(done.path)
    assert run(["caseload", str(to)]) == Exit.BAD_INPUT
    told = capsys.readouterr().err
    assert "changed" in told
    assert f"{act.__name__.partition('_')[0].replace('tables', 'sessions')}." in told
