"""The unit files as systemd's own tools see them, and who may overwrite what."""

import os
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from coach.appliance.units import NotPlain, Place, Scope, rendered, standing, templates

# Of 100 points; systemd-analyze calls up to 4.9 of 10 "OK".
MOST_EXPOSED = "30"
SCOPES: tuple[Scope, ...] = ("system", "user")

ANALYZE = shutil.which("systemd-analyze")
needs_analyze = pytest.mark.skipif(ANALYZE is None, reason="systemd-analyze is not installed")

PLACE = Place(
    user="games",
    uid=5,
    lang="C.UTF-8",
    coach=Path("/bin/true"),
    cage=Path("/bin/true"),
    state=Path("/var/tmp/state"),
    cache=Path("/var/tmp/cache"),
    config=Path("/var/tmp/config"),
)


def written(folder: Path, scope: Scope) -> list[Path]:
    made = []
    for template in templates(scope):
        path = folder / template.name
        path.write_text(rendered(template.read_text(encoding="utf-8"), PLACE), encoding="utf-8")
        made.append(path)
    return made


def analyze(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    assert ANALYZE is not None
    return subprocess.run(
        [ANALYZE, "--no-pager", *words],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "XDG_RUNTIME_DIR": str(folder)},
        timeout=60,
    )


@needs_analyze
@pytest.mark.parametrize("scope", SCOPES)
def test_systemd_finds_nothing_wrong_with_the_units(tmp_path: Path, scope: Scope) -> None:
    paths = written(tmp_path, scope)
    assert len(paths) >= 2
    done = analyze(tmp_path, f"--{scope}", "verify", "--man=no", *map(str, paths))
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@needs_analyze
@pytest.mark.parametrize("scope", SCOPES)
def test_every_service_is_exposed_no_more_than_agreed(tmp_path: Path, scope: Scope) -> None:
    for path in written(tmp_path, scope):
        if path.suffix == ".service":
            done = analyze(
                tmp_path, "security", "--offline=true", f"--threshold={MOST_EXPOSED}", str(path)
            )
            assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("scope", SCOPES)
def test_nothing_runs_as_root_and_no_hole_is_left_in_a_template(scope: Scope) -> None:
    for template in templates(scope):
        text = template.read_text(encoding="utf-8")
        if scope == "system":
            assert "\nUser=@USER@\n" in text
        assert "@" not in rendered(text, PLACE).replace("@tty1", "").replace(
            "@system-service", ""
        ).replace("@privileged @resources", "")


def test_root_and_words_that_a_unit_cannot_hold_are_refused_all_at_once() -> None:
    bad = replace(PLACE, user="root", uid=0, coach=Path("/opt/my dog/coach"), lang="100%")
    with pytest.raises(NotPlain) as caught:
        rendered("@USER@", bad)
    told = str(caught.value).splitlines()
    assert len(told) == 3
    assert "'/opt/my dog/coach'" in told[1]


def test_only_what_we_wrote_and_nobody_changed_is_ours_to_touch() -> None:
    old, new = rendered("[Unit]\nA=@USER@\n", PLACE), rendered("[Unit]\nB=@USER@\n", PLACE)
    assert standing(None, new) == "absent"
    assert standing(new, new) == "same"
    assert standing(old, new) == "older"
    assert standing(old + "# my own line\n", new) == "changed"
    assert standing("[Unit]\nA=1\n", new) == "foreign"
    assert standing("", new) == "foreign"
