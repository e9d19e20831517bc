"""Screens and lines kept as text in folders named ``expected``, beside the tests that show them.

To write them anew after a wanted change, and then to read every line of the difference:

    COACH_WRITE_EXPECTED=1 .ci/test tests/screens/test_home.py
    git diff tests

A run that wrote fails, and where CI is set it does not begin: what was written proves nothing.

    python -m tests.expected_texts FILE    are all of them used? FILE lists those that are
"""

import os
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
WRITE = "COACH_WRITE_EXPECTED"
# Names the file to which each expected file that was compared is added.
USED = "COACH_EXPECTED_USED"


def refuse_in_ci() -> None:
    """Raise UsageError when expected texts would be written where nobody reads them."""
    if os.environ.get(WRITE) and os.environ.get("CI"):
        raise pytest.UsageError(f"{WRITE} is set, and CI too: expected texts are written by hand")


def compare(file: Path, seen: str) -> None:
    """``seen`` is what ``file`` holds; with `WRITE` it is written, and the test fails."""
    if used := os.environ.get(USED):
        with Path(used).open("a", encoding="utf-8") as listed:
            listed.write(f"{file.relative_to(TESTS)}\n")
    if os.environ.get(WRITE):
        file.parent.mkdir(exist_ok=True)
        file.write_text(seen, encoding="utf-8")
        pytest.fail(f"written: read the diff of {file}, then run again without {WRITE}")
    assert file.is_file(), f"there is no {file}: write it with {WRITE}=1, and read it"
    assert seen == file.read_text(encoding="utf-8")


def unused(used: str) -> list[str]:
    """The expected files that ``used``, a list with one in each line, does not name."""
    kept = {str(file.relative_to(TESTS)) for file in TESTS.glob("*/expected/*")}
    return sorted(kept - set(used.splitlines()))


if __name__ == "__main__":
    left = unused(Path(sys.argv[1]).read_text(encoding="utf-8"))
    for name in left:
        print(f"tests/{name}: no test compares anything with it; delete it", file=sys.stderr)
    sys.exit(1 if left else 0)
