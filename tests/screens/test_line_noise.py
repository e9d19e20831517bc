"""Bytes that no keyboard sends: a serial pedal, an old mouse report, a broken line."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from coach.cli.exits import Exit
from tests.screens.test_real_terminal import holding, kinds
from tests.screens.thin import LONG_BACK
from tests.terminal import Terminal

# No UTF-8, a mouse report of the old kind far to the right, a cut sequence, a size of a million.
NOISE = b"\xff\xfe\xff" + b"\x1b[M \xf1\xf1" + b"\xc3" + b"\x1b[48;1000000;1000000;0;0t" + b"\xff"


@pytest.fixture
def rehearsal() -> Iterator[Terminal]:
    made = Terminal("rehearse", str(LONG_BACK), "--silent", "--no-lesson", "--no-questions")
    yield made
    if made.process.poll() is None:
        made.process.kill()
        made.process.wait()
    made.close()


def test_noise_in_a_hold_ends_nothing(rehearsal: Terminal, own_world: Path) -> None:
    rehearsal.until(lambda text: "SPACE start" in text)
    os.write(rehearsal.fd, NOISE)
    holding(rehearsal)
    for _ in range(20):
        os.write(rehearsal.fd, NOISE)
    rehearsal.press("x")
    rehearsal.until(lambda text: "Switch the laser off." in text and "Q close" in text)
    os.write(rehearsal.fd, NOISE)
    rehearsal.press("q")
    assert rehearsal.ended() == Exit.ENDED_EARLY
    assert ("session_stopped", "asked") in kinds(own_world)


@pytest.mark.parametrize(
    ("words", "wanted", "away"),
    [
        (("course", str(LONG_BACK), "--pages"), "Q", "q"),
        (("regions", "--pages"), "Q", "q"),
        ((), "Q", "q"),
    ],
    ids=["course", "regions", "home"],
)
def test_noise_on_every_screen(
    own_world: Path, words: tuple[str, ...], wanted: str, away: str
) -> None:
    made = Terminal(*words, columns=80, rows=24)
    try:
        made.until(lambda text: wanted in text)
        os.write(made.fd, NOISE)
        made.show(0.5)
        assert made.process.poll() is None
        made.press(away)
        made.ended()
        assert made.process.returncode == Exit.DONE
    finally:
        if made.process.poll() is None:
            made.process.kill()
            made.process.wait()
        made.close()
