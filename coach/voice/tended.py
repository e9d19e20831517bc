"""A voice that speaks before its session begins, without losing what it has to report."""

from dataclasses import dataclass, field

from coach.voice.voice_port import Voice, VoiceReport


@dataclass(slots=True)
class Tended:
    """``voice``, and what it reported while nobody listened: ``reports`` for the session."""

    voice: Voice
    reports: list[VoiceReport] = field(default_factory=list)

    def tend(self) -> None:
        """Let the voice go on with its work; keep what it reports."""
        self.reports += self.voice.poll()
