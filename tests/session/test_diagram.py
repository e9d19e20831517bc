"""The drawn machine is the machine."""

from pathlib import Path

from coach import session
from coach.session.machine import TABLE
from tests.session.diagram import DEADLINE, NOBODY, WORDS, arrows, diagram

DRAWN = Path(session.__file__).with_name("machine.md")


def test_the_drawing_is_current() -> None:
    assert DRAWN.read_text(encoding="utf-8") == diagram(), "see the first line of diagram.py"


def test_every_pair_of_the_table_is_drawn_and_no_other() -> None:
    drawn = {(before, word) for before, word, _ in arrows() if word not in (DEADLINE, NOBODY)}
    assert drawn == {(phase, WORDS[command]) for phase, command in TABLE}
