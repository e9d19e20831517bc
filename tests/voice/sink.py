"""A sound card made of software: a private PulseAudio with one sink whose sound can be read."""

import os
import select
import shutil
import signal
import subprocess
from array import array
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from coach.voice.wav_samples import RATE_HZ

NEEDED = "pulseaudio is needed for these tests: apt install pulseaudio libportaudio2"
# A killed daemon is gone at once; on a busy machine, soon.
GONE_S = 60


class SoundServer:
    """A daemon of our own in ``folder``; point programs at it with :attr:`environment`."""

    def __init__(self, folder: Path) -> None:
        assert shutil.which("pulseaudio"), NEEDED
        assert shutil.which("pactl"), NEEDED
        folder.mkdir(mode=0o700)
        self.folder = folder
        self.socket = folder / "native"
        self.environment = {
            "PULSE_SERVER": f"unix:{self.socket}",
            "XDG_RUNTIME_DIR": str(folder),
            "PIPEWIRE_RUNTIME_DIR": str(folder),
        }
        self.pid = 0
        self.start()

    def start(self) -> None:
        """Start the daemon, without any sink; comes back when it answers."""
        subprocess.run(
            [
                "pulseaudio",
                "-n",
                "--daemonize=yes",
                "--exit-idle-time=-1",
                "--log-target=file:/dev/null",
                f"--load=module-native-protocol-unix socket={self.socket} auth-anonymous=1",
            ],
            env={**os.environ, **self.environment},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=True,
            timeout=60,
        )
        self.pid = int((self.folder / "pulse" / "pid").read_text())

    def kill(self) -> None:
        """End our daemon, and only ours."""
        if self.pid:
            ours = os.pidfd_open(self.pid)
            signal.pidfd_send_signal(ours, signal.SIGKILL)
            # The next one refuses to start while this one, or its number, seems to be there.
            assert select.select([ours], [], [], GONE_S)[0], "the sound server does not end"
            os.close(ours)
            self.pid = 0
            (self.folder / "pulse" / "pid").unlink(missing_ok=True)
            self.socket.unlink(missing_ok=True)

    def ask(self, *words: str) -> str:
        """``pactl``."""
        return subprocess.run(
            ["pactl", *words],
            env={**os.environ, **self.environment},
            capture_output=True,
            text=True,
            check=True,
            timeout=60,
        ).stdout.strip()

    def plug_in(self, name: str = "room") -> str:
        """A new sink; returns what :meth:`pull_out` wants."""
        return self.ask("load-module", "module-null-sink", f"sink_name={name}", f"rate={RATE_HZ}")

    def plug_in_microphone(self) -> None:
        """A microphone that hears what is played on the sink ``air``."""
        self.plug_in("air")
        self.ask("load-module", "module-remap-source", "master=air.monitor", "source_name=mouth")
        self.ask("set-default-source", "mouth")

    def pull_out(self, plugged: str) -> None:
        """The sink is gone."""
        self.ask("unload-module", plugged)

    @contextmanager
    def listen(self, name: str = "room") -> Iterator["Ear"]:
        """Hear what the sink plays."""
        hearing = subprocess.Popen(
            [
                "parec",
                f"--device={name}.monitor",
                "--raw",
                "--format=s16le",
                "--channels=1",
                f"--rate={RATE_HZ}",
                "--latency-msec=20",
            ],
            env={**os.environ, **self.environment},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        try:
            ear = Ear(hearing)
            ear.hear(0.3)  # connected, and the sink awake
            yield ear
        finally:
            hearing.kill()
            hearing.communicate()


class Ear:
    """Reads the recording as it grows: real time is what it waits for."""

    def __init__(self, hearing: "subprocess.Popen[bytes]") -> None:
        assert hearing.stdout is not None
        self._stream = hearing.stdout
        self.heard = array("h")

    def hear(self, for_s: float) -> "array[int]":
        """Go on for so long; returns all that was heard since the begin."""
        wanted = round(for_s * RATE_HZ) * 2
        got = self._stream.read(wanted)
        assert len(got) == wanted, "the recording ended"
        self.heard.frombytes(got)
        return self.heard
