"""Which sample sounds when: a timeline of tones and speech. Pure; the clock comes in.

Rules. A tone sounds at its moment and cuts off speech that is still running, because the moment
counts. Speech waits for the speech before it, and is dropped once it is not worth saying any
more. Urgent speech cuts off everything. Words follow the first swell of a tone, whether it is
theirs or the tone before: a word on top of a tone is not understood.

Positions are counted in samples from the begin of a block. Only the beginning of a sound is taken
from the clock; after that each block carries on at the next sample, or a clock that wavers by a
tenth of a millisecond would crackle.
"""

from array import array
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

from coach.voice.wav_samples import FULL, RATE_HZ

NS_PER_S = 1_000_000_000
AFTER_TONE_NS = 400_000_000
GAP = RATE_HZ // 8
FADE = RATE_HZ // 100

# Kind, name, onset in ns of the clock, how late in ns.
Told = Callable[[str, str, int, int], None]


def samples_ns(count: int) -> int:
    """How long ``count`` samples sound."""
    return count * NS_PER_S // RATE_HZ


@dataclass(slots=True, kw_only=True)
class Item:
    """A tone or a line of speech on the timeline.

    Attributes:
        start: where in the coming block it begins.
        played: samples handed out so far.
        last: samples to hand out in all; fewer than there are once it is cut off.
        cut: it fades out at its end.
    """

    name: str
    samples: "array[int]"
    at_ns: int
    until_ns: int
    speech: bool
    start: int = 0
    played: int = 0
    last: int = 0
    cut: bool = False

    def __post_init__(self) -> None:
        self.last = len(self.samples)

    @property
    def kind(self) -> str:
        """For reports."""
        return "cue" if self.speech else "tone"

    @property
    def end(self) -> int:
        """Where, counted from the block's begin, it falls silent."""
        return self.start + self.last - self.played

    def cut_at(self, position: int) -> None:
        """End it at ``position`` of the block, softly."""
        last = self.played + max(0, position - self.start) + FADE
        if last < self.last:
            self.last = last
            self.cut = True


@dataclass(slots=True)
class Mixer:
    """The timeline. ``told`` hears of each sound that begins or is dropped."""

    told: Told
    silenced: int = 0
    # When the latest tone began to sound, by the clock; None where there was none, or a silence.
    _tone_ns: int | None = None
    # The latest tones, and when each was to sound.
    _tones: deque[tuple[str, int]] = field(default_factory=lambda: deque(maxlen=4))
    _waiting: list[Item] = field(default_factory=list)
    _sounding: list[Item] = field(default_factory=list)

    def add(
        self,
        name: str,
        *,
        tone: "array[int] | None",
        speech: "array[int] | None",
        at_ns: int,
        until_ns: int,
        urgent: bool = False,
    ) -> None:
        """Line up a cue."""
        if urgent:
            self.silence()
        if tone is not None:
            self._waiting.append(
                Item(name=name, samples=tone, at_ns=at_ns, until_ns=until_ns, speech=False)
            )
        if speech is not None:
            wait_ns = AFTER_TONE_NS if tone is not None else 0
            self._waiting.append(
                Item(
                    name=name,
                    samples=speech,
                    at_ns=at_ns + wait_ns,
                    until_ns=until_ns + wait_ns,
                    speech=True,
                )
            )
        self._waiting.sort(key=lambda item: item.at_ns)

    def silence(self) -> None:
        """Forget what waits, end what sounds with the next block."""
        self.silenced += 1
        self._tone_ns = None
        self._waiting.clear()
        for item in self._sounding:
            item.cut_at(0)

    @property
    def sounding(self) -> bool:
        """Something sounds just now."""
        return bool(self._sounding)

    @property
    def idle(self) -> bool:
        """Nothing sounds and nothing waits."""
        return not self._waiting and not self._sounding

    def tone_due(self, now_ns: int) -> bool:
        """A tone waits that should sound by now."""
        return any(not item.speech and item.at_ns <= now_ns for item in self._waiting)

    def disturbed(self, from_ns: int, dry_ns: int) -> None:
        """The device ran dry for ``dry_ns``: no tone from ``from_ns`` on was surely on time."""
        for name, onset_ns in self._tones:
            if onset_ns >= from_ns:
                self.told("tone_not_exact", name, onset_ns, dry_ns)
        self._tones.clear()

    def pass_over(self, now_ns: int) -> None:
        """There is no device: what is no longer worth saying is dropped unheard."""
        self._sounding.clear()
        for item in [item for item in self._waiting if item.until_ns < now_ns]:
            self._drop(item, now_ns)

    def block(self, begins_ns: int, frames: int) -> "array[int]":
        """The samples of a block that sounds from ``begins_ns``."""
        self._begin(begins_ns, frames)
        result = array("h", bytes(2 * frames))
        for number, item in enumerate(self._sounding):
            _mix(result, item, alone=number == 0)
        self._sounding = [item for item in self._sounding if item.played < item.last]
        return result

    def _begin(self, begins_ns: int, frames: int) -> None:
        for item in list(self._waiting):
            wished = (item.at_ns - begins_ns) * RATE_HZ // NS_PER_S
            start = max(0, wished)
            if item.speech:
                if self._tone_ns is not None:
                    swelled_ns = self._tone_ns + AFTER_TONE_NS
                    start = max(start, (swelled_ns - begins_ns) * RATE_HZ // NS_PER_S)
                for other in self._sounding:
                    if other.speech and other.end > start:
                        start = other.end + GAP
            late_ns = 0 if start == wished else begins_ns + samples_ns(start) - item.at_ns
            too_late = item.at_ns + late_ns > item.until_ns
            if too_late and (start < frames or begins_ns > item.until_ns):
                self._drop(item, begins_ns)
            elif start < frames:
                self._waiting.remove(item)
                if not item.speech:
                    self._tone_ns = item.at_ns + late_ns
                    self._tones.append((item.name, self._tone_ns))
                    for other in self._sounding:
                        if other.speech:
                            other.cut_at(start)
                item.start = start
                self._sounding.append(item)
                self.told(f"{item.kind}_started", item.name, item.at_ns + late_ns, late_ns)

    def _drop(self, item: Item, now_ns: int) -> None:
        self._waiting.remove(item)
        self.told(f"{item.kind}_dropped", item.name, 0, max(0, now_ns - item.at_ns))


def _mix(result: "array[int]", item: Item, *, alone: bool) -> None:
    """Add what of ``item`` falls into the block, and move it on."""
    count = min(len(result) - item.start, item.last - item.played)
    part = item.samples[item.played : item.played + count]
    if item.cut:
        for n in range(max(0, item.last - FADE - item.played), count):
            part[n] = part[n] * (item.last - item.played - n) // FADE
    if alone:
        result[item.start : item.start + count] = part
    else:
        for n, value in enumerate(part, start=item.start):
            result[n] = max(-FULL, min(FULL, result[n] + value))
    item.played += count
    item.start = 0
