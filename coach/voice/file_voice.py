"""A voice that speaks into a WAV file, so that a whole session can be listened to afterwards."""

from array import array
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

from coach.voice.chimes import tone_path
from coach.voice.mixer import NS_PER_S, Mixer
from coach.voice.render import Cache
from coach.voice.voice_port import VoiceReport
from coach.voice.wav_samples import RATE_HZ, read_wave, write_wave

BLOCK = RATE_HZ // 10
TAIL_NS = 4 * NS_PER_S


@dataclass(slots=True)
class RecordedVoice:
    """Keeps the timeline of a session and writes it to ``path`` when closed.

    Attributes:
        said: every cue as it was asked for: (text, tone or None, at_ns).
    """

    live: ClassVar[bool] = False
    path: Path
    cache: Cache
    now_ns: Callable[[], int]
    said: list[tuple[str, str | None, int]] = field(default_factory=list)
    _mixer: Mixer = field(init=False)
    _samples: "array[int]" = field(default_factory=lambda: array("h"))
    _began_ns: int | None = None
    _reports: list[VoiceReport] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._mixer = Mixer(
            lambda kind, text, onset_ns, late_ns: self._reports.append(
                VoiceReport(kind=kind, text=text, onset_ns=onset_ns, late_ns=late_ns)
            )
        )

    def prepare(
        self, texts: Iterable[str], on_progress: Callable[[int, int], None] | None = None
    ) -> dict[str, str]:
        """Render what is missing."""
        return self.cache.render(texts, on_progress)

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        """Line up on the timeline of the recording."""
        self._catch_up(self.now_ns())
        self.said.append((text, tone, at_ns))
        file = self.cache.path(text)
        self._mixer.add(
            text or f"({tone})",
            tone=read_wave(tone_path(tone)) if tone else None,
            speech=read_wave(file) if text and file.exists() else None,
            at_ns=at_ns,
            until_ns=until_ns,
            urgent=urgent,
        )

    def silence(self) -> None:
        """Be quiet from now on."""
        self._catch_up(self.now_ns())
        self._mixer.silence()

    def poll(self) -> list[VoiceReport]:
        """What was begun and what was dropped."""
        self._catch_up(self.now_ns())
        reports, self._reports = self._reports, []
        return reports

    def close(self) -> None:
        """Let the last words finish and write the file."""
        self._catch_up(self.now_ns())
        if self._began_ns is not None:
            self._catch_up(self.now_ns() + TAIL_NS)
        write_wave(self.path, self._samples)

    def _catch_up(self, now_ns: int) -> None:
        if self._began_ns is None:
            self._began_ns = now_ns
        while True:
            begins_ns = self._began_ns + len(self._samples) * NS_PER_S // RATE_HZ
            if begins_ns + BLOCK * NS_PER_S // RATE_HZ > now_ns:
                return
            self._samples.extend(self._mixer.block(begins_ns, BLOCK))
