"""The real voice: cached speech, played by a child process that may die without any harm."""

import json
import os
import subprocess
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import ClassVar

from coach.language import N_, _
from coach.voice.children import start_child
from coach.voice.chimes import tone_path
from coach.voice.mixer import NS_PER_S
from coach.voice.render import BackgroundRenderer, Cache
from coach.voice.voice_port import VoiceReport
from coach.voice.wav_samples import RATE_HZ

RESTARTS = 3
QUIT_AFTER_S = 8

NOTICES: dict[str, str | None] = {
    "no_sound_device": N_("NO SOUND DEVICE: watch the screen"),
    "sound_device_ok": "",
    "sound_device_gone": N_("SOUND DEVICE GONE: watch the screen"),
    "sound_device_back": "",
    "player_restarted": N_("SOUND PLAYER STARTED AGAIN: watch the screen"),
    "words_not_made": N_("SOME WORDS CANNOT BE SAID: watch the screen"),
    "player_lost": N_("NO SOUND: the player keeps failing, watch the screen"),
}

Order = dict[str, object]


def _notice(kind: str) -> str | None:
    text = NOTICES.get(kind)
    return None if text is None else _(text)


@dataclass(slots=True)
class SpokenVoice:
    """Speech through ``cache``; the player is started with the first word or tone.

    Attributes:
        gain: factor for all sounds, 0 to 2; 1 is as loud as they were made.
        on_sound: hears of each file that begins to sound, when, and whether it is a tone; "" for
            silence. See :meth:`coach.voice.listener.ListeningEar.plays`.
        lead_in_ns: how long a sleepy loudspeaker takes to wake up; 0 for one that never sleeps.
    """

    live: ClassVar[bool] = True
    cache: Cache
    gain: float = 1.0
    lead_in_ns: int = 0
    on_sound: Callable[[str, int, bool], None] | None = None
    _child: "subprocess.Popen[bytes] | None" = None
    _told: bytes = b""
    _restarts: int = 0
    _lost: bool = False
    _reports: list[VoiceReport] = field(default_factory=list)
    _background: BackgroundRenderer = field(init=False)
    _waiting: dict[str, Order] = field(default_factory=dict)
    _tones: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._background = BackgroundRenderer(self.cache)

    def prepare(
        self, texts: Iterable[str], on_progress: Callable[[int, int], None] | None = None
    ) -> dict[str, str]:
        """Start the player, so that a missing device is told early; render what is missing."""
        self._start()
        return self.cache.render(texts, on_progress)

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        """Hand the cue to the player; never waits. Words nobody prepared follow when rendered."""
        speech = self.cache.path(text) if text else None
        known = speech is not None and speech.exists()
        order: Order = {
            "do": "say",
            # Short enough to go through the pipe whole or not at all.
            "text": text[:200] or f"({tone})",
            "speech": str(speech) if known else None,
            "tone": str(tone_path(tone)) if tone else None,
            "at_ns": at_ns,
            "until_ns": until_ns,
            "urgent": urgent,
        }
        if text and not known:
            self._waiting[text] = {**order, "speech": str(speech), "tone": None, "urgent": False}
            self._background.want(text)
        if tone is not None:
            self._tones[str(order["text"])] = str(order["tone"])
        if known or tone is not None or urgent:
            self._order(order)

    def silence(self) -> None:
        """Be quiet at once."""
        self._waiting.clear()
        if self.on_sound is not None:
            self.on_sound("", time.monotonic_ns(), False)
        if self._child is not None:
            self._order({"do": "silence"})

    def poll(self) -> list[VoiceReport]:
        """What the player tells, and whether it still lives."""
        self._say_rendered()
        self._read()
        if self._child is not None and self._child.poll() is not None:
            self._died()
        reports, self._reports = self._reports, []
        return reports

    def close(self) -> None:
        """Let the last words finish, then end the player."""
        self._background.close()
        self._order({"do": "quit"})
        child, self._child = self._child, None
        if child is None:
            return
        if child.stdin is not None:
            child.stdin.close()
        try:
            child.wait(QUIT_AFTER_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()
        if child.stdout is not None:
            child.stdout.close()

    def _say_rendered(self) -> None:
        for text, problem in self._background.done():
            order = self._waiting.pop(text, None)
            if problem is not None:
                lost = VoiceReport(
                    kind="words_not_made", notice=_notice("words_not_made"), text=text
                )
                self._reports.append(lost)
            elif order is not None:
                self._order(order)

    def _start(self) -> None:
        if self._child is not None or self._lost:
            return
        try:
            child = start_child("coach.voice.player_child")
        except OSError:
            self._lose()
            return
        assert child.stdin is not None
        assert child.stdout is not None
        os.set_blocking(child.stdin.fileno(), False)
        os.set_blocking(child.stdout.fileno(), False)
        self._child = child
        if self.gain != 1.0:
            self._order({"do": "volume", "gain": self.gain})
        if self.lead_in_ns:
            self._order({"do": "lead_in", "lead_ns": self.lead_in_ns})

    def _order(self, order: Order) -> None:
        if order["do"] == "say":
            self._start()
        if self._child is None or self._child.stdin is None:
            return
        line = json.dumps(order).encode() + b"\n"
        try:
            written = os.write(self._child.stdin.fileno(), line)
        except (BlockingIOError, BrokenPipeError):
            written = 0
        if written < len(line):
            # It hangs or is gone. Half a line would spoil all that follow: begin anew.
            self._died()

    def _read(self) -> None:
        if self._child is None or self._child.stdout is None:
            return
        try:
            while chunk := os.read(self._child.stdout.fileno(), 65_536):
                self._told += chunk
        except BlockingIOError:
            pass
        *lines, self._told = self._told.split(b"\n")
        for line in lines:
            told = json.loads(line)
            length_ns = self._length_ns(told["text"]) if told["kind"] == "cue_started" else 0
            report = VoiceReport(notice=_notice(told["kind"]), length_ns=length_ns, **told)
            self._reports.append(report)
            self._tell(report)

    def _tell(self, report: VoiceReport) -> None:
        """What has begun to sound, to whom it concerns."""
        if self.on_sound is None:
            return
        if report.kind == "cue_started":
            self.on_sound(str(self.cache.path(report.text)), report.onset_ns, False)
        elif report.kind == "tone_started" and report.text in self._tones:
            self.on_sound(self._tones[report.text], report.onset_ns, True)

    def _length_ns(self, text: str) -> int:
        """How long the words sound: as long as their file, 16 bits a sample."""
        try:
            size = self.cache.path(text).stat().st_size
        except OSError:
            return 0
        return size * NS_PER_S // (2 * RATE_HZ)

    def _died(self) -> None:
        self._read()
        child, self._child = self._child, None
        if child is not None:
            child.kill()
            child.wait()
            for pipe in (child.stdin, child.stdout):
                if pipe is not None:
                    pipe.close()
        self._told = b""
        self._restarts += 1
        if self._restarts > RESTARTS:
            self._lose()
            return
        self._reports.append(
            VoiceReport(kind="player_restarted", notice=_notice("player_restarted"))
        )
        self._start()

    def _lose(self) -> None:
        self._lost = True
        self._reports.append(VoiceReport(kind="player_lost", notice=_notice("player_lost")))
