"""How late the loudspeaker is: onsets as captured from the sound path against their schedule.

The real program, on a terminal, plays to a sound server of its own whose sink is recorded. Its
screen loop stands still for 250 ms in each second, and one core is busy. The baseline plays the
same cues at the same moments, from a process that does nothing else.

The schedule is what the machine alone makes of the plan; only its first hold is taken from the
journal. A recording does not tell when it began: each part of it that arrives names a moment, and
the earliest of them is taken. Two things the sink does by itself are read from the tones of the
baseline and counted in neither: how long the way through it takes, and how fast its clock runs
(a sink made of software is some 0.01 % off). Words wait for the words before them, in both.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from array import array
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path
from threading import Event, Thread

import numpy as np

from coach.journal.journal import journal_files, read_journal
from coach.paths import cache_folder, journal_folder
from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.session import commands as cmd
from coach.session.cues import Cue, Priority
from coach.session.machine import OVER, Machine, Options, Step
from coach.units import NS_PER_S
from coach.voice.child_voice import SpokenVoice
from coach.voice.chimes import tone_path
from coach.voice.mixer import AFTER_TONE_NS
from coach.voice.render import Cache
from tests.benchmarks.frame import Figure, percentile, say
from tests.e2e.virtual import TODAY
from tests.terminal import Terminal
from tests.voice.hearing import RATE_HZ, Sound, shares, sound
from tests.voice.lower_back import lower_back
from tests.voice.sink import SoundServer

# Twenty minutes are 36 spots of 28 s and 5 s between them; a quick round has 4 of 10 s.
LONG, SHORT = (18, 28), (2, 10)
AGAINST = "the same cues played with nothing else running"
# A sound is there where this share of it is; elsewhere there is far less.
FOUND = 0.6
BEFORE, AFTER = round(0.4 * RATE_HZ), round(2 * RATE_HZ)
# Words may be cut off by a tone: their beginning is what is looked for.
ENOUGH = round(0.4 * RATE_HZ)
PART_S = 0.02
# Only the begin tells when it began: later the clock of the sink has gone its own way.
TIMED_NS = 30 * NS_PER_S
NO_DRIFT_MS = 1.0
PATIENCE_S = 120
LAST_WORDS_S = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """A sound and the moment at which it should be heard, ns."""

    at_ns: int
    sound: Sound
    tone: bool


@dataclass(slots=True)
class Recording:
    """What a sink plays, and the monotonic moment of its first sample."""

    samples: "array[int]" = field(default_factory=lambda: array("h"))
    began_ns: int = sys.maxsize

    @contextmanager
    def of(self, room: SoundServer) -> Iterator[None]:
        """Records while the block runs."""
        begun, enough = Event(), Event()

        def listen() -> None:
            with room.listen() as ear:
                while not enough.is_set():
                    self.samples = ear.hear(PART_S)
                    arrived_ns = time.monotonic_ns()
                    length_ns = len(self.samples) * NS_PER_S // RATE_HZ
                    if length_ns < TIMED_NS:
                        self.began_ns = min(self.began_ns, arrived_ns - length_ns)
                    begun.set()

        thread = Thread(target=listen)
        thread.start()
        try:
            if not begun.wait(PATIENCE_S):
                raise SystemExit("the sink cannot be recorded")
            yield
        finally:
            enough.set()
            thread.join()

    def late_ms(self, onset: Onset) -> float | None:
        """How much later than asked ``onset`` is in it; None when it is not."""
        wished = (onset.at_ns - self.began_ns) * RATE_HZ // NS_PER_S
        first = wished - BEFORE
        if first < 0:
            return None
        part = np.array(self.samples[first : wished + AFTER + len(onset.sound)], dtype=np.float64)
        found = shares(part, onset.sound)[: BEFORE + AFTER]
        if not len(found) or found.max() < FOUND:
            return None
        return float((first + int(found.argmax()) - wished) * 1000 / RATE_HZ)


def steps_of(plan: Path) -> list[tuple[int, Step]]:
    """What the machine alone says when, in ns from the start."""
    machine = Machine(spots_of(load_plan(plan, today=TODAY).plan), Options())
    steps = [(0, machine.do(cmd.Start(), 0))]
    while machine.phase not in OVER:
        deadline_ns = machine.next_deadline(steps[-1][0])
        if deadline_ns is None:
            raise SystemExit("the plan of this benchmark waits for a hand")
        steps.append((deadline_ns, machine.tick(deadline_ns)))
    return steps


def cues_of(steps: Sequence[tuple[int, Step]]) -> list[Cue]:
    """All cues, in their order in time."""
    return sorted((cue for _, step in steps for cue in step.cues), key=lambda cue: cue.at_ns)


def onsets_of(steps: Sequence[tuple[int, Step]], *, begins_ns: int, cache: Cache) -> list[Onset]:
    """Tones and words with the moments at which they are due."""
    onsets = []
    for cue in cues_of(steps):
        at_ns = begins_ns + cue.at_ns
        if cue.tone:
            onsets.append(Onset(at_ns=at_ns, sound=sound(tone_path(cue.tone)), tone=True))
            at_ns += AFTER_TONE_NS
        if cue.text:
            words = sound(cache.path(cue.text))[:ENOUGH]
            onsets.append(Onset(at_ns=at_ns, sound=words, tone=False))
    return onsets


@contextmanager
def busy_core() -> Iterator[None]:
    """Another program that never rests."""
    busy = subprocess.Popen([sys.executable, "-c", "while True: pass"])
    try:
        yield
    finally:
        busy.kill()
        busy.wait()


def coached(plan: Path, room: SoundServer, steps: Sequence[tuple[int, Step]]) -> list[float | None]:
    """Lateness of each onset of a real session with a stalled screen and a busy core."""
    words = ("rehearse", str(plan), "--no-lesson", "--no-questions", "--advance", "auto")
    recording = Recording()
    terminal = Terminal(*words, module="tests.benchmarks.stalled", columns=80, rows=24)
    try:
        terminal.until(lambda text: "GET READY" in text)
        with busy_core(), recording.of(room):
            # One key, and no other: the schedule is that of a session in which nothing is asked.
            terminal.show(1)
            terminal.press(" ")
            terminal.until(lambda text: "GET READY" not in text)
            (path,) = journal_files(journal_folder("Juniper", rehearsal=True))
            ends_s = time.monotonic() + steps[-1][0] / NS_PER_S + PATIENCE_S
            while not any(line["kind"] == "session_finished" for line in read_journal(path).lines):
                if time.monotonic() > ends_s:
                    raise SystemExit(f"the session does not end; last was\n{terminal.text}")
                terminal.watch(5)
            terminal.watch(LAST_WORDS_S)
    finally:
        terminal.process.kill()
        terminal.process.wait()
        terminal.close()
    held_ns = next(
        line["data"]["at_ns"] for line in read_journal(path).lines if line["kind"] == "hold_started"
    )
    first_ns = next(cue.at_ns for cue in cues_of(steps) if cue.tone == "start")
    cache = Cache(cache_folder() / "speech")
    onsets = onsets_of(steps, begins_ns=held_ns - first_ns, cache=cache)
    return [recording.late_ms(onset) for onset in onsets]


def replayed(room: SoundServer, steps: Sequence[tuple[int, Step]]) -> list[float | None]:
    """Lateness of each onset when the same is handed to the player and nothing else is done."""
    cache = Cache(cache_folder() / "speech")
    voice = SpokenVoice(cache)
    recording = Recording()
    try:
        failed = voice.prepare({cue.text for cue in cues_of(steps) if cue.text})
        if failed:
            raise SystemExit(f"cannot be said: {failed}")
        with recording.of(room):
            begins_ns = time.monotonic_ns() + NS_PER_S
            for handed_ns, step in steps:
                while (left_ns := begins_ns + handed_ns - time.monotonic_ns()) > 0:
                    time.sleep(min(left_ns / NS_PER_S, 0.2))
                    voice.poll()
                if step.interrupts:
                    voice.silence()
                for cue in step.cues:
                    voice.say(
                        cue.text,
                        at_ns=begins_ns + cue.at_ns,
                        until_ns=begins_ns + cue.until_ns,
                        urgent=cue.priority is Priority.URGENT,
                        tone=cue.tone,
                    )
            time.sleep(LAST_WORDS_S)
    finally:
        voice.close()
    onsets = onsets_of(steps, begins_ns=begins_ns, cache=cache)
    return [recording.late_ms(onset) for onset in onsets]


def slope(points: Sequence[tuple[float, float]]) -> float:
    """ms a second: the middle of the slopes between any two, which a few outliers do not move."""
    return statistics.median(
        (late - earlier) / (at_s - before_s)
        for (before_s, earlier), (at_s, late) in combinations(points, 2)
    )


def measure(*, quick: bool) -> list[Figure]:
    """Lateness of tones and of words: p50, p99, the most; and the drift of the tones."""
    each_side, hold_s = SHORT if quick else LONG
    kept = dict(os.environ)
    with tempfile.TemporaryDirectory(prefix="coach-onsets-") as name:
        folder = Path(name)
        room = SoundServer(folder / "sound")
        try:
            room.plug_in()
            os.environ.update(room.environment, COACH_HOME=str(folder / "home"))
            plan = folder / "onsets.toml"
            plan.write_text(lower_back(each_side=each_side, hold_s=hold_s), encoding="utf-8")
            steps = steps_of(plan)
            length_s = steps[-1][0] / NS_PER_S
            say(f"onsets: the baseline, {length_s:.0f} s")
            baseline = replayed(room, steps)
            say(f"onsets: a session, {length_s:.0f} s")
            ours = coached(plan, room, steps)
            onsets = onsets_of(steps, begins_ns=0, cache=Cache(cache_folder() / "speech"))
        finally:
            room.kill()
            os.environ.clear()
            os.environ.update(kept)
    return _figures(onsets, ours, baseline, length_s)


def _figures(
    onsets: Sequence[Onset],
    ours: Sequence[float | None],
    baseline: Sequence[float | None],
    length_s: float,
) -> list[Figure]:
    def points(found: Sequence[float | None], *, tone: bool) -> list[tuple[float, float]]:
        return [
            (onset.at_ns / NS_PER_S, late)
            for onset, late in zip(onsets, found, strict=True)
            if onset.tone is tone and late is not None
        ]

    figures = []
    clock = way_ms = 0.0
    for tone, what in ((True, "tones"), (False, "words")):
        both = points(ours, tone=tone), points(baseline, tone=tone)
        of = sum(onset.tone is tone for onset in onsets)
        note = f"of {of} heard: {len(both[0])}, in the baseline {len(both[1])}"
        if min(map(len, both)) < 2:
            raise SystemExit(f"{what} were not heard: {note}")
        if tone:
            clock = slope(both[1])
            way_ms = statistics.median(late - clock * at_s for at_s, late in both[1])
            figures.append(
                Figure(
                    name=f"drift of tones over {length_s:.0f} s",
                    ours=abs(slope(both[0]) - clock) * length_s,
                    baseline=0,
                    unit="ms",
                    against=AGAINST,
                    goal=NO_DRIFT_MS,
                    by_itself=True,
                    note=f"the clock of the sink went off by {clock * length_s:.1f} ms",
                )
            )
        late = [[late - clock * at_s - way_ms for at_s, late in found] for found in both]
        figures += [
            Figure(
                name=f"lateness of {what} over {length_s:.0f} s, {title}",
                ours=percentile(late[0], share),
                baseline=percentile(late[1], share),
                unit="ms",
                against=AGAINST,
                by_itself=True,
                note=note,
            )
            for title, share in (("p50", 0.5), ("p99", 0.99), ("max", 1.0))
        ]
    return figures
