"""What ``coach install`` and ``coach uninstall`` would do on this machine. Looks; changes nothing.

``install_run.py`` does it. A step says what it is in words; the same words are the dry run.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from coach.appliance.units import NotPlain, Place, Scope, rendered, standing, templates

Screen = Literal["kiosk", "console", "none"]

KIOSK = "dog-bed-coach-kiosk.service"
CONSOLE = "dog-bed-coach-console.service"
REMINDER = "dog-bed-coach-remind.timer"
TABLET = "dog-bed-coach-tablet.service"

# Debian's names, and what each is for.
PACKAGES = {
    "libportaudio2": "the sound stream",
    # Mounts a stick without root, and lets go of it.
    "udisks2": "memory sticks",
}
KIOSK_PACKAGES = {
    "cage": "one program full screen",
    # The compositor of Debian 12 does not start without it, and only recommends it.
    "xwayland": "wanted by the compositor",
    "foot": "the terminal in it",
    "fonts-dejavu-core": "letters and signs",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """What was found here.

    Attributes:
        place: what goes into the units.
        units: where units of each scope lie.
        manager: why there is no service manager to speak to, or "".
        sudo: whether there is a ``sudo`` for the steps that need root.
        enabled: asks whether a unit of a scope is enabled.
        missing: packages that are not installed, as Debian calls them.
        desktop: whether a desktop takes the first display at boot.
        graphics: whether the kernel offers a graphics device.
        compiled: whether the program's files are compiled already.
        server: whether what coach serve needs is installed.
        apt: whether packages can be installed with apt-get.
        lingering: whether the user's own services start without somebody logging in.
        on_path: whether a login finds the ``coach`` command.
        link: where a link to it is put, so that it is found.
        lingering_mark: a file that says that lingering was switched on by install.
    """

    place: Place
    units: dict[Scope, Path]
    manager: str
    sudo: bool
    enabled: Callable[[Scope, str], bool]
    missing: Collection[str]
    desktop: bool
    graphics: bool
    compiled: bool
    server: bool
    apt: bool = False
    lingering: bool = True
    on_path: bool = True
    link: Path = Path("/nowhere/coach")
    lingering_mark: Path = Path("/nowhere/mark")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do.

    Attributes:
        says: in words.
        command: what is run.
        as_root: through sudo.
        folder: a folder to make.
        write: a file to write, with its text.
        remove: a file to remove.
        compiles: the program's own files are compiled.
        link: a link to make, and what it leads to.
    """

    says: str
    command: tuple[str, ...] = ()
    as_root: bool = False
    folder: Path | None = None
    write: tuple[Path, str] | None = None
    remove: Path | None = None
    compiles: bool = False
    link: tuple[Path, Path] | None = None


@dataclass(frozen=True, slots=True)
class Intent:
    """Steps in their order, what the owner should know, and what forbids all of it."""

    steps: tuple[Step, ...]
    notes: tuple[str, ...]
    problems: tuple[str, ...]


def to_install(machine: Machine, *, screen: Screen, reminder: bool, tablet: bool) -> Intent:
    """What has to be done so that the coach comes up by itself; nothing when it is all there."""
    steps, notes, problems = _packages(machine, screen)
    for folder in (machine.place.state, machine.place.cache, machine.place.config):
        if not folder.is_dir():
            steps.append(Step(says=f"make {folder}", folder=folder))
    if not machine.compiled:
        steps.append(Step(says="compile the program, so that it starts sooner", compiles=True))
    if not machine.on_path:
        link = (machine.link, machine.place.coach)
        steps.append(Step(says=f"link {link[0]} to {link[1]}", link=link))
    wanted: dict[Scope, dict[str, bool]] = {
        "user": {
            "dog-bed-coach-remind.service": False,
            REMINDER: True,
            TABLET: True,
        },
        "system": {KIOSK: screen == "kiosk", CONSOLE: screen == "console"},
    }
    if not reminder:
        del wanted["user"]["dog-bed-coach-remind.service"], wanted["user"][REMINDER]
    if not tablet:
        del wanted["user"][TABLET]
    if screen == "none":
        wanted["system"] = {}
    elif screen == "console":
        del wanted["system"][KIOSK]
    if machine.manager:
        if any(wanted.values()):
            notes.append(f"Nothing will start by itself: {machine.manager}.")
            notes.append("Start the coach by hand with: coach bedside")
        return Intent(tuple(steps), tuple(notes), ())
    if reminder:
        notes.append("Say when it may remind you: coach remind --between 18:00-20:30")
    if wanted["user"] and not machine.lingering:
        if machine.sudo:
            steps += _lingering(machine)
        else:
            notes.append(
                "It starts only once somebody has logged in, until root has run: "
                f"loginctl enable-linger {machine.place.user}"
            )
    if tablet and not machine.server:
        problems.append("--tablet: textual-serve is not installed; coach serve tells how")
    if screen != "none":
        if machine.desktop:
            notes.append(
                "A desktop takes the display at boot. Let the coach have it: "
                "sudo systemctl set-default multi-user.target"
            )
        if screen == "kiosk" and not machine.graphics:
            notes.append(
                "No graphics device here: the plain console will take over after a few tries. "
                "To go there at once: --screen console"
            )
        if not machine.sudo:
            problems.append("no sudo here, and the display's service needs root to be put in place")
    for scope in ("user", "system"):
        found = _unit_steps(machine, scope, wanted[scope])
        steps += found.steps
        problems += found.problems
    if screen == "console" and machine.enabled("system", KIOSK):
        steps.append(_systemctl("system", "disable", KIOSK))
    if screen == "kiosk" and machine.enabled("system", CONSOLE):
        steps.append(_systemctl("system", "disable", CONSOLE))
    return Intent(tuple(steps), tuple(notes), tuple(dict.fromkeys(problems)))


