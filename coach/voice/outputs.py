"""Ways to get samples to a loudspeaker, best first. Used inside the player process only."""

import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from coach.voice.mixer import NS_PER_S, Mixer
from coach.voice.waves import RATE_HZ, write_wave

LATENCY_S = 0.1
# Callbacks come every few hundredths of a second; a second without one means the device is gone.
DEAD_AFTER_NS = NS_PER_S


class NoDevice(Exception):  # noqa: N818  (a state of the world, not a fault)
    """There is nothing to play on just now."""


class Output(Protocol):
    """Pulls blocks from the mixer and plays them."""

    def work(self) -> None:
        """Called about 50 times a second. Raises NoDevice when the device has gone."""

    def close(self) -> None:
        """Let go of the device."""


class StreamOutput:
    """One PortAudio stream, always open: its latency is known and subtracted."""

    def __init__(self, mixer: Mixer, locked: Callable[[], Any]) -> None:
        try:
            import sounddevice
        except OSError as error:
            raise NoDevice("PortAudio is not installed") from error
        self._called_ns = time.monotonic_ns()

        def fill(out: Any, frames: int, when: Any, _status: Any) -> None:
            now_ns = time.monotonic_ns()
            self._called_ns = now_ns
            ahead_ns = round((when.outputBufferDacTime - when.currentTime) * NS_PER_S)
            with locked():
                out[:] = mixer.block(now_ns + max(0, ahead_ns), frames).tobytes()

        try:
            # PortAudio lists the devices once: look again each time.
            sounddevice._terminate()
            sounddevice._initialize()
            self._stream = sounddevice.RawOutputStream(
                samplerate=RATE_HZ, channels=1, dtype="int16", latency=LATENCY_S, callback=fill
            )
            self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            raise NoDevice(str(error)) from error

    def work(self) -> None:
        """See that the callbacks still come."""
        if time.monotonic_ns() - self._called_ns > DEAD_AFTER_NS:
            raise NoDevice("the sound device no longer asks for sound")

    def close(self) -> None:
        """Drop what is in the device's buffer and close."""
        self._stream.abort(ignore_errors=True)
        self._stream.close(ignore_errors=True)


class CommandOutput:
    """A system player, one process for each stretch of sound. Later and coarser, but it plays."""

    PLAYERS = ("pw-play", "paplay", "aplay")
    BLOCK = RATE_HZ // 50
    LONGEST = 10 * RATE_HZ

    def __init__(self, mixer: Mixer, locked: Callable[[], Any]) -> None:
        found = [path for path in map(shutil.which, self.PLAYERS) if path]
        if not found:
            raise NoDevice("no sound device and no system player")
        self._player = found[0]
        self._mixer = mixer
        self._locked = locked
        self._folder = tempfile.TemporaryDirectory()
        self._running: subprocess.Popen[bytes] | None = None
        self._silenced = mixer.silenced

    def work(self) -> None:
        """Play what begins now, up to the next silence; stop when the mixer was silenced."""
        now_ns = time.monotonic_ns()
        with self._locked():
            if self._running is not None:
                code = self._running.poll()
                if code is None:
                    if self._mixer.silenced != self._silenced:
                        self._running.kill()
                    return
                self._running = None
                if code > 0:
                    raise NoDevice(f"{Path(self._player).name} cannot play")
            self._silenced = self._mixer.silenced
            sound = self._mixer.block(now_ns, self.BLOCK)
            while self._mixer.sounding and len(sound) < self.LONGEST:
                at_ns = now_ns + len(sound) * NS_PER_S // RATE_HZ
                sound.extend(self._mixer.block(at_ns, self.BLOCK))
        if any(sound):
            path = Path(self._folder.name) / "sound.wav"
            write_wave(path, sound)
            self._running = subprocess.Popen(  # noqa: S603  (found on PATH by a fixed name)
                [self._player, str(path)],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )

    def close(self) -> None:
        """Stop playing."""
        if self._running is not None:
            self._running.kill()
            self._running.wait()
        self._folder.cleanup()


OUTPUTS: tuple[type[StreamOutput] | type[CommandOutput], ...] = (StreamOutput, CommandOutput)
