"""``coach install`` on an invented machine: real files, and every command noted instead of run."""

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from coach.appliance.install import (
    CONSOLE,
    KIOSK,
    REMINDER,
    TABLET,
    Intent,
    Machine,
    lines,
    to_install,
    to_uninstall,
)
from coach.appliance.install_run import NotDone, do
from coach.appliance.units import Place, Scope
from coach.cli.exits import Exit

OURS = (KIOSK, CONSOLE, REMINDER, TABLET, "dog-bed-coach-remind.service")


@dataclass
class House:
    """A machine whose folders lie under ``root``; sudo and systemctl do what they would do."""

    root: Path
    enabled: set[str] = field(default_factory=set)
    ran: list[str] = field(default_factory=list)
    fails: str = "never"
    lingers: set[str] = field(default_factory=set)
    packages: set[str] = field(default_factory=set)

    def machine(self) -> Machine:
        units: dict[Scope, Path] = {
            "system": self.root / "etc/systemd/system",
            "user": self.root / "home/.config/systemd/user",
        }
        units["system"].mkdir(parents=True, exist_ok=True)
        return Machine(
            place=Place(
                user="robin",
                uid=1000,
                lang="C.UTF-8",
                coach=Path("/opt/coach/bin/coach"),
                cage=Path("/usr/bin/cage"),
                state=self.root / "home/state",
                cache=self.root / "home/cache",
                config=self.root / "home/config",
            ),
            units=units,
            manager="",
            sudo=True,
            enabled=lambda _, name: name in self.enabled,
            missing=(),
            desktop=False,
            graphics=True,
            compiled=True,
            server=True,
            apt=True,
            lingering="robin" in self.lingers,
            on_path=(self.root / "home/.local/bin/coach").is_symlink(),
            link=self.root / "home/.local/bin/coach",
            lingering_mark=self.root / "home/config/lingering-by-install",
        )

    def run(self, words: Sequence[str]) -> int:
        self.ran.append(" ".join(words))
        if self.fails in self.ran[-1]:
            return 1
        command = [word for word in words if word != "sudo"]
        if command[0] == "install":
            shutil.copyfile(command[-2], command[-1])
        elif command[0] == "rm":
            Path(command[-1]).unlink()
        elif command[0] == "loginctl":
            {"enable-linger": self.lingers.add, "disable-linger": self.lingers.discard}[command[1]](
                command[2]
            )
        elif command[0] == "apt-get":
            self.packages |= set(command[4:])
        elif "enable" in command:
            self.enabled.add(command[-1])
        elif "disable" in command:
            self.enabled.discard(command[-1])
        return 0

    def do(self, intent: Intent) -> None:
        do(intent, run=self.run)

    def files(self) -> dict[str, str]:
        found = (path for path in self.root.rglob("*") if path.is_file())
        return {str(path.relative_to(self.root)): path.read_text() for path in sorted(found)}


@pytest.fixture
def house(tmp_path: Path) -> House:
    return House(tmp_path / "root")


def everything(machine: Machine) -> Intent:
    return to_install(machine, screen="kiosk", reminder=True, tablet=True)


def test_it_is_put_in_place_once_and_taken_away_whole(house: House) -> None:
    theirs = house.machine().units["user"] / "their-own.service"
    theirs.parent.mkdir(parents=True)
    theirs.write_text("[Service]\n")
    before = house.files()

    house.do(everything(house.machine()))
    assert house.enabled == {KIOSK, REMINDER, TABLET}
    assert {Path(name).name for name in house.files()} == {
        *OURS,
        "their-own.service",
        "lingering-by-install",
    }
    # A login by ssh finds the command, and the reminder runs without a login.
    assert (house.root / "home/.local/bin/coach").readlink() == Path("/opt/coach/bin/coach")
    assert house.lingers == {"robin"}
    assert (house.root / "home/state").stat().st_mode & 0o777 == 0o700
    kiosk = house.files()[f"etc/systemd/system/{KIOSK}"]
    assert "\nUser=robin\n" in kiosk
    assert "\nExecStart=/usr/bin/cage -d -- /opt/coach/bin/coach bedside\n" in kiosk

    again = everything(house.machine())
    assert again.steps == ()
    assert lines(again, dry=True)[0] == "Nothing to do."

    house.do(to_uninstall(house.machine()))
    assert (house.enabled, house.files(), house.lingers) == (set(), before, set())
    assert not (house.root / "home/.local/bin/coach").is_symlink()
    assert to_uninstall(house.machine()).steps == ()


