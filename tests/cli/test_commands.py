"""Which file adds which command, and that a command reads no file but its own."""

import argparse
import json
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

import coach.cli
from coach.cli import FILES


@pytest.mark.parametrize("file", FILES)
def test_a_file_adds_what_it_is_listed_with(file: str) -> None:
    commands = argparse.ArgumentParser().add_subparsers()
    import_module(f"coach.cli.{file}").add(commands)
    assert tuple(commands.choices) == FILES[file]


def test_every_file_that_adds_commands_is_listed() -> None:
    folder = Path(coach.cli.__file__).parent
    adding = {path.stem for path in folder.glob("*.py") if "\ndef add(commands" in path.read_text()}
    assert adding == set(FILES)


def test_a_command_leaves_the_files_of_the_others_unread() -> None:
    program = (
        "import json, sys; from coach.cli import run\n"
        "try: run(['--language', 'en', 'keys', '--help'])\n"
        "except SystemExit: print(json.dumps([m for m in sys.modules if m.startswith('coach.')]))"
    )
    told = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    read = set(json.loads(told.stdout.splitlines()[-1]))
    others = {f"coach.cli.{file}" for file in FILES} - {"coach.cli.keys"}
    assert "coach.cli.keys" in read
    assert not read & others
