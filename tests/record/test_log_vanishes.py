"""A log that is taken away, cut or put in another's place while its session runs is noticed."""

import io
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from coach.journal.disk import LOCK_NAME, held_by
from coach.journal.journal import Journal, JournalBusy, JournalError
from coach.lines.line_mode import PlainCoach, Typed
from coach.session.machine import Phase
from coach.session.view import View
from tests.e2e.virtual import START_NS, FakeTime, Script, runner_for
from tests.record.test_disk_fails import DEMO
from tests.worlds import Clock, QuickDisk, header_for, spots_for


def _copied_over(path: Path) -> None:
    other = path.with_name("other")
    shutil.copyfile(path, other)
    other.replace(path)


def _appended(path: Path) -> None:
    with path.open("ab") as file:
        file.write(b"x")


def _renamed(path: Path) -> None:
    path.rename(path.with_suffix(".old"))


def _folder_renamed(path: Path) -> None:
    path.parent.rename(path.parent.with_name("elsewhere"))


def _link_in_place(path: Path) -> None:
    _renamed(path)
    path.symlink_to(path.with_suffix(".old"))


ACTS: dict[str, Callable[[Path], None]] = {
    "deleted": Path.unlink,
    "renamed": _renamed,
    "replaced by a copy": _copied_over,
    "cut short": lambda path: os.truncate(path, 10),
    "written into": _appended,
    "folder removed": lambda path: shutil.rmtree(path.parent),
    "folder renamed": _folder_renamed,
    "a link in its place": _link_in_place,
}


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    return Journal.create(
        tmp_path / "dog", header=header_for(spots_for([5])), stamp=Clock().stamp, disk=QuickDisk()
    )


@pytest.mark.parametrize("act", ACTS)
def test_the_next_line_is_refused(journal: Journal, act: str) -> None:
    journal.append("notice", {"text": "before"})
    ACTS[act](journal.path)
    for _again in range(2):
        with pytest.raises(JournalError, match="not the log that was opened"):
            journal.append("notice", {"text": "after"})
    journal.close()


def test_a_log_that_nobody_touches_goes_on(journal: Journal) -> None:
    for number in range(3):
        journal.append("notice", {"text": str(number)})
    journal.finish({})
    journal.close()


@pytest.mark.parametrize("act", ["deleted", "replaced by a copy", "folder removed"])
def test_the_session_ends_as_with_a_lost_disk(tmp_path: Path, act: str) -> None:
    time = FakeTime()
    runner = runner_for(DEMO, tmp_path / "dog", time)
    out = io.StringIO()
    done: list[int] = []

    class Meddler(Script):
        def wait(self, timeout_s: float | None) -> Typed:
            if time.now_ns > START_NS + 30_000_000_000 and not done:
                done.append(time.now_ns)
                ACTS[act](runner.path)
            return super().wait(timeout_s)

    PlainCoach(runner, Meddler(time, [(0.0, "")]), out=out).run()
    runner.close()
    view: View = runner.view()
    assert done
    assert view.phase is Phase.STOPPED
    assert runner.failure
    assert "FINISHED" not in out.getvalue()


def test_the_lock_outlives_its_file(journal: Journal) -> None:
    folder = journal.path.parent
    (folder / LOCK_NAME).unlink()
    assert held_by(folder) is not None
    with pytest.raises(JournalBusy):
        Journal.create(
            folder, header=header_for(spots_for([5])), stamp=Clock().stamp, disk=QuickDisk()
        )
    journal.close()
    assert held_by(folder) is None