def _packages(machine: Machine, screen: Screen) -> tuple[list[Step], list[str], list[str]]:
    """Steps, notes and problems of the packages that are missing."""
    needed = PACKAGES | (KIOSK_PACKAGES if screen == "kiosk" else {})
    missing = [name for name in needed if name in machine.missing]
    if not missing or machine.manager:
        return [], [], []
    words = ("apt-get", "install", "--yes", "--no-install-recommends", *missing)
    if machine.apt and machine.sudo:
        return (
            [
                Step(
                    says=f"install {', '.join(f'{name} ({needed[name]})' for name in missing)}: "
                    f"sudo {' '.join(words)}",
                    command=words,
                    as_root=True,
                )
            ],
            [],
            [],
        )
    why = ", ".join(f"{name} ({needed[name]})" for name in missing)
    line = f"sudo apt-get install --no-install-recommends {' '.join(missing)}"
    told = f"missing: {why}. On Debian and Raspberry Pi OS: {line}"
    must = "cage" in missing or "foot" in missing
    return [], [] if must else [told], [told] if must else []


def _lingering(machine: Machine) -> list[Step]:
    """Without this the tablet's page and the reminder are gone after the next start."""
    words = ("loginctl", "enable-linger", machine.place.user)
    return [
        Step(says=f"run sudo {' '.join(words)}", command=words, as_root=True),
        Step(
            says=f"note it in {machine.lingering_mark}",
            write=(machine.lingering_mark, "coach install switched lingering on\n"),
        ),
    ]


def to_uninstall(machine: Machine) -> Intent:
    """What takes away all that :func:`to_install` put there. Dogs, plans and logs stay."""
    steps: list[Step] = []
    notes = [f"Dogs, plans, logs and settings stay: {machine.place.state}"]
    for scope in ("user", "system"):
        removed = False
        for template in templates(scope):
            path = machine.units[scope] / template.name
            state = standing(_text(path), None)
            if state == "absent":
                continue
            if state in ("changed", "foreign"):
                notes.append(f"Kept, {_why_not(state)}: {path}")
                continue
            if not machine.manager and machine.enabled(scope, template.name):
                steps.append(_systemctl(scope, "disable", "--now", template.name))
            root = scope == "system"
            steps.append(Step(says=f"remove {path}", remove=path, as_root=root))
            removed = True
        if removed and not machine.manager:
            steps.append(_systemctl(scope, "daemon-reload"))
    if machine.link.is_symlink() and machine.link.readlink() == machine.place.coach:
        steps.append(Step(says=f"remove {machine.link}", remove=machine.link))
    if machine.lingering_mark.exists():
        words = ("loginctl", "disable-linger", machine.place.user)
        steps.append(Step(says=f"run sudo {' '.join(words)}", command=words, as_root=True))
        mark = machine.lingering_mark
        steps.append(Step(says=f"remove {mark}", remove=mark))
    root_needed = any(step.as_root for step in steps)
    problems = ("no sudo here, and some of this needs root",) if root_needed else ()
    return Intent(tuple(steps), tuple(notes), () if machine.sudo else problems)


def _unit_steps(machine: Machine, scope: Scope, wanted: dict[str, bool]) -> Intent:
    steps: list[Step] = []
    problems: list[str] = []
    by_name = {template.name: template for template in templates(scope)}
    for name in wanted:
        path = machine.units[scope] / name
        try:
            text = rendered(by_name[name].read_text(encoding="utf-8"), machine.place)
        except NotPlain as error:
            problems += str(error).splitlines()
            continue
        state = standing(_text(path), text)
        if state in ("changed", "foreign"):
            problems.append(f"{path}: {_why_not(state)}; move it away and start again")
        elif state != "same":
            root = scope == "system"
            steps.append(Step(says=f"write {path}", write=(path, text), as_root=root))
    if steps:
        steps.append(_systemctl(scope, "daemon-reload"))
    for name, starts in wanted.items():
        if starts and not machine.enabled(scope, name):
            # What takes the display begins with the next boot, not under the owner's hands.
            now = ("--now",) if scope == "user" else ()
            steps.append(_systemctl(scope, "enable", *now, name))
    return Intent(tuple(steps), (), tuple(problems))


def _systemctl(scope: Scope, *words: str) -> Step:
    command = ("systemctl", *(("--user",) if scope == "user" else ()), *words)
    root = scope == "system"
    return Step(says=f"run {'sudo ' * root}{' '.join(command)}", command=command, as_root=root)


def _why_not(state: str) -> str:
    if state == "changed":
        return "somebody has changed it since the coach wrote it"
    return "the coach did not write it"


def _text(path: Path) -> str | None:
    try:
        return path.read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        return None


def lines(intent: Intent, *, dry: bool) -> Sequence[str]:
    """For people: what will be done, or would be."""
    told = [f"  - {step.says}" for step in intent.steps]
    head = "This would be done (add --yes to do it):" if dry else "Doing:"
    return [*([head, *told] if told else ["Nothing to do."]), *intent.notes]
