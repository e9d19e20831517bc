"""``coach tally`` and ``coach verify`` over bad journals: each is told, the rest is read.

Each runs as a process of its own with little memory, so that reading a file whole would fail.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from coach.cli.exits import Exit
from coach.journal.journal import Journal
from tests.record.conftest import MakeJournal
from tests.worlds import Clock, QuickDisk, header_for, spots_for

pytestmark = pytest.mark.long

ROOT = Path(__file__).parents[2]
LIMIT_KIB = 768 * 1024
GIBIBYTE = 1 << 30


def coach(*words: str) -> subprocess.CompletedProcess[str]:
    """The real program with no more address space than that (bash's ulimit)."""
    limited = ["bash", "-c", f'ulimit -v {LIMIT_KIB}; exec "$@"', "limited"]
    return subprocess.run(
        [*limited, sys.executable, "-m", "coach", *words],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
        timeout=300,
    )


@pytest.fixture
def bad(make_journal: MakeJournal, folder: Path) -> dict[str, str]:
    """The folder with one good journal and these bad ones: name and what must be said of it."""
    good = make_journal()
    raw = good.read_bytes()
    other_version = "000002-Zweiter Abend 🐕.jsonl"
    (folder / other_version).write_bytes(raw.replace(b'"v":1', b'"v":2', 1))
    (folder / "000003-empty.jsonl").touch()
    (folder / "000004-noise.jsonl").write_bytes(bytes(range(256)) * 64)
    with (folder / "000005-zeros.jsonl").open("wb") as file:
        file.truncate(GIBIBYTE)
    (folder / "000006-loop.jsonl").symlink_to("000006-loop.jsonl")
    (folder / "000007-folder.jsonl").mkdir()
    (folder / "000008-dangling.jsonl").symlink_to("nowhere")
    return {
        other_version: "schema 2",
        "000003-empty.jsonl": "an empty file",
        "000004-noise.jsonl": "something else",
        "000005-zeros.jsonl": "something else",
        "000006-loop.jsonl": "symbolic links",
        "000007-folder.jsonl": "directory",
        "000008-dangling.jsonl": "No such file",
    }


def test_tally_tells_each_bad_journal_and_counts_the_rest(
    bad: dict[str, str], folder: Path
) -> None:
    done = coach("tally", str(folder))
    assert done.returncode == Exit.BAD_INPUT
    assert "Every spot had its seconds." in done.stdout
    told = done.stderr.splitlines()
    assert len(told) == len(bad)
    for line, (name, found) in zip(told, sorted(bad.items()), strict=True):
        assert name in line
        assert found in line
        assert "allowed: " in line


def test_verify_tells_each_bad_journal_and_checks_the_rest(
    bad: dict[str, str], folder: Path
) -> None:
    done = coach("verify", "--json", str(folder))
    assert done.returncode == Exit.NOT_WHOLE, done.stderr
    results = {Path(j["path"]).name: j for j in json.loads(done.stdout)["journals"]}
    for name, found in bad.items():
        assert results[name]["verdict"] == "unreadable"
        assert found in " ".join(results[name]["findings"])
    (good,) = [j for name, j in results.items() if name not in bad]
    assert good["verdict"] == "whole"


def test_a_gigabyte_of_zeros_after_a_journal_is_read_in_little_memory(
    make_journal: MakeJournal, folder: Path
) -> None:
    path = make_journal(closed=False)
    with path.open("r+b") as file:
        file.truncate(GIBIBYTE)
    done = coach("verify", str(folder))
    assert done.returncode == Exit.NOT_WHOLE, done.stderr
    assert "set aside" in done.stdout
    done = coach("tally", str(folder))
    assert done.returncode == Exit.DONE, done.stderr
    assert "set aside, not counted" in " ".join(done.stderr.split())
    assert "Every spot had its seconds." in done.stdout


def test_whole_lines_without_end_are_refused_before_they_fill_the_memory(
    make_journal: MakeJournal, folder: Path
) -> None:
    good = make_journal()
    journal = Journal.create(
        folder, header=header_for(spots_for([10])), stamp=Clock().stamp, disk=QuickDisk()
    )
    for _ in range(150):
        journal.append("notice", {"at_ns": 0, "what": "talk", "text": "x" * 1_000_000})
    journal.close()
    done = coach("tally", str(folder))
    assert done.returncode == Exit.BAD_INPUT
    assert f"{journal.path}: found more than 32 MiB of lines" in done.stderr
    assert "Every spot had its seconds." in done.stdout
    done = coach("verify", str(good), str(journal.path))
    assert done.returncode == Exit.NOT_WHOLE
    assert "NOT READ" in done.stdout
    assert "whole: every line" in done.stdout


@pytest.mark.skipif(
    os.geteuid() == 0 and shutil.which("setpriv") is None, reason="root reads everything"
)
def test_a_journal_that_may_not_be_read_is_told(make_journal: MakeJournal, tmp_path: Path) -> None:
    good = make_journal()
    shut = tmp_path / "shut away 🔒.jsonl"
    shutil.copy(good, shut)
    shut.chmod(0)
    words = [sys.executable, "-m", "coach", "tally", str(shut), str(good)]
    if os.geteuid() == 0:
        # Root without its right to read everything.
        drop = "-dac_override,-dac_read_search"
        words = ["setpriv", f"--bounding-set={drop}", f"--inh-caps={drop}", *words]
    done = subprocess.run(words, capture_output=True, text=True, cwd=ROOT, check=False, timeout=60)
    assert done.returncode == Exit.BAD_INPUT
    assert str(shut) in done.stderr
    assert "Permission denied" in done.stderr
    assert "Every spot had its seconds." in done.stdout


def test_a_journal_of_another_dog_is_counted_apart(
    make_journal: MakeJournal, folder: Path, tmp_path: Path
) -> None:
    make_journal()
    header = header_for(spots_for([10]))
    journal = Journal.create(
        folder,
        header={**header, "dog": {"name": "Rex", "weight_kg": "30"}},
        stamp=Clock().stamp,
        disk=QuickDisk(),
    )
    journal.append("session_started", {"at_ns": 0})
    journal.finish({"given_ns": [0]})
    journal.close()
    done = coach("tally", "--json", str(folder))
    assert done.returncode == Exit.DONE
    course = json.loads(done.stdout)["course"]
    assert {entry["dog"]: entry["sessions"] for entry in course} == {"Pip": 1, "Rex": 1}
