"""A voice that asked before the session: what it reported then is told in the session."""

from pathlib import Path

from coach.journal.journal import read_journal
from coach.voice.tended import Tended
from coach.voice.voice_port import SilentVoice, VoiceReport
from tests.e2e.virtual import FakeTime, runner_for
from tests.screens.thin import LONG_BACK


class Deviceless(SilentVoice):
    """Reports once that there is no device, whenever that is."""

    def __init__(self) -> None:
        self.told = [VoiceReport(kind="no_sound_device", notice="NO SOUND DEVICE")]

    def poll(self) -> list[VoiceReport]:
        return [self.told.pop()] if self.told else []


def test_a_missing_device_is_not_forgotten_when_it_was_noticed_before(tmp_path: Path) -> None:
    tended = Tended(Deviceless())
    tended.tend()
    tended.tend()
    runner = runner_for(LONG_BACK, tmp_path, FakeTime())
    runner.voice, runner.reports = tended.voice, tended.reports
    runner.tick()
    assert "NO SOUND DEVICE" in runner.view().notices
    runner.tick()
    lines = read_journal(runner.path).lines
    assert [line["data"]["what"] for line in lines if line["kind"] == "notice"] == [
        "no_sound_device"
    ]
    runner.close()
