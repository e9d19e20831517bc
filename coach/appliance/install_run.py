"""Does what ``install.py`` found to be done, and looks at the machine for it."""

import compileall
import getpass
import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Collection, Sequence
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

import coach
from coach.appliance.install import KIOSK_PACKAGES, PACKAGES, Intent, Machine, Step
from coach.appliance.units import Place, Scope

ANSWER_WITHIN_S = 60
Run = Callable[[Sequence[str]], int]


class NotDone(Exception):  # noqa: N818  (told with the step, not a fault of ours)
    """A step that could not be done; those before it are done."""


def machine_here(*, state: Path, cache: Path, config: Path) -> Machine:
    """What is found on this machine, for the user who runs this."""
    beside = Path(sys.executable).with_name("coach")
    found = shutil.which("coach")
    command = beside if beside.exists() or found is None else Path(found)
    cage = shutil.which("cage")
    home = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    return Machine(
        place=Place(
            user=getpass.getuser(),
            uid=os.getuid(),
            lang=os.environ.get("LANG") or "C.UTF-8",
            coach=command,
            cage=Path(cage or "/usr/bin/cage"),
            state=state,
            cache=cache,
            config=config,
            home=Path(os.environ["COACH_HOME"]) if os.environ.get("COACH_HOME") else None,
        ),
        units={"system": Path("/etc/systemd/system"), "user": home / "systemd" / "user"},
        manager=_no_manager(),
        sudo=shutil.which("sudo") is not None,
        enabled=_enabled,
        missing=_missing([*PACKAGES, *KIOSK_PACKAGES]),
        desktop=Path("/etc/systemd/system/display-manager.service").exists(),
        graphics=Path("/dev/dri").is_dir(),
        compiled=_compiled(),
        server=importlib.util.find_spec("textual_serve") is not None,
        apt=shutil.which("apt-get") is not None,
        lingering=lingering(getpass.getuser()),
        on_path=found is not None,
        link=Path.home() / ".local" / "bin" / "coach",
        lingering_mark=config / "lingering-by-install",
    )


def lingering(user: str) -> bool:
    """Whether the services of ``user`` run without a login; loginctl(1) keeps a file a user."""
    return (Path("/var/lib/systemd/linger") / user).exists()


def do(intent: Intent, *, run: "Run | None" = None) -> None:
    """Do every step in its order. Raises NotDone at the first that fails."""
    for step in intent.steps:
        try:
            _do(step, run or _run)
        except OSError as error:
            raise NotDone(f"{step.says}: {error}") from error


def _do(step: Step, run: Run) -> None:
    if step.folder is not None:
        step.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if step.compiles:
        _compile()
    if step.write is not None:
        _write(*step.write, run=run if step.as_root else None)
    if step.link is not None:
        link, leads_to = step.link
        link.parent.mkdir(parents=True, exist_ok=True)
        if link.is_symlink():
            link.unlink()
        link.symlink_to(leads_to)
    if step.remove is not None:
        if step.as_root:
            _told(run(["sudo", "rm", "--", str(step.remove)]), step.says)
        else:
            step.remove.unlink()
    if step.command:
        _told(run([*(["sudo"] if step.as_root else []), *step.command]), step.says)


def _told(code: int, says: str) -> None:
    if code != 0:
        raise NotDone(f"{says}: exit code {code}")


def _write(path: Path, text: str, *, run: Run | None) -> None:
    """Whole or not at all: first beside it, or in our own folder when root has to put it there."""
    if run is None:
        path.parent.mkdir(parents=True, exist_ok=True)
    folder = path.parent if run is None else None
    with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=folder, delete=False) as file:
        part = Path(file.name)
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    try:
        if run is None:
            part.chmod(0o644)
            part.replace(path)
        else:
            words = ["sudo", "install", "-D", "-m", "644", "-o", "root", "-g", "root"]
            _told(run([*words, "--", str(part), str(path)]), f"write {path}")
    finally:
        part.unlink(missing_ok=True)


PROGRAM = Path(coach.__file__).parent


def _compile() -> None:
    with redirect_stdout(StringIO()):
        # What lies where we may not write starts a little later, no more.
        compileall.compile_dir(PROGRAM, quiet=2)


def _compiled() -> bool:
    if not os.access(PROGRAM, os.W_OK):
        return True
    pairs = ((path, _cached(path)) for path in PROGRAM.rglob("*.py"))
    return all(
        cached.exists() and cached.stat().st_mtime_ns >= path.stat().st_mtime_ns
        for path, cached in pairs
    )


def _cached(path: Path) -> Path:
    return Path(importlib.util.cache_from_source(str(path)))


def _run(words: Sequence[str]) -> int:
    return subprocess.run(words, check=False).returncode  # noqa: S603  (our own fixed words)


def _no_manager() -> str:
    if shutil.which("systemctl") is None:
        return "there is no systemd here"
    # sd_booted(3)
    if not Path("/run/systemd/system").is_dir():
        return "systemd does not run here (a container, or another init)"
    return ""


def _enabled(scope: Scope, name: str) -> bool:
    words = ["systemctl", f"--{scope}", "is-enabled", name]
    try:
        done = subprocess.run(  # noqa: S603  (our own fixed words)
            words, check=False, capture_output=True, timeout=ANSWER_WITHIN_S
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    # Not its exit code: a unit that others start ("static") has 0 too.
    return done.stdout.strip() == b"enabled"


def _missing(packages: Sequence[str]) -> Collection[str]:
    """Those that are not installed; where there is no dpkg, those whose program is not found."""
    if shutil.which("dpkg-query") is None:
        programs = [name for name in packages if name in ("cage", "foot")]
        return [name for name in programs if shutil.which(name) is None]
    asked = subprocess.run(  # noqa: S603  (our own fixed words)
        ["dpkg-query", "-W", "-f", "${Package} ${Status}\n", *packages],  # noqa: S607
        check=False,
        capture_output=True,
        text=True,
        timeout=ANSWER_WITHIN_S,
    )
    there = {line.split()[0] for line in asked.stdout.splitlines() if "ok installed" in line}
    return [name for name in packages if name not in there]
