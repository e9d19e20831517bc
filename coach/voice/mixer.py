"""Which sample sounds when: a timeline of tones and speech. Pure; the clock comes in.

Rules. A tone sounds at its moment and cuts off speech that is still running, because the moment
counts. Speech waits for the speech before it, and is dropped once it is not worth saying any
more. Urgent speech cuts off everything. Words that come with a tone follow its first swell.
"""

from array import array
from collections.abc import Callable
from dataclasses import dataclass, field

from coach.voice.waves import FULL, RATE_HZ

NS_PER_S = 1_000_000_000
AFTER_TONE_NS = 350_000_000
GAP_NS = 120_000_000
FADE_FRAMES = RATE_HZ // 100


@dataclass(slots=True, kw_only=True)
class Item:
    """A tone or a line of speech on the timeline."""

    name: str
    samples: "array[int]"
    at_ns: int
    until_ns: int
    speech: bool
    begun_ns: int | None = None
    cut_ns: int | None = None

    @property
    def end_ns(self) -> int:
        """When it falls silent; only for what has begun."""
        begun_ns = self.at_ns if self.begun_ns is None else self.begun_ns
        end_ns = begun_ns + len(self.samples) * NS_PER_S // RATE_HZ
        return end_ns if self.cut_ns is None else min(end_ns, self.cut_ns)


@dataclass(slots=True)
class Mixer:
    """The timeline. ``told`` hears ("cue_started" or "cue_dropped", name, how late in ns)."""

    told: Callable[[str, str, int], None]
    silenced: int = 0
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
            self.silence(at_ns)
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

    def silence(self, now_ns: int) -> None:
        """Forget what waits, end what sounds."""
        self.silenced += 1
        self._waiting.clear()
        for item in self._sounding:
            item.cut_ns = now_ns if item.cut_ns is None else min(item.cut_ns, now_ns)

    @property
    def sounding(self) -> bool:
        """Something sounds just now."""
        return bool(self._sounding)

    @property
    def idle(self) -> bool:
        """Nothing sounds and nothing waits."""
        return not self._waiting and not self._sounding

    def block(self, begins_ns: int, frames: int) -> "array[int]":
        """The samples of a block that sounds from ``begins_ns``."""
        ends_ns = begins_ns + frames * NS_PER_S // RATE_HZ
        self._begin(begins_ns, ends_ns)
        result = array("h", bytes(2 * frames))
        for item in self._sounding:
            _mix(result, item, begins_ns)
        self._sounding = [item for item in self._sounding if item.end_ns > ends_ns]
        return result

    def _begin(self, begins_ns: int, ends_ns: int) -> None:
        still: list[Item] = []
        for item in self._waiting:
            begun_ns = max(item.at_ns, begins_ns)
            if item.speech:
                for other in self._sounding:
                    if other.speech and other.end_ns > begun_ns:
                        begun_ns = max(begun_ns, other.end_ns + GAP_NS)
            if begun_ns > item.until_ns:
                self.told("cue_dropped", item.name, begun_ns - item.at_ns)
            elif begun_ns >= ends_ns:
                still.append(item)
            else:
                if not item.speech:
                    for other in self._sounding:
                        if other.speech:
                            other.cut_ns = begun_ns
                item.begun_ns = begun_ns
                self._sounding.append(item)
                self.told("cue_started", item.name, begun_ns - item.at_ns)
        self._waiting = still


def _mix(result: "array[int]", item: Item, begins_ns: int) -> None:
    """Add the part of ``item`` that falls into the block."""
    begun_ns = begins_ns if item.begun_ns is None else item.begun_ns
    offset = (begun_ns - begins_ns) * RATE_HZ // NS_PER_S
    first = max(0, offset)
    skip = first - offset
    last = len(item.samples)
    cut = None
    if item.cut_ns is not None:
        cut = max(0, (item.cut_ns - begun_ns) * RATE_HZ // NS_PER_S)
        last = min(last, cut + FADE_FRAMES)
    part = item.samples[skip : min(last, skip + len(result) - first)]
    for n, value in enumerate(part):
        if cut is not None and skip + n >= cut:
            value = value * (last - skip - n) // FADE_FRAMES
        total = result[first + n] + value
        result[first + n] = max(-FULL, min(FULL, total))
