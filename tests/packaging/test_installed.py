"""The wheel and the sdist, installed without extras: as somebody has them who has no checkout.

Each is installed into a fresh environment and run from another folder with a fresh home: what the
program needs has to be in it. Wants the index that pip is set to use.
"""

import subprocess
import venv
from pathlib import Path

import pytest

from coach.cli import FILES
from coach.cli.exits import Exit
from tests.rounds import through

pytestmark = pytest.mark.long

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "plans" / "demo-long-back.toml"
# Only ends a hang.
HANGS_S = 1200


def pip(python: Path, *words: str) -> None:
    """Install; where nothing can be fetched the test is skipped."""
    done = subprocess.run(
        [python, "-m", "pip", "install", "--quiet", "--retries", "1", *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=HANGS_S,
    )
    if "Retrying (" in done.stderr or "connection broken" in done.stderr:
        pytest.skip(f"nothing can be fetched here: {done.stderr[-500:]}")
    assert done.returncode == 0, done.stderr


def fresh(folder: Path) -> Path:
    """The Python of a new environment."""
    venv.create(folder, with_pip=True)
    return folder / "bin" / "python"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the wheel and the sdist, as the build backend writes them."""
    folder = tmp_path_factory.mktemp("built")
    python = fresh(folder / "builder")
    pip(python, "hatchling>=1.26")
    build = [
        str(python),
        "-m",
        "hatchling",
        "build",
        "-t",
        "sdist",
        "-t",
        "wheel",
        "-d",
        str(folder),
    ]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True, timeout=HANGS_S)
    return folder


@pytest.mark.parametrize("kind", ["whl", "tar.gz"])
def test_what_is_installed_coaches_a_whole_evening(built: Path, kind: str, tmp_path: Path) -> None:
    (package,) = built.glob(f"*.{kind}")
    python = fresh(tmp_path / "env")
    pip(python, str(package))
    home, elsewhere = tmp_path / "home", tmp_path / "elsewhere"
    home.mkdir()
    elsewhere.mkdir()
    plan = elsewhere / "plan.toml"
    plan.write_bytes(DEMO.read_bytes())

    def coach(*words: str | Path, stdin: str = "", ends: int = Exit.DONE) -> str:
        done = subprocess.run(
            [python.with_name("coach"), *words],
            input=stdin,
            capture_output=True,
            text=True,
            check=False,
            timeout=HANGS_S,
            cwd=elsewhere,
            env={"PATH": "/usr/bin:/bin", "HOME": str(home), "LANG": "C.UTF-8"},
        )
        assert done.returncode == ends, (words, done.stdout, done.stderr)
        assert "Traceback" not in done.stderr, done.stderr
        return done.stdout

    # It is what was installed that runs, not the folder of the project.
    where = "import coach; print(coach.__file__)"
    found = subprocess.run(
        [python, "-c", where], cwd=elsewhere, check=True, capture_output=True, text=True
    ).stdout
    assert Path(found.strip()).is_relative_to(tmp_path / "env")

    for command in sorted({name for names in FILES.values() for name in names}):
        assert f"coach {command}" in coach(command, "--help"), command
    assert "21 spots" in " ".join(coach("check", plan).split())
    quick = ("--plain", "--silent", "--speed", "1000")
    assert "FINISHED" in coach("rehearse", *quick)
    assert "FERTIG" in coach("rehearse", *quick, "--language", "de").upper()
    coach("draft", "--out", "next.toml", plan)
    assert (elsewhere / "next.toml").is_file()
    coach("take", plan, "--yes")
    answers = through(DEMO) + "\ngo\nstop\n"
    coach("session", "--plain", "--silent", stdin=answers, ends=Exit.ENDED_EARLY)
    assert "whole" in coach("verify")
    coach("handover", "--to", "out")
    (folder,) = (elsewhere / "out").iterdir()
    assert "every figure agrees" in coach("verify", folder)
