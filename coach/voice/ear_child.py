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
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from coach.voice.recogniser import Chain

RETRY_S = 2.0
# So long nothing but zeros: no room is that quiet, the microphone is switched off.
MUTE_S = 3.0
MUTE_LSB = 1


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


def listen(
    chain: "Chain", told_own: "queue.SimpleQueue[dict[str, Any]]", heard_before: bool
) -> bool:
    """Listen until the microphone is gone; whether there was one."""
    from coach.voice.microphone import WANTED_HZ, Microphone, NoMicrophone

    try:
        microphone = Microphone()
    except NoMicrophone as reason:
        if not heard_before:
            tell(kind="no_microphone", detail=str(reason))
        return False
    told = ""
    quiet_s = 0.0
    try:
        while True:
            samples, taken_ns = microphone.read()
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
    except NoMicrophone as reason:
        tell(kind="microphone_gone", detail=str(reason))
        return True
    finally:
        microphone.close()


def main() -> None:
    """Listen for as long as the parent lives."""
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
