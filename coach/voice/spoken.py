"""The real voice: cached speech, played by a child process that may die without any harm."""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from coach.voice.chimes import tone_path
from coach.voice.render import Cache
from coach.voice.speaker import VoiceReport

RESTARTS = 3
QUIT_AFTER_S = 6

NOTICES: dict[str, str | None] = {
    "no_sound_device": "NO SOUND DEVICE: watch the screen",
    "sound_device_gone": "SOUND DEVICE GONE: watch the screen",
    "sound_device_back": "",
    "player_restarted": None,
    "player_lost": "NO SOUND: the player keeps failing, watch the screen",
    "cue_dropped": None,
    "cue_started": None,
}


@dataclass(slots=True)
class SpokenVoice:
    """Speech through ``cache``; the player is started with the first word or tone."""

    cache: Cache
    _child: "subprocess.Popen[bytes] | None" = None
    _told: bytes = b""
    _restarts: int = 0
    _lost: bool = False
    _reports: list[VoiceReport] = field(default_factory=list)

    def prepare(
        self, texts: Iterable[str], on_progress: Callable[[int, int], None] | None = None
    ) -> dict[str, str]:
        """Render what is missing, and start the player so that a missing device is told early."""
        problems = self.cache.render(texts, on_progress)
        self._start()
        return problems

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        """Hand the cue to the player; never waits."""
        speech = self.cache.path(text) if text else None
        known = speech is not None and speech.exists()
        if not known and tone is None:
            self._reports.append(VoiceReport(kind="cue_dropped", text=text))
            return
        self._order(
            {
                "do": "say",
                "text": text or f"({tone})",
                "speech": str(speech) if known else None,
                "tone": str(tone_path(tone)) if tone else None,
                "at_ns": at_ns,
                "until_ns": until_ns,
                "urgent": urgent,
            }
        )

    def silence(self) -> None:
        """Be quiet at once."""
        if self._child is not None:
            self._order({"do": "silence"})

    def poll(self) -> list[VoiceReport]:
        """What the player tells, and whether it still lives."""
        self._read()
        if self._child is not None and self._child.poll() is not None:
            self._died()
        reports, self._reports = self._reports, []
        return reports

    def close(self) -> None:
        """Let the last words finish, then end the player."""
        if self._child is None:
            return
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

    def _start(self) -> None:
        if self._child is not None or self._lost:
            return
        child = subprocess.Popen(
            [sys.executable, "-m", "coach.voice.player_child"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
        )
        assert child.stdin is not None
        assert child.stdout is not None
        os.set_blocking(child.stdin.fileno(), False)
        os.set_blocking(child.stdout.fileno(), False)
        self._child = child

    def _order(self, order: dict[str, object]) -> None:
        self._start()
        if self._child is None or self._child.stdin is None:
            return
        line = json.dumps(order).encode() + b"\n"
        try:
            written = os.write(self._child.stdin.fileno(), line)
        except BlockingIOError:
            written = 0
        except BrokenPipeError:
            self._died()
            return
        if written < len(line):
            # The player hangs. Half a line would spoil all that follow: begin anew.
            self._child.kill()
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
            self._reports.append(VoiceReport(notice=NOTICES[told["kind"]], **told))

    def _died(self) -> None:
        child, self._child = self._child, None
        if child is not None:
            child.wait()
            for pipe in (child.stdin, child.stdout):
                if pipe is not None:
                    pipe.close()
        self._told = b""
        self._restarts += 1
        self._lost = self._restarts > RESTARTS
        kind = "player_lost" if self._lost else "player_restarted"
        self._reports.append(VoiceReport(kind=kind, notice=NOTICES[kind]))
        self._start()
