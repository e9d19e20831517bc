"""Ways to get samples to a loudspeaker, best first. Used inside the player process only."""

import random
import shutil
import subprocess
import tempfile
import threading
import time
from array import array
from pathlib import Path
from typing import Any, Protocol

from coach.voice.mixer import Mixer, samples_ns
from coach.voice.wav_samples import RATE_HZ, write_wave

NS_PER_S = 1_000_000_000

# What is in the device's buffer is heard even after "stop": with this, silence came within
# 0.1 s. Much less (PortAudio's own "low", 0.01 s) runs dry on a busy machine.
LATENCY_S = 0.07
# What keeps a sleepy loudspeaker awake: noise some 64 dB below full scale. Our choice, no source.
AWAKE_LSB = 20
# Callbacks come every few hundredths of a second, but some devices take a second to wake up.
DEAD_AFTER_NS = 2 * NS_PER_S


class NoDevice(Exception):  # noqa: N818  (a state of the world, not a fault)
    """There is nothing to play on just now."""


class Output(Protocol):
    """Pulls blocks from the mixer and plays them."""

    # How long the player may wait before it calls work() again.
    pause_s: float
    # From the moment when a sound is asked for to the moment when it is heard, as far as the
    # device tells; 0 where it does not.
    latency_ns: int

    def work(self) -> None:
        """See to the output. Raises NoDevice when the device has gone."""

    def finish(self) -> None:
        """Let what has been pulled be heard."""

    def close(self) -> None:
        """Let go of the device at once."""


class Steadiness:
    """Whether a device asked for sound in time. Pure; all times are of the monotonic clock, in ns.

    A device that asks again after all it was given has been played has run dry: what was lined up
    around that moment did not sound when it was meant to, whatever was reported of it.
    """

    def __init__(self) -> None:
        self._asked_ns: int | None = None
        self._lasts_until_ns = 0

    def asked(
        self, now_ns: int, ahead_ns: int, length_ns: int, *, underflow: bool
    ) -> tuple[int, int] | None:
        """The device asks for ``length_ns`` of sound that is heard ``ahead_ns`` from now.

        Returns from when on what sounded is uncertain, and how long nothing came; None where
        nothing is amiss.
        """
        before_ns, dry_ns = self._asked_ns, max(0, now_ns - self._lasts_until_ns)
        self._asked_ns = now_ns
        self._lasts_until_ns = now_ns + ahead_ns + length_ns
        if before_ns is None or not (underflow or dry_ns):
            return None
        return before_ns, dry_ns


class StreamOutput:
    """One PortAudio stream, always open: its latency is known and subtracted."""

    pause_s = 0.1

    def __init__(self, mixer: Mixer, lock: threading.Lock, lead_ns: int = 0) -> None:
        try:
            import sounddevice
        except OSError as error:
            raise NoDevice("PortAudio is not installed") from error
        self._called_ns = time.monotonic_ns()
        self.latency_ns = 0
        latency_ns = round(LATENCY_S * NS_PER_S)
        # The loudspeaker wakes up once; after that it is never left in silence.
        asleep_until_ns = self._called_ns + lead_ns
        noise = awake(RATE_HZ).tobytes() if lead_ns else b""
        steadiness = Steadiness()

        def fill(out: Any, frames: int, when: Any, status: Any) -> None:
            now_ns = time.monotonic_ns()
            self._called_ns = now_ns
            ahead_ns = round((when.outputBufferDacTime - when.currentTime) * NS_PER_S)
            if not 0 <= ahead_ns < NS_PER_S:
                ahead_ns = latency_ns
            self.latency_ns = ahead_ns + samples_ns(frames)
            amiss = steadiness.asked(
                now_ns, ahead_ns, samples_ns(frames), underflow=bool(status.output_underflow)
            )
            if amiss is not None:
                with lock:
                    mixer.disturbed(*amiss)
            samples = None
            if now_ns + ahead_ns >= asleep_until_ns:
                with lock:
                    block = mixer.block(now_ns + ahead_ns, frames)
                samples = block.tobytes() if not noise or any(block) else None
            out[:] = noise[: 2 * frames].ljust(2 * frames, b"\0") if samples is None else samples

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

    def finish(self) -> None:
        """Wait until the device's buffer has been played."""
        self._stream.stop(ignore_errors=True)

    def close(self) -> None:
        """Drop what is in the device's buffer and close."""
        self._stream.abort(ignore_errors=True)
        self._stream.close(ignore_errors=True)


