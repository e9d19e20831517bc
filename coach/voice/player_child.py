"""The player process: ``python -m coach.voice.player_child``. JSON lines in, JSON lines out.

In: ``{"do": "say", "text", "speech": path or null, "tone": path or null, "at_ns", "until_ns",
"urgent"}``, ``{"do": "silence"}``, ``{"do": "volume", "gain": 0..2}``, ``{"do": "lead_in",
"lead_ns"}`` (before anything is said), ``{"do": "quit"}``.
Out: ``{"kind", "text", "onset_ns", "late_ns"}``, kinds as in
:class:`coach.voice.voice_port.VoiceReport`. Times are those of the monotonic clock.

A process of its own because PortAudio and ALSA print on the terminal, can hang with a broken
device, and must never take the session with them.
"""

import json
import os
import selectors
import sys
import threading
import time
from array import array
from collections import deque
from functools import lru_cache
from pathlib import Path
from typing import Any

from coach.voice.audio_outputs import OUTPUTS, NoDevice, Output
from coach.voice.device_watch import DeviceWatch
from coach.voice.mixer import NS_PER_S, Mixer
from coach.voice.wav_samples import read_wave, scaled

RETRY_NS = 2 * NS_PER_S
NO_OUTPUT_PAUSE_S = 0.05
LAST_WORDS_NS = 6 * NS_PER_S
# A latency that has changed by less is the same one.
SAME_LATENCY_NS = NS_PER_S // 20


class Player:
    """Reads orders, keeps an output open, tells what happens."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.untold: deque[bytes] = deque()
        self.mixer = Mixer(self.tell)
        self.watch = DeviceWatch()
        self.seen = self.watch.latest
        self.output: Output | None = None
        self.had_device: bool | None = None
        self.retry_ns = 0
        self.gain = 1.0
        self.lead_ns = 0
        self.latency_ns = 0
        self.running = True

    def tell(self, kind: str, text: str = "", onset_ns: int = 0, late_ns: int = 0) -> None:
        """Note one line for the parent; also called by the sound callback, so it never waits."""
        told = {"kind": kind, "text": text, "onset_ns": onset_ns, "late_ns": late_ns}
        self.untold.append(json.dumps(told).encode() + b"\n")

    def send(self) -> None:
        """Write the noted lines. A parent that is gone ends us; one that does not read waits."""
        while self.untold:
            try:
                os.write(1, self.untold[0])
            except BlockingIOError:
                return
            except BrokenPipeError:
                self.running = False
                return
            self.untold.popleft()

    def obey(self, order: dict[str, Any]) -> None:
        """One order."""
        match order["do"]:
            case "say":
                tone = self._sound(order["tone"], order["text"])
                speech = self._sound(order["speech"], order["text"])
                with self.lock:
                    self.mixer.add(
                        order["text"],
                        tone=tone,
                        speech=speech,
                        at_ns=order["at_ns"],
                        until_ns=order["until_ns"],
                        urgent=order["urgent"],
                    )
            case "silence":
                with self.lock:
                    self.mixer.silence()
            case "volume":
                self.gain = order["gain"]
            case "lead_in":
                self.lead_ns = order["lead_ns"]
                self._close()
                self.retry_ns = 0
            case "quit":
                self.running = False

    def _sound(self, path: str | None, text: str) -> "array[int] | None":
        if path is None:
            return None
        try:
            return _loaded(path, self.gain)
        except (OSError, ValueError):
            # A missing or broken sound file is one cue less, not the end.
            self.tell("cue_dropped", text)
            return None

    @property
    def pause_s(self) -> float:
        """How long to wait for orders."""
        return NO_OUTPUT_PAUSE_S if self.output is None else self.output.pause_s

    def keep_playing(self) -> None:
        """Work the output; when there is none, look for one every two seconds."""
        now_ns = time.monotonic_ns()
        if self.watch.latest != self.seen:
            self.seen = self.watch.latest
            self._close()
            self.retry_ns = now_ns
        if self.output is not None:
            try:
                self.output.work()
            except NoDevice:
                self._close()
                self.retry_ns = now_ns
        if self.output is None and now_ns >= self.retry_ns:
            self.retry_ns = now_ns + RETRY_NS
            self._find()
        if self.output is None:
            with self.lock:
                self.mixer.pass_over(now_ns)
        elif abs(self.output.latency_ns - self.latency_ns) > SAME_LATENCY_NS:
            self.latency_ns = self.output.latency_ns
            self.tell("output_latency", late_ns=self.latency_ns)

    def _find(self) -> None:
        for kind in OUTPUTS if not self.seen.certainly_none else ():
            try:
                self.output = kind(self.mixer, self.lock, self.lead_ns)
            except NoDevice:
                continue
            if not self.had_device:
                self.tell("sound_device_ok" if self.had_device is None else "sound_device_back")
            self.had_device = True
            return
        if self.had_device is None:
            self.tell("no_sound_device")
        elif self.had_device:
            self.tell("sound_device_gone")
        self.had_device = False

    def _close(self) -> None:
        if self.output is not None:
            self.output.close()
            self.output = None

    def last_words(self) -> None:
        """Let what is lined up be heard, but not for long."""
        ends_ns = time.monotonic_ns() + LAST_WORDS_NS
        while self.output is not None and not self.mixer.idle and time.monotonic_ns() < ends_ns:
            self.keep_playing()
            time.sleep(self.pause_s)
        if self.output is not None:
            self.output.finish()
        self._close()
        self.watch.close()


@lru_cache(maxsize=256)
def _loaded(path: str, gain: float) -> "array[int]":
    samples = read_wave(Path(path))
    return samples if gain == 1.0 else scaled(samples, gain)


def main() -> None:
    """Play until told to quit or until the parent is gone."""
    os.set_blocking(1, False)
    player = Player()
    typed = b""
    with selectors.DefaultSelector() as waiting:
        waiting.register(0, selectors.EVENT_READ)
        while player.running:
            player.keep_playing()
            player.send()
            for _ in waiting.select(player.pause_s):
                chunk = os.read(0, 65_536)
                if not chunk:
                    player.running = False
                *lines, typed = (typed + chunk).split(b"\n")
                for line in lines:
                    player.obey(json.loads(line))
    player.last_words()
    player.send()


if __name__ == "__main__":
    main()
    sys.exit(0)
