"""The pure rooms stay pure: what they import is read from their code, and what that loads is seen
in a fresh process."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import coach

ROOT = Path(coach.__file__).parent
PURE = [
    "language.py",
    "units.py",
    "body",
    "dose",
    "plan",
    "session",
    *(f"journal/{name}.py" for name in ("journal_lines", "diary_entries")),
    *(f"record/{name}.py" for name in ("adherence", "after_questions", "course_tally")),
    *(f"record/{name}.py" for name in ("part", "session_length", "session_row")),
    *(f"record/{name}.py" for name in ("tally", "trend")),
    *(f"reports/{name}.py" for name in ("calendar_json", "calendar_text", "session_json")),
    *(f"reports/{name}.py" for name in ("course_json", "course_text", "session_text")),
    *(f"reports/{name}.py" for name in ("trend_text",)),
    "bedside/score_questions.py",
]
EDGES = {"plan/desk_file.py", "plan/files.py"}
# Loaded only when there is a mistake to point at.
LATE = {"plan/locate.py"}
FORBIDDEN = {"textual", "rich", "asyncio", "time", "os", "subprocess", "socket", "threading"}


def pure_files() -> list[Path]:
    found: list[Path] = []
    for name in PURE:
        place = ROOT / name
        found += sorted(place.rglob("*.py")) if place.is_dir() else [place]
    return [path for path in found if str(path.relative_to(ROOT)) not in EDGES]


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return {name.split(".")[0] for name in names}


@pytest.mark.parametrize("path", pure_files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_a_pure_file_imports_no_clock_no_system_and_no_screen(path: Path) -> None:
    assert imported(path) & FORBIDDEN == set()


def test_pure_rooms_load_neither_screens_nor_an_event_loop() -> None:
    modules = [
        ".".join(("coach", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")
        for path in pure_files()
        if str(path.relative_to(ROOT)) not in LATE
    ]
    code = (
        f"import sys, importlib\n[importlib.import_module(m) for m in {modules!r}]\n"
        "print(sorted({'textual', 'rich', 'asyncio', 'tree_sitter'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_only_screens_import_textual() -> None:
    outside = [
        path
        for path in ROOT.rglob("*.py")
        if path.relative_to(ROOT).parts[0] != "screens" and "textual" in imported(path)
    ]
    assert outside == []
