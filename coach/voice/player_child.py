"""The player process: ``python -m coach.voice.player_child``. JSON lines in, JSON lines out.

In: ``{"do": "say", "text", "speech": path or null, "tone": path or null, "at_ns", "until_ns",
"urgent"}``, ``{"do": "silence"}``, ``{"do": "volume", "gain": 0..2}``, ``{"do": "quit"}``.
Out: ``{"kind", "text", "late_ns"}``, kinds as in :class:`coach.voice.speaker.VoiceReport`.

A process of its own because PortAudio and ALSA print on the terminal, can hang with a broken
device, and must never take the session with them.
"""

import json
import os
import selectors
import sys
import threading
import time
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

from coach.voice.mixer import NS_PER_S, Mixer
from coach.voice.outputs import OUTPUTS, NoDevice, Output
from coach.voice.waves import read_wave, scaled

RETRY_NS = 2 * NS_PER_S
WORK_S = 0.02


class Player:
    """Reads orders, keeps an output open, tells what happens."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.mixer = Mixer(self.tell)
        self.output: Output | None = None
        self.had_device: bool | None = None
        self.retry_ns = 0
        self.gain = 1.0
        self.running = True

    def tell(self, kind: str, text: str = "", late_ns: int = 0) -> None:
        """One line to the parent; a parent that is gone ends us."""
        line = json.dumps({"kind": kind, "text": text, "late_ns": late_ns}) + "\n"
        try:
            os.write(1, line.encode())
        except BrokenPipeError:
            self.running = False

    def obey(self, order: dict[str, Any]) -> None:
        """One order."""
        match order["do"]:
            case "say":
                with self.lock:
                    self.mixer.add(
                        order["text"],
                        tone=self._sound(order["tone"]),
                        speech=self._sound(order["speech"]),
                        at_ns=order["at_ns"],
                        until_ns=order["until_ns"],
                        urgent=order["urgent"],
                    )
            case "silence":
                with self.lock:
                    self.mixer.silence(time.monotonic_ns())
            case "volume":
                self.gain = order["gain"]
            case "quit":
                self.running = False

    def _sound(self, path: str | None) -> Any:
        return None if path is None else _loaded(path, self.gain)

    def keep_playing(self) -> None:
        """Work the output; when there is none, look for one every two seconds."""
        now_ns = time.monotonic_ns()
        if self.output is None and now_ns >= self.retry_ns:
            self.retry_ns = now_ns + RETRY_NS
            self._find()
        if self.output is None:
            with self.lock:
                # Time passes unheard: what was due is dropped, never queued up.
                self.mixer.block(now_ns, round(WORK_S * 22_050))
            return
        try:
            self.output.work()
        except NoDevice:
            self._lose()

    def _find(self) -> None:
        for kind in OUTPUTS:
            try:
                self.output = kind(self.mixer, lambda: self.lock)
            except NoDevice:
                continue
            if self.had_device is False:
                self.tell("sound_device_back")
            self.had_device = True
            return
        if self.had_device is None:
            self.tell("no_sound_device")
        self.had_device = False

    def _lose(self) -> None:
        if self.output is not None:
            self.output.close()
        self.output = None
        self.retry_ns = time.monotonic_ns() + RETRY_NS
        self.tell("sound_device_gone")
        self.had_device = False


@lru_cache(maxsize=256)
def _loaded(path: str, gain: float) -> Any:
    samples = read_wave(Path(path))
    return samples if gain == 1.0 else scaled(samples, gain)


def main() -> None:
    """Play until told to quit or until the parent is gone."""
    player = Player()
    typed = b""
    with selectors.DefaultSelector() as waiting:
        waiting.register(0, selectors.EVENT_READ)
        while player.running:
            player.keep_playing()
            for _ in waiting.select(WORK_S):
                chunk = os.read(0, 65_536)
                if not chunk:
                    player.running = False
                *lines, typed = (typed + chunk).split(b"\n")
                for line in lines:
                    # A missing or broken sound file is one cue less, not the end.
                    with suppress(OSError, ValueError):
                        player.obey(json.loads(line))
    ends_ns = time.monotonic_ns() + 4 * NS_PER_S
    while player.output is not None and not player.mixer.idle and time.monotonic_ns() < ends_ns:
        player.keep_playing()
        time.sleep(WORK_S)
    if player.output is not None:
        player.output.close()


if __name__ == "__main__":
    # A closed terminal or Ctrl-C is the parent's business; it tells us when to quit.
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    main()
    sys.exit(0)
