"""One evening is one program: home, questions, a session, what follows, home, the vet, home."""

import json
from pathlib import Path

from coach.paths import dog_folder
from tests.screens.evening import PLAN
from tests.terminal import Terminal


def test_a_whole_evening_runs_one_app(own_world: Path, tmp_path: Path) -> None:
    folder = dog_folder("Juniper")
    folder.mkdir(parents=True)
    (folder / "plan.toml").write_text(PLAN, "utf-8")
    (folder.parent.parent / "household.toml").write_text('helpers = ["Ada"]\n', "utf-8")
    told = tmp_path / "told.json"
    terminal = Terminal(str(told), "home", "--silent", module="tests.screens.counted")
    terminal.until(lambda text: "start a session" in text)
    terminal.press(" ")
    terminal.until(
        lambda text: "Is this Juniper, and the right plan?" in text or "your dog" in text
    )
    terminal.press("x")
    terminal.until(lambda text: "Switch the laser off." in text)
    terminal.press("q")
    terminal.until(lambda text: "for the vet" in text)
    terminal.press("v")
    terminal.until(lambda text: "What would you like to do for the vet?" in text)
    terminal.press("b")
    terminal.until(lambda text: "start a session" in text or "rehearse" in text)
    terminal.press("q")
    assert terminal.ended() == 0
    found = json.loads(told.read_text())
    assert found["runs"] == 1
    assert [words for words in found["started"] if "player_child" not in words] == []
