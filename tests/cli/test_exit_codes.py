"""The README tells the exit codes that the program has."""

import re
from pathlib import Path

from coach.cli.exits import MEANING, Exit

README = Path(__file__).parents[2] / "README.md"


def test_the_readme_has_every_exit_code_with_its_meaning_and_no_other() -> None:
    section = README.read_text(encoding="utf-8").split("## Exit codes")[1].split("\n## ")[0]
    told = {int(code): text for code, text in re.findall(r"^\| (\d+) \| (.+) \|$", section, re.M)}
    assert told == {code.value: MEANING[code] for code in Exit}
