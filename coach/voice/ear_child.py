"""The listening process: ``python -m coach.voice.ear_child``. JSON lines, until stdin ends.

In: ``{"plays": path or "", "onset_ns", "tone"}`` for what the coach itself plays and from when on,
as in :meth:`coach.voice.listener.ListeningEar.plays`.
Out: ``{"kind": "heard", "words", "begins_ns", "ends_ns"}`` for each stretch of speech, and
``{"kind", "detail"}`` for how the microphone is, kinds as in :data:`coach.voice.listener.NOTICES`.

A process of its own because PortAudio and ALSA print on the terminal and can hang, and because the
recogniser must never hold up the session.
"""

import json
import os
import queue
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Protocol

from coach.units import NS_PER_S

if TYPE_CHECKING:
    from coach.voice.microphone import Samples
    from coach.voice.recogniser import Chain

RETRY_S = 2.0
# So long nothing but zeros: no room is that quiet, the microphone is switched off.
MUTE_S = 3.0
MUTE_LSB = 1
# So late a command may soon be too old to be obeyed (command_filter.TOO_OLD_NS).
BEHIND_NS = NS_PER_S
CAUGHT_UP_NS = 3 * NS_PER_S // 10


def tell(**line: object) -> None:
    """One line for the parent."""
    try:
        os.write(1, json.dumps(line).encode() + b"\n")
    except BrokenPipeError:
        os._exit(0)


def await_end(told: "queue.SimpleQueue[dict[str, Any]]") -> None:
    """Hand on what the parent tells; leave when it has gone, whatever a device is doing."""
    read = b""
    while chunk := os.read(0, 4096):
        *lines, read = (read + chunk).split(b"\n")
        for line in lines:
            told.put(json.loads(line))
    os._exit(0)


class Source(Protocol):
    """A microphone, as :func:`listen` needs it."""

    rate_hz: int

    @property
    def lost(self) -> int:
        """How many blocks were thrown away so far."""

    def read(self) -> "tuple[Samples, int]":
        """The next samples and when the last was taken. Raises NoMicrophone."""

    def close(self) -> None:
        """Let go of the device."""


class LagWatch:
    """Says once when listening falls behind, and once when it has caught up. Pure."""

    def __init__(self) -> None:
        self._behind = False

    def look(self, lag_ns: int) -> str | None:
        """A kind of :data:`coach.voice.listener.NOTICES` where something has changed."""
        if not self._behind and lag_ns > BEHIND_NS:
            self._behind = True
            return "listening_behind"
        if self._behind and lag_ns < CAUGHT_UP_NS:
            self._behind = False
            return "listening_caught_up"
        return None


def listen(
    chain: "Chain",
    told_own: "queue.SimpleQueue[dict[str, Any]]",
    heard_before: bool,
    *,
    open_microphone: "Callable[[], Source] | None" = None,
    now_ns: Callable[[], int] = time.monotonic_ns,
) -> bool:
    """Listen until the microphone is gone; whether there was one."""
    from coach.voice.microphone import WANTED_HZ, Microphone, NoMicrophone

    try:
        microphone = (open_microphone or Microphone)()
    except NoMicrophone as reason:
        if not heard_before:
            tell(kind="no_microphone", detail=str(reason))
        return False
    told = ""
    quiet_s = 0.0
    lost = 0
    lag = LagWatch()
    try:
        while True:
            samples, taken_ns = microphone.read()
            if microphone.lost != lost:
                # What is left does not join what was heard before.
                lost = microphone.lost
                chain.reset()
            quiet = not len(samples) or abs(samples).max() <= MUTE_LSB
            quiet_s = quiet_s + len(samples) / WANTED_HZ if quiet else 0.0
            kind = "microphone_mute" if quiet_s >= MUTE_S else "microphone_ok"
            if kind != told and (kind == "microphone_mute" or not quiet):
                told = kind
                tell(kind=kind, detail=f"{microphone.rate_hz} Hz")
            while not told_own.empty():
                own = told_own.get()
                chain.plays(own["plays"], own["onset_ns"], tone=own["tone"])
            for utterance in chain.feed(samples, taken_ns):
                tell(kind="heard", **asdict(utterance))
            lag_ns = now_ns() - taken_ns
            changed = lag.look(lag_ns)
            if changed is not None:
                tell(kind=changed, detail=f"{lag_ns / NS_PER_S:.1f} s")
    except NoMicrophone as reason:
        tell(kind="microphone_gone", detail=str(reason))
        return True
    finally:
        microphone.close()


def main() -> None:
    """Listen for as long as the parent lives."""
    # A tone on time matters more than a word heard at once.
    os.nice(5)
    told_own: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
    threading.Thread(target=await_end, args=(told_own,), daemon=True).start()
    try:
        from coach.voice.recogniser import Chain, NoRecogniser
    except ImportError as error:
        tell(kind="no_recogniser", detail=str(error))
        threading.Event().wait()
        return
    try:
        chain = Chain()
    except (NoRecogniser, OSError, RuntimeError, ValueError) as error:
        tell(kind="no_recogniser", detail=str(error))
        threading.Event().wait()
        return
    said = False
    while True:
        said = listen(chain, told_own, said) or True
        time.sleep(RETRY_S)


if __name__ == "__main__":
    main()
    sys.exit(0)
