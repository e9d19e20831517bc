"""End to end: the real program rehearses a short plan aloud, and its loudspeaker is listened to.

What is asserted: every tone and every line is there, in order, none over another, and the lines
are understood. How late each came is printed, not asserted: that is the machine the test runs on.
"""

import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.session import commands as cmd
from coach.session.cues import Cue
from coach.session.machine import OVER, Machine, Options
from coach.units import NS_PER_S
from coach.voice.chimes import tone_path
from coach.voice.mixer import AFTER_TONE_NS
from tests.e2e.virtual import TODAY
from tests.voice.hearing import RATE_HZ, Ear, Sound, right_words, shares, sound, words_of
from tests.voice.lower_back import lower_back
from tests.voice.sink import SoundServer

pytestmark = pytest.mark.long

# The program starts up and prepares its voice first; on a busy machine that takes its time.
PATIENCE_S = 120
# A tone is found where this share of it is; elsewhere there is far less.
FOUND = 0.7
# From one tone to the next it is seconds: looking this far around its moment is safe.
AROUND_S = 0.4


def scheduled(plan: Path) -> list[Cue]:
    """What an undisturbed rehearsal says, by the machine alone, in its order in time."""
    machine = Machine(spots_of(load_plan(plan, today=TODAY).plan), Options())
    cues = list(machine.do(cmd.Start(), 0).cues)
    now_ns = 0
    while machine.phase not in OVER:
        deadline_ns = machine.next_deadline(now_ns)
        assert deadline_ns is not None
        now_ns = deadline_ns
        cues += machine.tick(now_ns).cues
    return sorted(cues, key=lambda cue: cue.at_ns)


def rehearse(plan: Path, room: SoundServer, for_s: float) -> Sound:
    """The recording of the loudspeaker while the program rehearses ``plan``."""
    command = [sys.executable, "-m", "coach", "rehearse", str(plan), "--plain"]
    with room.listen() as ear:
        program = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            env=dict(os.environ),
        )
        try:
            while program.poll() is None:
                heard = ear.hear(0.5)
                assert len(heard) < (for_s + PATIENCE_S) * RATE_HZ, "it does not end"
            heard = ear.hear(1.0)
        finally:
            program.kill()
            _, told = program.communicate()
    assert (program.returncode, told) == (0, b"")
    return np.array(heard, dtype=np.float64)


def test_a_whole_rehearsal_is_heard_in_order_and_understood(
    room: SoundServer, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = tmp_path / "short.toml"
    plan.write_text(lower_back(each_side=2, hold_s=12), encoding="utf-8")
    cues = scheduled(plan)
    toned = [cue for cue in cues if cue.tone]
    spoken = [cue for cue in cues if cue.text]
    assert [cue.tone for cue in toned] == ["start", "end"] * 4
    recording = rehearse(plan, room, cues[-1].at_ns / NS_PER_S)

    found = {name: shares(recording, sound(tone_path(name))) for name in ("start", "end")}
    around = round(AROUND_S * RATE_HZ)
    # The first start tone gives the begin of the schedule; all others are held against it.
    first = int(np.argmax(found["start"] > FOUND))
    first += int(np.argmax(found["start"][first : first + around]))
    begin = first - toned[0].at_ns * RATE_HZ // NS_PER_S

    onsets = []
    for cue in toned:
        assert cue.tone is not None
        wished = begin + cue.at_ns * RATE_HZ // NS_PER_S
        near = found[cue.tone][max(0, wished - around) : wished + around]
        assert near.max() > FOUND, (cue, float(near.max()))
        onsets.append(max(0, wished - around) + int(near.argmax()))
    assert all(earlier < later for earlier, later in pairwise(onsets))
    off_ms = [
        (onset - begin) * 1000 / RATE_HZ - cue.at_ns / 1e6
        for onset, cue in zip(onsets, toned, strict=True)
    ]
    with capsys.disabled():
        print("\ntones off their schedule, ms:", [round(ms, 1) for ms in off_ms])

    # People hear words over a low tone; this recogniser does not: take the known tones away.
    words_only = recording.copy()
    for cue, onset in zip(toned, onsets, strict=True):
        assert cue.tone is not None
        tone = sound(tone_path(cue.tone))
        words_only[onset : onset + len(tone)] -= tone[: len(words_only) - onset]
    ear = Ear(cue.text for cue in spoken)
    said = right = 0
    for cue, following in zip(spoken, [*spoken[1:], None], strict=True):
        at_ns = cue.at_ns + (AFTER_TONE_NS if cue.tone else 0)
        ends_ns = at_ns + 3 * NS_PER_S
        if following is not None:
            ends_ns = min(ends_ns, following.at_ns)
        part = words_only[
            begin + at_ns * RATE_HZ // NS_PER_S : begin + ends_ns * RATE_HZ // NS_PER_S
        ]
        heard = ear.hears(part)
        said += len(words_of(cue.text))
        right += right_words(words_of(cue.text), heard)
        with capsys.disabled():
            if heard != words_of(cue.text):
                print(f"said {cue.text!r}, heard {' '.join(heard)!r}")
    assert right / said >= 0.95
