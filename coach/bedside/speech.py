"""The one voice of an evening: opened with its first words, lent to sessions, closed at last."""

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from coach.language import ENGLISH, _, ngettext
from coach.voice.settings import USUAL, VoiceWishes
from coach.voice.voice_port import SilentVoice, Voice, VoiceReport, speak
from coach.voice.wished_voice import spoken_voice

# A question stands until it is answered: it is worth saying when the voice is slow to start, too.
SAID_WITHIN_NS = 30_000_000_000
# So long the player may take to find a loudspeaker before words are rendered without knowing.
DEVICE_WITHIN_S = 3.0
POLL_S = 0.05


class Skipped(Exception):  # noqa: N818  (a wish of the owner)
    """The owner does not wait for the words."""


@dataclass(slots=True)
class LentVoice:
    """The voice of an evening in the hands of a session, which does not end it."""

    voice: Voice

    @property
    def live(self) -> bool:
        """Whether a device is behind it."""
        return self.voice.live

    def prepare(
        self, texts: Iterable[str], on_progress: Callable[[int, int], None] | None = None
    ) -> dict[str, str]:
        """As the voice does."""
        return self.voice.prepare(texts, on_progress)

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        """As the voice does."""
        self.voice.say(text, at_ns=at_ns, until_ns=until_ns, urgent=urgent, tone=tone)

    def silence(self) -> None:
        """As the voice does."""
        self.voice.silence()

    def poll(self) -> list[VoiceReport]:
        """As the voice does."""
        return self.voice.poll()

    def close(self) -> None:
        """The session is over; the evening goes on."""


@dataclass(slots=True)
class Speech:
    """Speaks as ``wishes`` say; into the file ``record`` instead, or not at all when ``silent``."""

    wishes: VoiceWishes = field(default_factory=VoiceWishes)
    silent: bool = False
    record: Path | None = None
    mono_ns: Callable[[], int] = time.monotonic_ns
    open_voice: Callable[[VoiceWishes], Voice] = spoken_voice
    _voice: Voice | None = None
    _reports: list[VoiceReport] = field(default_factory=list)
    _no_device: bool = False
    _skip: bool = False
    _aside: bool = False

    @property
    def voice(self) -> Voice:
        """The voice, opened now if it was not."""
        if self._voice is None:
            self._voice = self._opened()
        return self._voice

    def _opened(self) -> Voice:
        if self.silent:
            return SilentVoice()
        voice = self.open_voice(self.wishes)
        if self.record is None:
            return voice
        from coach.voice.child_voice import SpokenVoice
        from coach.voice.file_voice import RecordedVoice

        assert isinstance(voice, SpokenVoice)
        return RecordedVoice(self.record, voice.cache, self.mono_ns)

    def say(self, text: str) -> None:
        """Say ``text`` instead of what is being said; "" is quiet, and opens no voice."""
        if self.silent or (not text and self._voice is None):
            return
        speak(self.voice, text, now_ns=self.mono_ns(), within_ns=SAID_WITHIN_NS)
        self._aside = True

    def tend(self) -> None:
        """Let the voice go on with its work; keep what it reports for the next session."""
        if self._voice is not None:
            self._reports += self._voice.poll()

    def take_reports(self) -> list[VoiceReport]:
        """What was reported while nobody listened."""
        taken, self._reports = self._reports, []
        return taken

    def lent(self) -> Voice:
        """The voice for one session."""
        self._aside = False
        return LentVoice(self.voice)

    def close(self) -> None:
        """Let go of the device. The last words of a session, "Switch the laser off", are heard to
        their end; a page that was being read out is not."""
        if self._voice is not None:
            if self._aside:
                self._voice.silence()
            self._voice.close()
            self._voice = None

    # Words that are known ahead

    def missing(self, texts: Sequence[str], calm: frozenset[str] = frozenset()) -> bool:
        """Whether some of ``texts`` are not rendered yet."""
        from coach.voice.child_voice import SpokenVoice

        if self.silent:
            return False
        voice = self.voice
        if not isinstance(voice, SpokenVoice):
            return True
        voice.cache.calm = calm
        return any(text and not voice.cache.path(text).exists() for text in texts)

    def skip(self) -> None:
        """Let :meth:`prepare` end soon: what is not rendered follows when it is."""
        self._skip = True

    def prepare(
        self, texts: Sequence[str], progress: Callable[[int, int], None]
    ) -> tuple[str, ...]:
        """Render ``texts``; sentences for the owner where that did not work."""
        self._skip = False
        if not self.silent and self.record is None and not self._device():
            return ()

        def count(done: int, of: int) -> None:
            progress(done, of)
            if self._skip:
                raise Skipped

        try:
            return self._prepared(texts, count)
        except Skipped:
            return ()

    def _prepared(
        self, texts: Sequence[str], progress: Callable[[int, int], None]
    ) -> tuple[str, ...]:
        from coach.voice.natural import NATURAL

        unspoken = self.voice.prepare(texts, progress)
        if self.wishes.voice == NATURAL and unspoken.keys() >= set(filter(None, texts)) and texts:
            # It cannot run on this computer. A record is begun anew as well.
            self.close()
            self.wishes = replace(self.wishes, voice=USUAL[ENGLISH].voice)
            told = _("The natural voice does not start here: the other one speaks.")
            return (told, *self._prepared(texts, progress))
        if not unspoken:
            return ()
        told = ngettext(
            "{count} cue cannot be spoken and will only be shown.",
            "{count} cues cannot be spoken and will only be shown.",
            len(unspoken),
        )
        return (told.format(count=len(unspoken)),)

    def _device(self) -> bool:
        """Whether there is a loudspeaker; where there is none, nothing needs to be rendered."""
        if self._no_device:
            return False
        # Starts the player, which looks for one.
        self.voice.prepare([])
        ends_ns = self.mono_ns() + round(DEVICE_WITHIN_S * 1e9)
        while self.mono_ns() < ends_ns:
            self.tend()
            kinds = {report.kind for report in self._reports}
            if "no_sound_device" in kinds:
                self._no_device = True
                return False
            if kinds & {"sound_device_ok", "output_latency"}:
                return True
            time.sleep(POLL_S)
        return True
