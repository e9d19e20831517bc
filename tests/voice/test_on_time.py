"""A hold begins with its tone: the latency of the device is asked for, made up for and written."""

import os
import signal
import time as clock
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

import numpy as np
import pytest

from coach.journal.journal import read_journal
from coach.record.tally import tally_of
from coach.record.verify import verify
from coach.session import commands as cmd
from coach.units import NS_PER_S
from coach.voice.child_voice import SpokenVoice
from coach.voice.render import Cache
from coach.voice.voice_port import SilentVoice, VoiceReport
from tests.e2e.virtual import FakeTime, runner_for
from tests.voice.sink import SoundServer
from tests.voice.waiting import until

HIPS = Path(__file__).parents[2] / "plans" / "demo-big-hips.toml"
MS = NS_PER_S // 1000


@dataclass
class TellingVoice(SilentVoice):
    """Hears nothing and says nothing, but tells what the test wants told."""

    live: ClassVar[bool] = True
    tells: list[VoiceReport] = field(default_factory=list)
    said: list[tuple[str, int]] = field(default_factory=list)

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        self.said.append((text, at_ns))

    def poll(self) -> list[VoiceReport]:
        told, self.tells = self.tells, []
        return told


def lines_of(path: Path, kind: str) -> list[dict[str, object]]:
    return [dict(line["data"]) for line in read_journal(path).lines if line["kind"] == kind]


@pytest.mark.parametrize(
    ("latency_ns", "lead_ns"),
    # Never under the usual lead, never so long that the owner would press again.
    [(20 * MS, 200 * MS), (300 * MS, 350 * MS), (5 * NS_PER_S, NS_PER_S)],
)
def test_a_hold_begins_when_its_tone_can_be_heard(
    tmp_path: Path, latency_ns: int, lead_ns: int
) -> None:
    time = FakeTime()
    voice = TellingVoice()
    runner = runner_for(HIPS, tmp_path, time)
    runner.voice = voice
    voice.tells = [VoiceReport(kind="output_latency", late_ns=latency_ns)]
    runner.tick()
    runner.press()
    time.now_ns += 20 * NS_PER_S
    runner.tick()
    runner.press()  # this plan waits for a hand
    begins_ns = time.now_ns + lead_ns
    text, tone_ns = next(said for said in voice.said if said[0] == "Start the laser. Hold.")
    assert tone_ns == begins_ns
    voice.tells = [VoiceReport(kind="tone_started", text=text, late_ns=3 * MS, onset_ns=1)]
    time.now_ns = begins_ns + 4 * NS_PER_S
    runner.tick()
    assert runner.machine.given_ns(0, time.now_ns) == 4 * NS_PER_S
    runner.do(cmd.Stop())
    runner.close()
    (started,) = lines_of(runner.path, "hold_started")
    assert started["at_ns"] == begins_ns
    (latency,) = lines_of(runner.path, "output_latency")
    assert (latency["latency_ns"], latency["lead_ns"]) == (latency_ns, lead_ns)
    assert lines_of(runner.path, "start_tone") == [
        {"at_ns": time.now_ns, "spot": 0, "late_ns": 3 * MS}
    ]
    # Whoever reads the journal may know these lines or not.
    assert verify(runner.path).good
    assert tally_of(read_journal(runner.path).lines).spots[0].given_ns == 4 * NS_PER_S


def test_a_start_tone_that_was_not_heard_is_written_as_that(tmp_path: Path) -> None:
    time = FakeTime()
    voice = TellingVoice()
    runner = runner_for(HIPS, tmp_path, time)
    runner.voice = voice
    runner.press()
    runner.press()
    voice.tells = [
        VoiceReport(kind="cue_dropped", text="Start the laser. Hold.", late_ns=9),
        VoiceReport(kind="tone_dropped", text="Start the laser. Hold.", late_ns=9),
    ]
    runner.tick()
    runner.close()
    assert [line["late_ns"] for line in lines_of(runner.path, "start_tone")] == [None]


def test_a_start_tone_that_may_have_come_late_is_shown_and_written(tmp_path: Path) -> None:
    time = FakeTime()
    voice = TellingVoice()
    runner = runner_for(HIPS, tmp_path, time)
    runner.voice = voice
    runner.press()
    runner.press()
    text = "Start the laser. Hold."
    voice.tells = [
        VoiceReport(kind="tone_started", text=text, late_ns=0, onset_ns=1),
        VoiceReport(kind="tone_not_exact", text=text, late_ns=1100 * MS, onset_ns=1),
    ]
    runner.tick()
    assert runner.view().notices == ("SOUND IS LATE: watch the screen",)
    voice.tells = [VoiceReport(kind="tone_started", text="(end)", late_ns=0, onset_ns=1)]
    runner.tick()
    assert runner.view().notices == ()
    runner.close()
    (line,) = [line for line in lines_of(runner.path, "notice") if line["text"]]
    assert line["what"] == "tone_not_exact"


def until_ns(moment_ns: int) -> None:
    """Wait for a moment of the monotonic clock."""
    until(lambda: [clock.monotonic_ns()], lambda seen: seen[-1] >= moment_ns)


# Before the tone is handed to the server, while it waits there, and while it begins to sound.
@pytest.mark.parametrize("before_ms", [200, 50, 0])
def test_a_tone_of_a_sound_server_that_stalls_is_never_called_exact(
    room: SoundServer, speech: Cache, before_ms: int
) -> None:
    voice = SpokenVoice(speech)
    try:
        voice.prepare([])
        until(voice.poll, lambda reports: any(r.kind == "output_latency" for r in reports))
        at_ns = clock.monotonic_ns() + NS_PER_S
        voice.say("", at_ns=at_ns, until_ns=at_ns + 2 * NS_PER_S, urgent=False, tone="start")
        until_ns(at_ns - before_ms * MS)
        os.kill(room.pid, signal.SIGSTOP)
        until_ns(clock.monotonic_ns() + 700 * MS)
        os.kill(room.pid, signal.SIGCONT)
        told = until(
            voice.poll,
            lambda reports: any(
                report.kind == "tone_not_exact"
                or (report.kind == "tone_started" and report.late_ns > 100 * MS)
                for report in reports
            ),
        )
    finally:
        os.kill(room.pid, signal.SIGCONT)
        voice.close()
    assert {report.text for report in told if report.kind.startswith("tone")} == {"(start)"}


def test_a_sleepy_loudspeaker_is_kept_awake(room: SoundServer, speech: Cache) -> None:
    voice = SpokenVoice(speech, lead_in_ns=300 * MS)
    try:
        assert voice.prepare(["Halfway."]) == {}
        told = until(voice.poll, lambda reports: any(r.kind == "output_latency" for r in reports))
        with room.listen() as ear:
            silence = np.array(ear.hear(0.5))
    finally:
        voice.close()
    # A sink that nobody plays on gives zeros. Noise 64 dB below full scale: our choice.
    noise = silence[-4000:].astype(np.float64)
    assert np.count_nonzero(noise) > 0.9 * len(noise)
    assert 10 < np.sqrt(np.mean(noise**2)) < 40
    latency_ns = next(report.late_ns for report in told if report.kind == "output_latency")
    assert 0 < latency_ns < NS_PER_S
