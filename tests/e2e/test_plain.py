"""Whole demo sessions line by line, in virtual time, compared as text."""

import io
import re
from pathlib import Path

import pytest

from coach.journal.journal import read_journal
from coach.lines.line_mode import PlainCoach
from coach.record.tally import tally_of
from coach.session.machine import Phase
from coach.units import NS_PER_S
from coach.voice.voice_port import SilentVoice, VoiceReport
from tests.e2e.virtual import START_NS, FakeTime, Script, coach_plainly, runner_for
from tests.expected_texts import compare

ROOT = Path(__file__).parents[2]
EXPECTED = Path(__file__).parent / "expected"

SESSIONS: dict[str, tuple[str, list[tuple[float, str]]]] = {
    "long-back": ("demo-long-back", [(0, "")]),
    # The plan waits for the key at each spot: Enter every minute is more than enough.
    "big-hips": ("demo-big-hips", [(second, "go") for second in range(60, 3600, 60)]),
    "troubles": (
        "demo-long-back",
        [
            (0, ""),
            (10, "moved"),
            (30, ""),
            (33, "go"),
            (40, "say"),
            (70, "skip"),
            (80, "go"),
            (85, "again"),
            (90, "again"),
            (91, "back"),
            (92, "frobnicate"),
            (100, "go"),
            (105, "stop"),
        ],
    ),
}


@pytest.mark.parametrize("name", SESSIONS)
def test_a_whole_session_reads_as_expected(name: str, tmp_path: Path) -> None:
    plan, words = SESSIONS[name]
    if name == "big-hips":
        words = [(0, ""), *words]
    text, _ = coach_plainly(ROOT / "plans" / f"{plan}.toml", tmp_path, list(words))
    file = EXPECTED / f"plain-{name}.txt"
    compare(file, text)


class LosingVoice(SilentVoice):
    """Has no device at first, then finds one."""

    def __init__(self) -> None:
        self.told = [
            VoiceReport(kind="no_sound_device", notice="NO SOUND DEVICE: watch the screen"),
            VoiceReport(kind="sound_device_back", notice=""),
        ]

    def poll(self) -> list[VoiceReport]:
        return [self.told.pop(0)] if self.told else []


def test_a_missing_sound_device_is_told_once(tmp_path: Path) -> None:
    time = FakeTime()
    runner = runner_for(ROOT / "plans" / "demo-long-back.toml", tmp_path, time)
    runner.voice = LosingVoice()
    out = io.StringIO()
    PlainCoach(runner, Script(time, [(0, "")]), out).run()
    runner.close()
    assert out.getvalue().count("NO SOUND DEVICE") == 1
    assert runner.machine.phase is Phase.FINISHED


def test_a_session_that_nobody_answers_pauses_says_so_once_and_carries_on(tmp_path: Path) -> None:
    # The plan waits for the key; after ten minutes and the move (at most a turn) it must pause.
    words: list[tuple[float, str]] = [(0, ""), (1_000, ""), (1_001, "go"), (1_010, "stop")]
    text, journal = coach_plainly(ROOT / "plans" / "demo-big-hips.toml", tmp_path, words)
    assert text.count("Nobody answered.") == 1
    lines = read_journal(journal).lines
    (paused,) = [line for line in lines if line["kind"] == "paused"]
    assert paused["data"]["reason"] == "no_answer"
    assert 600 <= (paused["data"]["at_ns"] - START_NS) / NS_PER_S <= 700
    kinds = [line["kind"] for line in lines if line["kind"] != "heartbeat"]
    after = kinds[kinds.index("paused") :]
    assert after[:4] == ["paused", "carried_on", "move_started", "hold_started"]
    assert tally_of(lines).spots[0].pauses == ("no_answer",)
    assert 0 < tally_of(lines).total().given_ns <= 9 * NS_PER_S


def test_after_a_pause_seconds_given_and_left_make_the_hold(tmp_path: Path) -> None:
    # The first hold takes 30 s; the pause falls some part of a second into it.
    words: list[tuple[float, str]] = [(0, ""), (14.06, "pause"), (16, ""), (19, "stop")]
    text, _ = coach_plainly(ROOT / "plans" / "demo-long-back.toml", tmp_path, words)
    given_s = re.search(r"END OF HOLD: (\d+) s \(paused\)", text)
    assert given_s is not None
    left_s = re.search(r"HOLD (\d+) s", text[given_s.end() :])
    assert left_s is not None
    assert int(given_s[1]) + int(left_s[1]) == 30