class CommandOutput:
    """A system player, one process for each stretch of sound. Later and coarser, but it plays.

    Each stretch begins with the lead-in; what is known ahead begins that much earlier.
    """

    pause_s = 0.02
    latency_ns = 0
    PLAYERS = ("pw-play", "paplay", "aplay")
    BLOCK = RATE_HZ // 50
    LONGEST = 10 * RATE_HZ
    ANSWER_WITHIN_S = 3.0

    def __init__(self, mixer: Mixer, lock: threading.Lock, lead_ns: int = 0) -> None:
        self._mixer = mixer
        self._lock = lock
        self._lead_ns = self.latency_ns = lead_ns
        self._lead_in = awake(lead_ns * RATE_HZ // NS_PER_S)
        self._folder = tempfile.TemporaryDirectory()
        self._file = Path(self._folder.name) / "sound.wav"
        self._running: subprocess.Popen[bytes] | None = None
        self._silenced = mixer.silenced
        self._player = self._first_that_plays()

    def _first_that_plays(self) -> str:
        write_wave(self._file, array("h", bytes(2 * (RATE_HZ // 10))))
        for player in filter(None, map(shutil.which, self.PLAYERS)):
            self._player = player
            trial = self._play()
            try:
                if trial.wait(self.ANSWER_WITHIN_S) == 0:
                    return player
            except subprocess.TimeoutExpired:
                trial.kill()
                trial.wait()
        self._folder.cleanup()
        raise NoDevice("no sound device, or no player for it")

    def _play(self) -> "subprocess.Popen[bytes]":
        return subprocess.Popen(  # noqa: S603  (found on PATH by a fixed name)
            [self._player, str(self._file)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def work(self) -> None:
        """Play what begins now; stop for a silence, and for a tone whose moment has come."""
        now_ns = time.monotonic_ns() + self._lead_ns
        with self._lock:
            if self._running is not None:
                code = self._running.poll()
                if code is None:
                    if self._mixer.silenced == self._silenced and not self._mixer.tone_due(now_ns):
                        return
                    self._end()
                else:
                    self._running = None
                    if code > 0:
                        raise NoDevice(f"{Path(self._player).name} cannot play")
            self._silenced = self._mixer.silenced
            sound = self._mixer.block(now_ns, self.BLOCK)
            while self._mixer.sounding and len(sound) < self.LONGEST:
                sound.extend(self._mixer.block(now_ns + samples_ns(len(sound)), self.BLOCK))
        if any(sound):
            write_wave(self._file, self._lead_in + sound)
            self._running = self._play()

    def _end(self) -> None:
        if self._running is not None:
            self._running.kill()
            self._running.wait()
            self._running = None

    def finish(self) -> None:
        """Wait for the player, but not for ever."""
        if self._running is not None:
            try:
                self._running.wait(self.LONGEST / RATE_HZ)
            except subprocess.TimeoutExpired:
                self._end()

    def close(self) -> None:
        """Stop playing."""
        self._end()
        self._folder.cleanup()


def awake(count: int) -> "array[int]":
    """``count`` samples of noise that nobody hears, but that keeps a loudspeaker awake."""
    dice = random.Random(1)  # noqa: S311  (noise, no secret)
    return array("h", (round(dice.gauss(0, AWAKE_LSB)) for _ in range(count)))


OUTPUTS: tuple[type[StreamOutput] | type[CommandOutput], ...] = (StreamOutput, CommandOutput)
