"""A real session goes on, tells and logs when what it speaks and hears with is taken away."""

import os
import signal
import time
from pathlib import Path
from typing import Any

import pytest

from coach.journal.journal import read_journal
from coach.record.tally import tally_of
from coach.record.verify import verify
from coach.session import commands as cmd
from coach.session.machine import Phase
from coach.voice.child_voice import SpokenVoice
from coach.voice.listener import ListeningEar
from coach.voice.render import Cache
from tests.e2e.virtual import FakeTime, runner_for
from tests.voice.lower_back import lower_back
from tests.voice.sink import SoundServer
from tests.voice.waiting import child_pid, until

pytestmark = pytest.mark.long


def written(path: Path, kind: str) -> list[dict[str, Any]]:
    return [line["data"] for line in read_journal(path).lines if line["kind"] == kind]


class RealTime(FakeTime):
    """The clock of the machine."""

    def __call__(self) -> int:
        return time.monotonic_ns()


def test_player_renderer_ear_and_device_are_taken_away_in_mid_hold(
    server: SoundServer, tmp_path: Path
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(lower_back(each_side=1, hold_s=300), encoding="utf-8")
    plugged = server.plug_in()
    runner = runner_for(plan, tmp_path / "journals", RealTime())
    cache = Cache(tmp_path / "speech")
    runner.voice = voice = SpokenVoice(cache)
    runner.ear = ear = ListeningEar()
    seen: set[str] = set()

    def told() -> list[str]:
        runner.tick()
        seen.update(runner.view().notices)
        return [str(data["what"]) for data in written(runner.path, "notice")]

    def until_told(what: str) -> None:
        until(told, lambda kinds: what in kinds)

    try:
        assert voice.prepare([]) == {}
        ear.start()
        until_told("no_microphone")
        runner.press()
        assert runner.do(cmd.Go()) is None
        until(told, lambda _: runner.machine.phase is Phase.HOLDING)
        os.kill(child_pid("player_child"), signal.SIGKILL)
        until_told("player_restarted")
        until_told("sound_device_ok")
        os.kill(child_pid("ear_child"), signal.SIGKILL)
        until_told("ear_restarted")
        # Nobody prepared the words of this plan: they are rendered meanwhile.
        until(
            lambda: [*told(), *map(str, cache.folder.glob("*.wav"))],
            lambda all_: ".wav" in all_[-1],
        )
        os.kill(child_pid("render_child"), signal.SIGKILL)
        # Words that nobody has said yet: a renderer of its own starts for them.
        voice.say("Halfway there.", at_ns=0, until_ns=1 << 62, urgent=False, tone=None)
        until(
            lambda: [*told(), str(cache.path("Halfway there.").exists())],
            lambda all_: all_[-1] == "True",
        )
        server.pull_out(plugged)
        until_told("sound_device_gone")
        server.plug_in()
        until_told("sound_device_back")
        assert runner.machine.phase is Phase.HOLDING
        assert runner.view().notices == ("NO MICROPHONE: use the keys",)
        runner.do(cmd.Stop())
    finally:
        runner.close()
    assert seen == {
        "NO MICROPHONE: use the keys",
        "SOUND PLAYER STARTED AGAIN: watch the screen",
        "LISTENING STARTS AGAIN: use the keys",
        "SOUND DEVICE GONE: watch the screen",
    }
    assert verify(runner.path).good
    # Every second of the hold counted all the same.
    (began,), (ended,) = (
        written(runner.path, kind) for kind in ("hold_started", "session_stopped")
    )
    tally = tally_of(read_journal(runner.path).lines)
    assert tally.problems == ()
    assert tally.spots[0].given_ns == ended["at_ns"] - began["at_ns"]
