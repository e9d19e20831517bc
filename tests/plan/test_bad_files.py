"""Files that hold no plan: refused with a reason, at once, whatever they are."""

import os
import random
from pathlib import Path

import pytest

from coach.plan.files import load_plan
from coach.plan.problems import PlanProblems, Problem
from tests.plan.worlds import PLAN, TODAY


def refused(path: Path) -> tuple[Problem, ...]:
    with pytest.raises(PlanProblems) as raised:
        load_plan(path, today=TODAY)
    assert all(problem.file == str(path) for problem in raised.value.problems)
    return raised.value.problems


def told(path: Path) -> tuple[str, str, str, int | None]:
    (problem,) = refused(path)
    assert problem.field == ""
    return problem.found, problem.allowed, problem.hint, problem.line


def test_no_such_file(tmp_path: Path) -> None:
    expected = ("no such file", "a plan file", "is the name spelt right?", None)
    assert told(tmp_path / "plan.toml") == expected


def test_a_folder(tmp_path: Path) -> None:
    expected = ("a folder", "a plan file, such as plans/demo-long-back.toml", "", None)
    assert told(tmp_path) == expected


@pytest.mark.parametrize("content", [b"", b"\n \n", b"\xef\xbb\xbf"])
def test_an_empty_file(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(content)
    found, _, _, line = told(path)
    assert (found, line) == ("an empty file", None)


def test_ten_megabytes_of_noise(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(random.Random(11).randbytes(10_000_000))
    assert told(path) == ("more than 100 kB", "at most 100 kB", "is this a plan?", None)


def test_a_kilobyte_of_noise(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(b"\x80" + random.Random(11).randbytes(1000))
    assert told(path) == ("a byte that is not UTF-8 (0x80)", "text saved as UTF-8", "", 1)


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "with a mark"])
def test_an_accent_in_an_old_encoding_is_found_in_its_line(tmp_path: Path, mark: bytes) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(mark + PLAN.replace("Juniper", "Zoé").encode("latin-1"))
    line = PLAN[: PLAN.index("Juniper")].count("\n") + 1
    assert told(path) == ("a byte that is not UTF-8 (0xe9)", "text saved as UTF-8", "", line)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le"])
def test_two_bytes_a_character(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(PLAN.encode(encoding))
    (problem,) = refused(path)
    assert problem.line == 1
    assert str(problem).isprintable()


def test_a_picture(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(64))
    assert told(path) == ("a byte that is not UTF-8 (0x89)", "text saved as UTF-8", "", 1)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    os.mkfifo(path)
    assert told(path) == ("something that is no ordinary file", "a plan file", "", None)


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/null"])
def test_a_device(device: str) -> None:
    assert told(Path(device)) == ("something that is no ordinary file", "a plan file", "", None)


def test_a_link_to_itself(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.symlink_to(path)
    found, *_ = told(path)
    assert found == f"a file that cannot be read: {os.strerror(40)}"


def test_a_dangling_link(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.symlink_to(tmp_path / "gone.toml")
    assert told(path)[0] == "no such file"


def test_a_file_taken_for_a_folder(tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    assert told(tmp_path / "plan.toml" / "plan.toml")[0].startswith("a file that cannot be read")


def test_a_name_that_is_too_long(tmp_path: Path) -> None:
    assert told(tmp_path / ("p" * 300))[0].startswith("a file that cannot be read")


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="only where the kernel has it")
def test_a_file_whose_reading_fails() -> None:
    # An ordinary file for every check, and the first byte of it cannot be read, even by root.
    assert told(Path("/proc/self/mem"))[0] == f"a file that cannot be read: {os.strerror(5)}"


def test_brackets_without_end(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text("coach_plan = 1\nplan = " + "[" * 5_000, encoding="utf-8")
    first = next(problem for problem in refused(path) if problem.line == 2)
    assert first.found == "brackets in brackets, far too deep"


def test_thousands_of_bad_lines_are_cut_short(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text("".join(f"k{n} = ?\n" for n in range(9_000)), encoding="utf-8")
    problems = refused(path)
    assert [problem.line for problem in problems] == list(range(1, len(problems) + 1))
    assert len(problems) <= 21


def test_lines_without_end(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text("coach_plan = 1\n" + "a." * 3001 + "a = 1\n", encoding="utf-8")
    assert told(path) == ("a line of 6007 characters", "at most 6000", "", 2)
