"""Sessions have ids and numbers: a copy never counts, and what is missing or slipped in is told."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.journal.closed_index import NAME, read_index
from coach.journal.journal import journal_files, journal_names
from coach.journal.repair import repair
from coach.journal.signing import DeviceKey, device_key
from coach.paths import device_key_file, dog_folder
from coach.record.summary_cache import summary_of
from coach.record.verify import verify_all
from tests.handover.dogs import session
from tests.worlds import QuickDisk

DAYS = ("2026-11-10", "2026-11-12", "2026-11-14", "2026-11-16")


@pytest.fixture
def key(own_world: Path) -> DeviceKey:
    return device_key(device_key_file())


@pytest.fixture
def logs(own_world: Path, key: DeviceKey) -> list[Path]:
    """Four evenings of an invented dog, signed by this device."""
    folder = dog_folder("Pip")
    folder.mkdir(parents=True)
    return [session(folder, day, key=key) for day in DAYS]


def as_of_0_1_0(path: Path) -> None:
    """The journals of a folder as the release before wrote them: no id, no number, no list."""
    from coach.journal import journal_lines
    from coach.journal.journal_lines import GENESIS
    from coach.journal.repair_check import stamp_of

    (path / NAME).unlink()
    signer = device_key(device_key_file())
    last: dict[str, object] | None = None
    for log in journal_files(path):
        total, out = GENESIS, b""
        raws = log.read_bytes().splitlines()
        for raw in raws:
            fields = json.loads(raw)
            data = fields["data"]
            if fields["kind"] == "session_opened":
                data = {k: v for k, v in data.items() if k not in ("session", "number")}
                data["after"] = last
            closing = fields["kind"] == "session_closed"
            data.pop("signed", None)
            line, total = journal_lines.encode(
                seq=fields["seq"],
                stamp=stamp_of(fields),
                kind=fields["kind"],
                data=data,
                previous=total,
                signer=signer if closing else None,
            )
            out += line
        log.write_bytes(out)
        last = {"journal": log.name, "sum": total}


def given(folder: Path) -> int:
    """Seconds that count, by the summary."""
    summary = summary_of(folder)
    return sum(brief.given_ns for brief in summary.counted("Pip")) // 10**9


EACH = 140  # 30 + 30 + 40 + 40 s a session


@pytest.mark.parametrize("old", [False, True])
@pytest.mark.parametrize("kept", [False, True])
def test_a_copy_under_another_number_counts_nowhere(
    logs: list[Path], old: bool, kept: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = logs[0].parent
    if old:
        as_of_0_1_0(folder)
    cache = folder.with_name("summary") if kept else None
    before = summary_of(folder, kept=cache).sums("Pip")
    for number in (5, 300):
        shutil.copy(logs[2], folder / logs[2].name.replace("000003", f"{number:06d}"))
    for _again in range(2):
        summary = summary_of(folder, kept=cache)
        assert len(summary.counted("Pip")) == 4
        assert summary.sums("Pip") == before
        assert sum("a copy" in remark for remark in summary.remarks("Pip")) == 2
    results = verify_all(journal_files(folder))
    assert ["a copy" in " ".join(result.findings) for result in results if result.lines] == [
        *[False] * 4,
        True,
        True,
    ]
    assert run(["verify"]) == Exit.NOT_WHOLE
    assert run(["tally", "--course", "Pip"]) == Exit.DONE
    assert "4 sessions" in capsys.readouterr().out


def test_a_log_under_another_name_is_told(logs: list[Path]) -> None:
    folder = logs[0].parent
    logs[3].rename(folder / logs[3].name.replace("000004", "000009"))
    assert given(folder) == 4 * EACH
    (renamed,) = [one for one in verify_all(journal_files(folder)) if "000009" in one.path.name]
    assert "it was written as number 4, not 9" in renamed.findings


def test_two_of_one_number_are_both_there_and_told(
    logs: list[Path], key: DeviceKey, tmp_path: Path
) -> None:
    folder = logs[0].parent
    other = tmp_path / "other"
    (other / "journals").mkdir(parents=True)
    for path in logs[:3]:
        shutil.copy(path, other / "journals")
    merged = session(other, "2026-11-15", key=key)
    shutil.copy(merged, folder)
    assert len(journal_names(folder)) == 5
    assert given(folder) == 5 * EACH
    told = [" ".join(one.findings) for one in verify_all(journal_files(folder))]
    assert ["the same number" in text for text in told] == [False] * 3 + [True] * 2
    assert ["the same predecessor" in text for text in told] == [False] * 3 + [True] * 2


def test_numbers_and_chain_go_on_with_another_plan(own_world: Path, key: DeviceKey) -> None:
    folder = dog_folder("Pip")
    folder.mkdir(parents=True)
    plans = [
        {"id": name, "revision": 1, "digest": "cd" * 32, "prescriber": "Dr. Invented"}
        for name in ("one", "two")
    ]
    first, second = (
        session(folder, day, key=key, header={"plan": plan})
        for day, plan in zip(DAYS, plans, strict=False)
    )
    assert second.name.startswith("000002-")
    assert json.loads(second.read_bytes().splitlines()[0])["data"]["after"]["journal"] == first.name
    assert all(result.good for result in verify_all(journal_files(first.parent)))


def test_the_list_holds_every_closed_session(logs: list[Path], key: DeviceKey) -> None:
    index = read_index(logs[0].parent, key=key.public_key)
    assert index is not None
    assert index.problems == ()
    assert index.begun == 1
    assert [one.name for one in index.listed] == [path.name for path in logs]
    ids = {json.loads(p.read_bytes().splitlines()[0])["data"]["session"] for p in logs}
    assert {one.session for one in index.listed} == ids
    assert len(ids) == 4
    sums = [json.loads(p.read_bytes().splitlines()[-1])["sum"] for p in logs]
    assert [one.closing_sum for one in index.listed] == sums


def test_a_folder_of_0_1_0_gets_a_list_that_says_from_where(
    logs: list[Path], key: DeviceKey
) -> None:
    folder = logs[0].parent
    as_of_0_1_0(folder)
    assert all(result.good for result in verify_all(journal_files(folder), key=key.public_key))
    session(folder.parent, "2026-11-18", key=key)
    session(folder.parent, "2026-11-20", key=key)
    index = read_index(folder, key=key.public_key)
    assert index is not None
    assert (index.begun, [one.number for one in index.listed]) == (5, [5, 6])
    assert all(result.good for result in verify_all(journal_files(folder), key=key.public_key))


class FullDisk(QuickDisk):
    """Whatever is written into a list of sessions fails."""

    def reopen(self, path: Path) -> int:
        if path.name == NAME:
            raise OSError(28, "No space left on device")
        return super().reopen(path)


def test_a_list_that_could_not_be_written_is_made_up_for(
    logs: list[Path], key: DeviceKey, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = logs[0].parent
    with monkeypatch.context() as full:
        full.setattr("tests.handover.dogs.QuickDisk", FullDisk)
        session(folder.parent, "2026-11-18", key=key)
    results = verify_all(journal_files(folder), key=key.public_key)
    assert all(result.good for result in results)
    assert results[-1].remarks == ("it is not in the list of closed sessions yet",)
    session(folder.parent, "2026-11-20", key=key)
    index = read_index(folder)
    assert index is not None
    assert [one.number for one in index.listed] == [1, 2, 3, 4, 5, 6]
    assert all(not one.remarks for one in verify_all(journal_files(folder), key=key.public_key))


def anew(logs: list[Path]) -> None:
    (logs[0].parent / NAME).unlink()
    session(logs[0].parent.parent, "2026-11-18", key=device_key(device_key_file()))


def cut_list(folder: Path, lines: int) -> None:
    raws = (folder / NAME).read_bytes().splitlines(keepends=True)
    (folder / NAME).write_bytes(b"".join(raws[:lines]))


ACTS: dict[str, tuple[Callable[[list[Path]], object], str]] = {
    "the newest gone": (lambda logs: logs[3].unlink(), "session 4 is in it, but missing"),
    "one in the middle gone": (lambda logs: logs[1].unlink(), "session 2 is in it, but missing"),
    "the first gone": (lambda logs: logs[0].unlink(), "the sessions before it are missing"),
    "the list gone": (lambda logs: (logs[0].parent / NAME).unlink(), "missing, though"),
    "the list cut": (
        lambda logs: cut_list(logs[0].parent, 3),
        "it is closed, but not in the list",
    ),
    "the list begun anew": (anew, "begun anew with session 5"),
    "a line of the list changed": (
        lambda logs: (logs[0].parent / NAME).write_bytes(
            (logs[0].parent / NAME).read_bytes().replace(b'"number":2', b'"number":9')
        ),
        "damaged: line 3",
    ),
}


@pytest.mark.parametrize("act", ACTS)
def test_what_was_done_to_a_folder_is_told(
    logs: list[Path], act: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["verify"]) == Exit.DONE, capsys.readouterr().out
    harm, told = ACTS[act]
    harm(logs)
    assert run(["verify"]) == Exit.NOT_WHOLE
    assert told in " ".join(capsys.readouterr().out.split())


def harmed(path: Path) -> Path:
    """Flip a byte in the middle of a log."""
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    path.write_bytes(raw)
    return path


def test_a_repaired_log_counts_while_its_source_is_beside_it(logs: list[Path]) -> None:
    folder = logs[0].parent
    new = repair(harmed(logs[1]), disk=QuickDisk()).path
    assert new.name in journal_names(folder)
    after = given(folder)
    logs[1].unlink()
    assert new.name not in journal_names(folder)
    assert given(folder) == 3 * EACH
    assert after > 3 * EACH
    assert any(
        "repaired, but it does not count" in text for text in summary_of(folder).remarks("Pip")
    )


def test_a_forged_repair_does_not_count(
    logs: list[Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = logs[0].parent
    damaged = harmed(logs[1])
    new = repair(damaged, disk=QuickDisk()).path
    trusted = given(folder)
    more = new.read_bytes().replace(b'"given_ns":30000000000', b'"given_ns":90000000000')
    assert more != new.read_bytes()
    new.write_bytes(chained(more))
    assert new.name not in journal_names(folder)
    assert given(folder) <= trusted
    assert run(["verify", str(new)]) == Exit.NOT_WHOLE
    assert "it is not in the log from which it was repaired" in " ".join(
        capsys.readouterr().out.split()
    )


def chained(content: bytes) -> bytes:
    """The lines with sums that hold."""
    import hashlib

    previous, out = b"0" * 64, b""
    for line in content.splitlines():
        head = line[:-74]
        previous = hashlib.sha256(previous + head).hexdigest().encode()
        out += head + b',"sum":"' + previous + b'"}\n'
    return out


def test_logs_of_a_stranger_are_told_by_the_devices_own_key(
    logs: list[Path], capsys: pytest.CaptureFixture[str]
) -> None:
    stranger = DeviceKey(b"\7" * 32)
    session(logs[0].parent.parent, "2026-11-18", key=stranger)
    assert run(["verify"]) == Exit.NOT_WHOLE
    assert "SIGNED WITH ANOTHER KEY" in capsys.readouterr().out
    # Elsewhere nobody knows whose key it should be.
    assert run(["verify", "--key", stranger.public_key, str(logs[0])]) == Exit.NOT_WHOLE
