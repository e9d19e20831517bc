"""``--plain``: the session line by line on stdout, for screen readers, logs and pipes.

Same machine, same journal, same voice as the full screen. Enter is the one big key; other
commands are words. When stdin ends in a rehearsal the coach presses the key itself.
"""

import heapq
import os
import selectors
import signal
import socket
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from typing import TextIO

from coach.body import region
from coach.plan.spots import Spot
from coach.runner import Runner
from coach.session import commands as cmd
from coach.session import events as ev
from coach.session.cues import Cue, place_text
from coach.session.machine import OVER, Step
from coach.units import NS_PER_S, ceil_s, clock_text

WORDS: Mapping[str, cmd.Command] = {
    "go": cmd.Go(),
    "pause": cmd.Pause("asked"),
    "moved": cmd.Pause("dog_moved"),
    "carry on": cmd.CarryOn(),
    "skip": cmd.Skip("asked"),
    "again": cmd.Again(),
    "back": cmd.Back(),
    "say": cmd.Say(),
    "stop": cmd.Stop("asked"),
}
HELP = (
    "Enter: the one key (start, pause, carry on). Words: " + ", ".join(WORDS) + ", help."
)


@dataclass(slots=True)
class PlainCoach:
    """Runs one session on text streams."""

    runner: Runner
    out: TextIO = field(default_factory=lambda: sys.stdout)
    stdin_fd: int = 0
    _cues: list[tuple[int, int, Cue]] = field(default_factory=list)
    _order: Iterator[int] = field(default_factory=count)
    _began_ns: int | None = None
    _pressed: bool = False

    def run(self) -> None:
        """Until the session is over or a signal closes it."""
        self.runner.heard = self._heard
        self._line("Get ready: eyewear on, the dog's eyes covered or turned away.")
        self._line(HELP)
        self._line("Press Enter to start.")
        with _wakeups() as wake, selectors.DefaultSelector() as waiting:
            waiting.register(wake, selectors.EVENT_READ)
            with_keys = _can_wait_on(self.stdin_fd)
            if with_keys:
                waiting.register(self.stdin_fd, selectors.EVENT_READ)
            typed = b""
            while self.runner.machine.phase not in OVER:
                if not with_keys and self.runner.view().waits:
                    self.runner.press()
                    continue
                for key, _ in waiting.select(self._wait_s()):
                    if key.fd != self.stdin_fd:
                        self.runner.do(cmd.Stop("closed"))
                        break
                    chunk = os.read(self.stdin_fd, 4096)
                    if not chunk:
                        waiting.unregister(self.stdin_fd)
                        with_keys = False
                        if not self.runner.rehearsal:
                            # Nobody is left who could stop it.
                            self.runner.do(cmd.Stop("closed"))
                    *lines, typed = (typed + chunk).split(b"\n")
                    for line in lines:
                        self._typed(line.decode(errors="replace"))
                self.runner.tick()
                self._say_due()
        self._say_due(everything=True)

    def _typed(self, line: str) -> None:
        words = " ".join(line.lower().split())
        if words in ("help", "?"):
            self._line(HELP)
            return
        command = WORDS.get(words)
        if words and command is None:
            self._line(f"I do not know {line.strip()!r}. {HELP}")
            return
        refusal = self.runner.press() if command is None else self.runner.do(command)
        if refusal:
            self._line(f"Not now: {refusal}.")

    def _wait_s(self) -> float | None:
        times = []
        deadline = self.runner.next_deadline_s()
        if deadline is not None:
            times.append(deadline)
        if self._cues:
            ahead_ns = self._cues[0][0] - self.runner.clock.now_ns()
            times.append(max(0.0, ahead_ns / NS_PER_S / self.runner.clock.speed))
        return min(times) if times else None

    def _heard(self, step: Step) -> None:
        if step.interrupts:
            self._cues.clear()
        for event in step.events:
            text = self._event_text(event)
            if text:
                self._line(text, event.at_ns)
        for cue in step.cues:
            heapq.heappush(self._cues, (cue.at_ns, next(self._order), cue))
        self._say_due()

    def _say_due(self, *, everything: bool = False) -> None:
        now_ns = self.runner.clock.now_ns()
        while self._cues and (everything or self._cues[0][0] <= now_ns):
            at_ns, _, cue = heapq.heappop(self._cues)
            if cue.text:
                self._line(cue.text, at_ns)

    def _event_text(self, event: ev.Event) -> str:
        if self._began_ns is None:
            self._began_ns = event.at_ns
        spots = self.runner.machine.spots
        match event:
            case ev.MoveStarted():
                return f"MOVE to spot {event.spot + 1} of {len(spots)}: {_where(spots[event.spot])}"
            case ev.HoldStarted():
                return f"HOLD {clock_text(ceil_s(event.left_ns))} s: {_where(spots[event.spot])}"
            case ev.HoldEnded():
                return f"END OF HOLD: {clock_text(ceil_s(event.given_ns))} s ({event.reason})"
            case ev.Paused():
                return "PAUSED. Press Enter to carry on."
            case ev.SessionStopped():
                return f"STOPPED ({event.reason}). Switch the laser off."
            case ev.SessionFinished():
                return "FINISHED. Switch the laser off."
            case _:
                return ""

    def _line(self, text: str, at_ns: int | None = None) -> None:
        stamp = ""
        if at_ns is not None and self._began_ns is not None:
            seconds = max(0, at_ns - self._began_ns) // NS_PER_S
            stamp = f"[{seconds // 60}:{seconds % 60:02d}] "
        print(f"{stamp}{text}", file=self.out, flush=True)


def _where(spot: Spot) -> str:
    return f"{place_text(spot)} ({region(spot.region).owner_words})"


def _can_wait_on(fd: int) -> bool:
    """Whether ``fd`` is a terminal or pipe; /dev/null and plain files are at their end."""
    with selectors.DefaultSelector() as probe:
        try:
            probe.register(fd, selectors.EVENT_READ)
        except (PermissionError, OSError, ValueError):
            return False
    return True


@contextmanager
def _wakeups() -> Iterator[socket.socket]:
    """A socket that becomes readable when SIGINT, SIGTERM or SIGHUP arrives.

    Handlers only wake the loop, so that no signal can land between a hold and its record.
    """
    reader, writer = socket.socketpair()
    writer.setblocking(False)
    signals = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    before = {number: signal.signal(number, lambda *_: None) for number in signals}
    old_fd = signal.set_wakeup_fd(writer.fileno())
    try:
        yield reader
    finally:
        signal.set_wakeup_fd(old_fd)
        for number, handler in before.items():
            signal.signal(number, handler)
        reader.close()
        writer.close()
