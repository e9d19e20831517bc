"""Hears the owner over the coach's own voice. Needs numpy; no clock, no device: all comes in.

The coach tells what it plays and when. While it speaks, and a little longer, its voice is taken out
of what the microphone hears (:mod:`coach.voice.echo_canceller`); where clearly more is left than
the coach leaves, somebody spoke, and only then is that part given to the recogniser. Only phrases
that stop come of it: nothing else is obeyed over speech.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from coach.voice.echo_canceller import (
    EARLIEST,
    HEARS_HZ,
    HOP,
    HOP_S,
    LATEST,
    EchoPath,
    Sound,
    Stretch,
)
from coach.voice.phrases import ACTION_OF, NS_PER_S, Utterance, phrase_of
from coach.voice.resample import at_rate
from coach.voice.wav_samples import RATE_HZ, read_wave

# Heard with the coach's voice: a phrase that began before it, and one that ends after it.
AROUND = HEARS_HZ
AFTER = LATEST + 9 * HEARS_HZ // 10
LONGEST_STRETCH = 12 * HEARS_HZ
KEPT = LONGEST_STRETCH + 3 * AROUND
TOGETHER = HEARS_HZ // 2
LOOK_EVERY = HEARS_HZ // 2
# By that much what is left must be louder than expected. In simulated rooms the coach alone
# reached 1.4 dB, an owner as loud as the coach at least 14 dB.
SOMEBODY_DB = 6.0
# And at its loudest by so much.
SURELY_DB = 10.0
SMOOTH = 7
PAUSE_S = 0.3
# The shortest phrase that stops took 0.87 s by the quickest of our voices; what first cues leave
# was shorter than this.
SHORTEST_S = 0.5
LONGEST_S = 3.1
BEFORE_S = 0.15
BEHIND_S = 0.2
# How much of the expected rest is taken away, and the least gain; tried one after the other.
SOFTENINGS = ((1.0, 0.2), (2.0, 0.1), (0.0, 1.0))
# The recogniser cannot do with exact silence.
DITHER_LSB = 20.0
# A clock of a device that runs slower than ours must not leave the time of its samples behind.
LEAK = 2e-4
GONE_NS = NS_PER_S // 2


@dataclass(slots=True)
class Own:
    """A sound of the coach, and for how long it is heard."""

    samples: Sound
    begins_ns: int
    ends_ns: int
    tone: bool


class OverSpeech:
    """Takes samples at 16 kHz, gives the phrases that stop which were said while the coach spoke.

    ``words`` gives the words that the recogniser takes a sound for.
    """

    def __init__(self, words: Callable[[Sound], tuple[str, ...]]) -> None:
        self._words = words
        self._path = EchoPath()
        self._dice = np.random.default_rng(1)
        self._near = np.zeros(0)
        self._first = 0
        # When sample 0 was taken.
        self._zero_ns: float | None = None
        self._own: list[Own] = []
        self._silent_ns = 0
        # Those of them that are still to be taken out.
        self._next: list[Own] = []
        self._looked = 0
        self._judged = 0

    def plays(self, path: str, onset_ns: int, *, tone: bool) -> None:
        """The file sounds from ``onset_ns`` on; "" for path: nothing sounds any more."""
        if not path:
            self._silent_ns = onset_ns
            self._cut(onset_ns, tones=True)
            return
        try:
            samples = _at_16_khz(path)
        except (OSError, ValueError):
            # What cannot be read was not played either.
            return
        # Speech waits for speech: where two meet, the first was cut off. So does a tone.
        self._cut(onset_ns, tones=False)
        ends_ns = onset_ns + len(samples) * NS_PER_S // HEARS_HZ
        if onset_ns < self._silent_ns:
            ends_ns = min(ends_ns, self._silent_ns)
        own = Own(samples, onset_ns, ends_ns, tone)
        self._own.append(own)
        self._next.append(own)
        self._next.sort(key=lambda each: each.begins_ns)

    def feed(self, samples: Sound, ends_ns: int) -> Iterator[Utterance]:
        """Go on with ``samples``, the last of which was taken at ``ends_ns``."""
        self._near = np.concatenate([self._near, samples])
        now = self._first + len(self._near)
        zero_ns = ends_ns - now * NS_PER_S / HEARS_HZ
        # What comes late was taken on time: the earliest counts.
        leaked_ns = LEAK * len(samples) * NS_PER_S / HEARS_HZ
        before_ns = self._zero_ns
        if before_ns is None or zero_ns - before_ns > GONE_NS:
            # The microphone is new, or was gone for a while.
            self._zero_ns = zero_ns
            self._own, self._next = [], []
        else:
            self._zero_ns = min(before_ns + leaked_ns, zero_ns)
        if self._next:
            yield from self._go_on(now)
        self._forget(now - (KEPT if self._next else 3 * AROUND))

    def _go_on(self, now: int) -> Iterator[Utterance]:
        # One cue at a time, for each is told to begin a little too early or too late; the tone
        # before its words belongs to it.
        onset = self._sample(self._next[0].begins_ns)
        mine = [own for own in self._next if self._sample(own.begins_ns) < onset + TOGETHER]
        others = self._next[len(mine) :]
        ends = max(self._sample(own.ends_ns) for own in mine) + AFTER
        if others:
            ends = min(ends, self._sample(others[0].begins_ns))
        ends = min(ends, onset + LONGEST_STRETCH)
        last = now >= ends
        self._looked = max(self._looked, onset)
        if not last and now - self._looked < LOOK_EVERY:
            return
        self._looked = now
        begins = max(onset - AROUND, self._first)
        near = self._near[begins - self._first :][: max(0, ends - begins)]
        if len(near) < LOOK_EVERY:
            # Told too late to be found.
            self._next = others if last else self._next
            return
        # A little ahead, for the times of the cues may be late.
        far = self._played(begins, len(near) + EARLIEST)
        stretch = self._path.without_echo(far, near)
        # A phrase that goes on over the next cue is heard with that one.
        yield from self._heard(stretch, begins, whole=last and not others)
        if last:
            somebody = bool(_loud(stretch.louder_db()[max(0, onset - begins) // HOP :]))
            skipped = max(0, onset - begins - EARLIEST)
            self._path.learn(far[skipped:], near[skipped:], alone=not somebody)
            self._next = others

    def _heard(self, stretch: Stretch, begins: int, *, whole: bool) -> Iterator[Utterance]:
        last = len(stretch.rest)
        for first, end in _loud(stretch.louder_db()):
            finished = whole or end + PAUSE_S * HEARS_HZ <= last
            if begins + first < self._judged or not finished or not self._over(begins, first, end):
                continue
            self._judged = begins + end
            if not SHORTEST_S <= (end - first) / HEARS_HZ <= LONGEST_S:
                continue
            where = slice(
                max(0, first - round(BEFORE_S * HEARS_HZ)), end + round(BEHIND_S * HEARS_HZ)
            )
            words = self._stop(stretch, where)
            if words is not None:
                yield Utterance(
                    words=words, begins_ns=self._at(begins + first), ends_ns=self._at(begins + end)
                )

    def _stop(self, stretch: Stretch, where: slice) -> tuple[str, ...] | None:
        """A phrase that stops, if one of the softenings gives one: nothing else is obeyed over
        speech, and what came after it is heard without this as well."""
        for much, least in SOFTENINGS:
            sound = stretch.softened(much, least)[where]
            words = self._words(sound + self._dice.normal(0.0, DITHER_LSB, len(sound)))
            phrase = phrase_of(words)
            if phrase is not None and ACTION_OF[phrase] == "stop":
                return words
        return None

    def _over(self, begins: int, first: int, end: int) -> bool:
        return any(
            self._sample(own.begins_ns) < begins + end
            and begins + first < self._sample(own.ends_ns) + LATEST
            for own in self._own
        )

    def _played(self, begins: int, count: int) -> Sound:
        """What the loudspeaker played, as far as is known, from sample ``begins`` on."""
        far = np.zeros(count)
        for own in self._own:
            at = self._sample(own.begins_ns) - begins
            heard = own.samples[: max(0, self._sample(own.ends_ns) - self._sample(own.begins_ns))]
            skipped = max(0, -at)
            part = heard[skipped : skipped + max(0, count - max(0, at))]
            far[max(0, at) : max(0, at) + len(part)] += part
        return far

    def _cut(self, at_ns: int, *, tones: bool) -> None:
        for own in self._own:
            if own.begins_ns < at_ns < own.ends_ns and (tones or not own.tone):
                own.ends_ns = at_ns

    def _sample(self, at_ns: int) -> int:
        assert self._zero_ns is not None
        return round((at_ns - self._zero_ns) * HEARS_HZ / NS_PER_S)

    def _at(self, sample: int) -> int:
        assert self._zero_ns is not None
        return round(self._zero_ns + sample * NS_PER_S / HEARS_HZ)

    def _forget(self, before: int) -> None:
        if before - self._first > HEARS_HZ:
            self._near = self._near[before - self._first :]
            self._first = before
            self._own = [own for own in self._own if self._sample(own.ends_ns) > before]


def _loud(louder_db: Sound) -> list[tuple[int, int]]:
    """Where somebody spoke, as samples: first and end; short pauses are part of it."""
    smooth = np.convolve(louder_db, np.ones(SMOOTH) / SMOOTH, mode="same")
    frames = np.flatnonzero(smooth > SOMEBODY_DB)
    if not len(frames):
        return []
    breaks = np.flatnonzero(np.diff(frames) > PAUSE_S / HOP_S)
    firsts = frames[np.concatenate([[0], breaks + 1])]
    lasts = frames[np.concatenate([breaks, [len(frames) - 1]])]
    return [
        (int(first) * HOP, (int(last) + 1) * HOP)
        for first, last in zip(firsts, lasts, strict=True)
        if smooth[first : last + 1].max() > SURELY_DB
    ]


def _at_16_khz(path: str) -> Sound:
    samples = np.array(read_wave(Path(path)), dtype=np.float64)
    if len(samples) * HEARS_HZ < RATE_HZ:
        raise ValueError(f"{path}: no sound")
    return at_rate(samples, RATE_HZ, HEARS_HZ)
