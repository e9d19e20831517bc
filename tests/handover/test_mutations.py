"""One byte, line or file of the evidence changed at random: never good without a word."""

import random
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.handover.folder import write_handover
from coach.handover.recheck import recheck
from coach.journal.journal import log_files
from coach.journal.signing import DeviceKey
from coach.record.summary_cache import summary_of
from coach.record.verify import verify_all
from tests.handover.conftest import MADE
from tests.handover.dogs import PLAN, session

KEY = DeviceKey(b"\x05" * 32)
DAYS = ("2026-11-10", "2026-11-12", "2026-11-14")
FEW = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
MANY = settings(FEW, max_examples=2000)


@pytest.fixture(scope="module")
def home() -> Iterator[Path]:
    """Three signed sessions of an invented dog."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "pip"
        folder.mkdir()
        (folder / "plan.toml").write_text(PLAN.replace('"Juniper"', '"Pip"'))
        for day in DAYS:
            session(folder, day, key=KEY)
        yield folder


@pytest.fixture(scope="module")
def handover(home: Path) -> Iterator[Path]:
    """What their device handed over; the report costs nothing here."""
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as name:
        patch.setattr("coach.handover.report.report_pdf", lambda _: b"%PDF")
        to = Path(name)
        done = write_handover(home, to, made=MADE, signer=KEY, with_names=True, zipped=False)
        yield done.path


def byte(path: Path, dice: random.Random) -> None:
    raw = bytearray(path.read_bytes())
    raw[dice.randrange(len(raw))] ^= dice.randrange(1, 256)
    path.write_bytes(raw)


def line(path: Path, dice: random.Random) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    at = dice.randrange(len(lines))
    other = dice.randrange(len(lines))
    match dice.choice(["drop", "twice", "swap", "cut"]):
        case "drop":
            del lines[at]
        case "twice":
            lines.insert(other, lines[at])
        case "swap":
            lines[at], lines[other] = lines[other], lines[at]
        case "cut":
            lines[at] = lines[at][: dice.randrange(len(lines[at]))]
    path.write_bytes(b"".join(lines))


def whole(path: Path, dice: random.Random) -> None:
    name = path.with_name(f"{dice.randrange(10):06d}{path.name[6:]}")
    match dice.choice(["gone", "empty", "copy", "renamed", "grown"]):
        case "gone":
            path.unlink()
        case "empty":
            path.write_bytes(b"")
        case "copy":
            shutil.copy(path, name) if name != path else path.unlink()
        case "renamed":
            path.rename(name) if name != path else path.unlink()
        case "grown":
            path.write_bytes(path.read_bytes() + dice.randbytes(dice.randrange(1, 50)))


HARMS: list[Callable[[Path, random.Random], None]] = [byte, line, whole]


def files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != ".lock"
    }


def harmed(
    source: Path, folder: Path, harm: Callable[[Path, random.Random], None], seed: int
) -> bool:
    """Whether the copy in ``folder`` differs from ``source`` now."""
    shutil.copytree(source, folder)
    dice = random.Random(seed)
    path = folder / dice.choice(list(files(folder)))
    harm(path, dice)
    before, after = files(source), files(folder)
    # A second list under another name is no evidence of anything: nobody reads it.
    return before != {
        name: content
        for name, content in after.items()
        if name in before or name.endswith(".jsonl")
    }


def never_good_home(source: Path, harm: Callable[[Path, random.Random], None], seed: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "journals"
        if not harmed(source / "journals", folder, harm, seed):
            return
        results = verify_all(log_files(folder), key=KEY.public_key)
        assert not all(one.good and not one.remarks for one in results)
        # What can still be read is summed, and never more than there was.
        assert len(summary_of(folder).counted("Pip")) <= len(DAYS)


def never_good_handover(
    source: Path, harm: Callable[[Path, random.Random], None], seed: int
) -> None:
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as name:
        patch.setattr("coach.handover.report.report_pdf", lambda _: b"%PDF")
        folder = Path(name) / "handover"
        if harmed(source, folder, harm, seed):
            assert recheck(folder, key=KEY.public_key).findings


@pytest.mark.parametrize("harm", HARMS, ids=lambda harm: harm.__name__)
@FEW
@given(seed=st.integers(0, 2**32))
def test_a_home(home: Path, harm: Callable[[Path, random.Random], None], seed: int) -> None:
    never_good_home(home, harm, seed)


@pytest.mark.parametrize("harm", HARMS, ids=lambda harm: harm.__name__)
@FEW
@given(seed=st.integers(0, 2**32))
def test_a_handover(handover: Path, harm: Callable[[Path, random.Random], None], seed: int) -> None:
    never_good_handover(handover, harm, seed)


@pytest.mark.long
@pytest.mark.parametrize("harm", HARMS, ids=lambda harm: harm.__name__)
@MANY
@given(seed=st.integers(0, 2**32))
def test_a_home_often(home: Path, harm: Callable[[Path, random.Random], None], seed: int) -> None:
    never_good_home(home, harm, seed)


@pytest.mark.long
@pytest.mark.parametrize("harm", HARMS, ids=lambda harm: harm.__name__)
@MANY
@given(seed=st.integers(0, 2**32))
def test_a_handover_often(
    handover: Path, harm: Callable[[Path, random.Random], None], seed: int
) -> None:
    never_good_handover(handover, harm, seed)


def test_untouched_they_are_good(home: Path, handover: Path) -> None:
    results = verify_all(log_files(home / "journals"), key=KEY.public_key)
    assert [(one.good, one.remarks) for one in results] == [(True, ())] * len(DAYS)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("coach.handover.report.report_pdf", lambda _: b"%PDF")
        assert recheck(handover, key=KEY.public_key).findings == ()
