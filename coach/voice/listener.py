"""What the rest of the program sees of the listening process. Nothing here blocks or raises."""

import json
import os
import subprocess
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar, Protocol

from coach.language import N_, _
from coach.voice.children import start_child
from coach.voice.phrases import Utterance

RESTARTS = 3
CHILD = "coach.voice.ear_child"

NOTICES: Mapping[str, str] = {
    "microphone_ok": "",
    "no_microphone": N_("NO MICROPHONE: use the keys"),
    "microphone_gone": N_("MICROPHONE GONE: use the keys"),
    "microphone_mute": N_("MICROPHONE IS MUTE: use the keys"),
    "no_recogniser": N_("NOBODY LISTENS (coach listen tells why): use the keys"),
    "listening_behind": N_("LISTENING IS BEHIND: use the keys"),
    "listening_caught_up": "",
    "ear_restarted": N_("LISTENING STARTS AGAIN: use the keys"),
    "ear_lost": N_("NOBODY LISTENS: use the keys"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EarReport:
    """How the microphone is.

    Attributes:
        kind: a key of :data:`NOTICES`, for the journal.
        notice: the line to keep visible; "" takes it away.
        detail: why, in the words of the system, or "".
    """

    kind: str
    notice: str
    detail: str = ""


class Ear(Protocol):
    """Listens to the owner. ``live`` means that a microphone is behind it."""

    live: ClassVar[bool]

    def poll(self) -> Sequence[Utterance | EarReport]:
        """What was heard and what happened since the last call."""

    def close(self) -> None:
        """Listen no more."""


class NoEar:
    """Nobody listens, by choice."""

    live: ClassVar[bool] = False

    def poll(self) -> list[Utterance | EarReport]:
        """Has heard nothing."""
        return []

    def close(self) -> None:
        """Holds nothing."""


@dataclass(slots=True)
class ListeningEar:
    """A child process with microphone and recogniser; it may die without any harm."""

    live: ClassVar[bool] = True
    _child: "subprocess.Popen[bytes] | None" = None
    _told: bytes = b""
    _starts: int = 0
    _reports: list[Utterance | EarReport] = field(default_factory=list)

    def start(self) -> None:
        """Begin to listen, so that a missing microphone is told early."""
        if self._starts > RESTARTS:
            return
        self._starts += 1
        try:
            child = start_child(CHILD)
        except OSError:
            self._reports.append(_report("ear_lost"))
            self._starts = RESTARTS + 1
            return
        assert child.stdin is not None
        assert child.stdout is not None
        os.set_blocking(child.stdin.fileno(), False)
        os.set_blocking(child.stdout.fileno(), False)
        self._child = child

    def poll(self) -> list[Utterance | EarReport]:
        """What the child tells; a child that died is started again, three times at most."""
        if self._child is not None:
            self._read(self._child)
            if self._child.poll() is not None:
                self._read(self._child)
                self._end()
                lost = self._starts > RESTARTS
                self._reports.append(_report("ear_lost" if lost else "ear_restarted"))
                self.start()
        reports, self._reports = self._reports, []
        return reports

    def plays(self, path: str, onset_ns: int, tone: bool) -> None:
        """The coach itself plays the file from ``onset_ns`` of the monotonic clock on; ``tone``:
        it is no speech. "" for path: from then on it is silent. An ear that knows this hears the
        owner over it."""
        if self._child is None or self._child.stdin is None:
            return
        line = json.dumps({"plays": path, "onset_ns": onset_ns, "tone": tone}).encode() + b"\n"
        try:
            # Shorter than what a pipe takes whole or not at all.
            os.write(self._child.stdin.fileno(), line)
        except (BlockingIOError, BrokenPipeError):
            return

    def close(self) -> None:
        """End the child."""
        self._starts = RESTARTS + 1
        self._end()

    def _end(self) -> None:
        child, self._child, self._told = self._child, None, b""
        if child is None:
            return
        child.kill()
        child.wait()
        for pipe in (child.stdin, child.stdout):
            if pipe is not None:
                pipe.close()

    def _read(self, child: "subprocess.Popen[bytes]") -> None:
        assert child.stdout is not None
        try:
            while chunk := os.read(child.stdout.fileno(), 65_536):
                self._told += chunk
        except BlockingIOError:
            pass
        *lines, self._told = self._told.split(b"\n")
        self._reports += [_of(json.loads(line)) for line in lines]


def _of(told: dict[str, Any]) -> Utterance | EarReport:
    if told["kind"] == "heard":
        return Utterance(
            words=tuple(told["words"]), begins_ns=told["begins_ns"], ends_ns=told["ends_ns"]
        )
    return _report(told["kind"], told["detail"])


def _report(kind: str, detail: str = "") -> EarReport:
    notice = NOTICES[kind]
    return EarReport(kind=kind, notice=_(notice) if notice else "", detail=detail)