def test_only_the_display_needs_root(house: House) -> None:
    house.do(everything(house.machine()))
    for line in house.ran:
        assert line.startswith("sudo ") == ("--user" not in line)
    assert {line.split()[1] for line in house.ran if line.startswith("sudo")} <= {
        "install",
        "systemctl",
        "loginctl",
    }


def test_telling_changes_nothing(house: House) -> None:
    intent = everything(house.machine())
    told = lines(intent, dry=True)
    assert len(told) >= len(intent.steps) > 5
    assert house.files() == {}
    assert house.ran == []


def test_what_others_wrote_or_changed_is_told_and_kept(house: House) -> None:
    machine = house.machine()
    house.do(everything(machine))
    edited = machine.units["user"] / TABLET
    edited.write_text(edited.read_text() + "# mine\n")
    foreign = machine.units["system"] / KIOSK
    foreign.write_text("[Service]\nExecStart=/usr/bin/true\n")
    before = house.files()

    intent = everything(machine)
    assert len(intent.problems) == 2
    assert any(str(edited) in told and "changed" in told for told in intent.problems)
    assert any(str(foreign) in told and "did not write" in told for told in intent.problems)

    gone = to_uninstall(machine)
    house.do(gone)
    left = house.files()
    kept = [str(path.relative_to(house.root)) for path in (edited, foreign)]
    assert left == {name: before[name] for name in sorted(kept)}
    assert sum("Kept" in note for note in gone.notes) == 2


def test_a_new_release_writes_its_units_anew_and_the_other_display_steps_back(
    house: House,
) -> None:
    house.do(everything(house.machine()))
    moved = house.machine()
    moved = replace(moved, place=replace(moved.place, coach=Path("/srv/coach")))
    house.ran.clear()
    intent = to_install(moved, screen="console", reminder=True, tablet=False)
    house.do(intent)
    assert "/srv/coach bedside --look console" in house.files()[f"etc/systemd/system/{CONSOLE}"]
    assert house.enabled & {KIOSK, CONSOLE} == {CONSOLE}


def test_without_a_service_manager_it_says_so_and_writes_no_unit(house: House) -> None:
    intent = everything(replace(house.machine(), manager="there is no systemd here"))
    assert intent.problems == ()
    assert "there is no systemd here" in intent.notes[0]
    house.do(intent)
    assert house.ran == []
    assert house.files() == {}


def test_what_is_missing_is_told_with_the_line_that_brings_it(house: House) -> None:
    bare = replace(
        house.machine(),
        missing=("libportaudio2", "cage", "foot"),
        sudo=False,
        graphics=False,
        server=False,
        apt=False,
    )
    intent = everything(bare)
    assert any(
        "sudo apt-get install --no-install-recommends libportaudio2 cage foot" in told
        for told in intent.problems
    )
    assert any("no sudo" in told for told in intent.problems)
    assert any("textual-serve is not installed" in told for told in intent.problems)
    console = to_install(bare, screen="none", reminder=True, tablet=False)
    assert console.problems == ()
    assert any("libportaudio2" in note for note in console.notes)


def test_packages_come_first_and_the_dry_run_lists_them(house: House) -> None:
    bare = replace(house.machine(), missing=("libportaudio2", "udisks2", "cage", "foot"))
    intent = everything(bare)
    assert intent.problems == ()
    told = lines(intent, dry=True)
    assert "sudo apt-get install --yes --no-install-recommends" in told[1]
    house.do(intent)
    assert house.packages == {"libportaudio2", "udisks2", "cage", "foot"}
    assert house.ran[0].startswith("sudo apt-get")


def test_lingering_that_was_there_before_stays_after_uninstall(house: House) -> None:
    house.lingers.add("robin")
    house.do(everything(house.machine()))
    assert not any("loginctl" in line for line in house.ran)
    house.do(to_uninstall(house.machine()))
    assert house.lingers == {"robin"}


def test_a_step_that_fails_is_named_and_ends_it(house: House) -> None:
    house.fails = "systemctl daemon-reload"
    with pytest.raises(NotDone, match="sudo systemctl daemon-reload: exit code 1"):
        house.do(everything(house.machine()))
    assert KIOSK not in house.enabled
    house.fails = "never"
    house.do(everything(house.machine()))
    assert KIOSK in house.enabled


@pytest.mark.parametrize("command", ["install", "uninstall"])
def test_the_command_tells_and_touches_nothing(command: str, own_world: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "coach", command],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    if os.getuid() == 0:
        assert (done.returncode, done.stdout) == (Exit.BAD_INPUT, "")
        assert "found root" in done.stderr
    else:
        assert done.returncode in (Exit.DONE, Exit.BAD_INPUT)
    assert not own_world.exists()
