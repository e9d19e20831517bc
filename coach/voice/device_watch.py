"""Which loudspeaker is there: asked for every two seconds, because nobody tells.

PortAudio lists the devices once, and a stream whose sink was removed just falls silent. So the
sound server is asked for its default sink and the kernel for its cards; when the answer changes,
the output is opened anew.
"""

import shutil
import subprocess
import threading
from dataclasses import dataclass
from pathlib import Path

EVERY_S = 2.0
ANSWER_WITHIN_S = 2.0
CARDS = Path("/proc/asound/cards")

# What pactl answers when there is no loudspeaker: nothing, or the server's stand-in for one.
NO_SINK = {"", "(null)", "auto_null", "@DEFAULT_SINK@"}


@dataclass(frozen=True, slots=True)
class Devices:
    """What was found. ``sink`` is None where no sound server answers."""

    sink: str | None
    cards: str

    @property
    def certainly_none(self) -> bool:
        """A server answers, and has no loudspeaker."""
        return self.sink is not None and self.sink in NO_SINK


def devices() -> Devices:
    """Look now. Takes some hundredths of a second."""
    try:
        cards = CARDS.read_text(encoding="utf-8", errors="replace")
    except OSError:
        cards = ""
    return Devices(server_says("get-default-sink"), cards)


def server_says(what: str) -> str | None:
    """What ``pactl`` answers to ``what``, such as ``get-default-sink``; None without a server."""
    pactl = shutil.which("pactl")
    if pactl is None:
        return None
    try:
        answer = subprocess.run(  # noqa: S603  (found on PATH by a fixed name)
            [pactl, what],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=ANSWER_WITHIN_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return None
    if answer.returncode != 0:
        return None
    return answer.stdout.decode("utf-8", "replace").strip()


class DeviceWatch:
    """Looks in a thread of its own, so that a server that hangs delays nothing."""

    def __init__(self) -> None:
        self.latest = devices()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._keep_looking, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop looking; does not wait."""
        self._ended.set()

    def _keep_looking(self) -> None:
        while not self._ended.wait(EVERY_S):
            self.latest = devices()
