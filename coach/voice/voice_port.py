"""What the rest of the program sees of the voice. Nothing here blocks or raises for a device."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import ClassVar, Protocol

from coach.units import NS_PER_S

# Words that nobody prepared are spoken when they are rendered, if that takes no longer.
SPOKEN_WITHIN_NS = 5 * NS_PER_S


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceReport:
    """Something the voice has to tell.

    Attributes:
        kind: for the journal: no_sound_device, sound_device_ok, sound_device_gone,
            sound_device_back, player_restarted, player_lost, words_not_made (nobody foresaw the
            words, and they could not be rendered), tone_started, tone_dropped, tone_not_exact
            (the device ran dry around a tone that was told as started),
            cue_started, cue_dropped (cue: the words; tone: the tone before them),
            output_latency (what is asked for now is heard ``late_ns`` later on this device).
        notice: the line to keep visible; "" takes it away; None leaves it as it is.
        text: the cue that is spoken of, ``(start)`` for a tone without words, or "".
        onset_ns: when a started sound leaves the device, by the monotonic clock; else 0.
        late_ns: how much later than asked that is, or was when it was dropped.
        length_ns: how long the words of a ``cue_started`` sound, if nothing cuts them off.
    """

    kind: str
    notice: str | None = None
    text: str = ""
    onset_ns: int = 0
    late_ns: int = 0
    length_ns: int = 0


class Voice(Protocol):
    """Says cues and plays tones at given moments of the monotonic clock.

    ``live`` means that a device is behind it, which may come, go or be late at any time.
    """

    @property
    def live(self) -> bool:
        """Whether a device is behind it."""

    def prepare(
        self, texts: Iterable[str], on_progress: Callable[[int, int], None] | None = None
    ) -> dict[str, str]:
        """Make ready to say ``texts``; the ones that cannot be said, with the reason."""

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        """Say ``text`` ("" for the tone alone) at ``at_ns``, or not at all after ``until_ns``."""

    def silence(self) -> None:
        """Be quiet now and forget what was lined up."""

    def poll(self) -> list[VoiceReport]:
        """What has happened since the last call."""

    def close(self) -> None:
        """Let the last words finish and let go of the device."""


class SilentVoice:
    """No sound at all, by choice."""

    live: ClassVar[bool] = False

    def prepare(
        self, texts: Iterable[str], on_progress: Callable[[int, int], None] | None = None
    ) -> dict[str, str]:
        """Nothing to make ready."""
        return {}

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        """Says nothing."""

    def silence(self) -> None:
        """Is silent already."""

    def poll(self) -> list[VoiceReport]:
        """Has nothing to tell."""
        return []

    def close(self) -> None:
        """Holds nothing."""


def speak(voice: Voice, text: str, *, now_ns: int, within_ns: int = SPOKEN_WITHIN_NS) -> None:
    """Say ``text`` ("": nothing) now, instead of whatever is being said."""
    voice.silence()
    if text:
        until_ns = now_ns + within_ns
        voice.say(text, at_ns=now_ns, until_ns=until_ns, urgent=False, tone=None)
