"""``--plain``: the session line by line on stdout, for screen readers, logs and pipes.

Same machine, same journal, same voice as the full screen. Enter is the one big key; other
commands are words. When stdin ends in a rehearsal the coach presses the key itself.
"""

import datetime
import heapq
import os
import selectors
import signal
import socket
import sys
import termios
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import count
from typing import Protocol, TextIO

from coach.bedside.port import Afterwards
from coach.bedside.runner import Runner
from coach.body import told
from coach.language import N_, _
from coach.plan.spots import Spot
from coach.record.session_length import done_text
from coach.session import commands as cmd
from coach.session import events as ev
from coach.session import went_wrong
from coach.session.cues import Cue, place_text
from coach.session.machine import OVER, Phase, Step
from coach.session.place_guidance import own_lines
from coach.session.question_text import question_lines
from coach.session.question_text import typed as typed_answer
from coach.session.questions import Answer, Asking
from coach.session.readiness import waiting
from coach.session.signals import ADVICE, advice
from coach.session.typed_answers import (
    EMERGENCY,
    ENDED_WORDS,
    UNHAPPY,
    answer_typed,
    round_lines,
    signs_lines,
    signs_typed,
)
from coach.units import NS_PER_S, ceil_s, clock_text, floor_s
from coach.voice.phrases import PHRASES

WORDS: Mapping[str, cmd.Command] = {
    N_("go"): cmd.Go(),
    N_("pause"): cmd.Pause("asked"),
    N_("moved"): cmd.Pause("dog_moved"),
    N_("carry on"): cmd.CarryOn(),
    N_("skip"): cmd.Skip("asked"),
    N_("again"): cmd.Again(),
    N_("back"): cmd.Back(),
    N_("say"): cmd.Say(),
    N_("stop"): cmd.Stop("asked"),
}
HELP = N_("help")


def help_text() -> str:
    """What can be typed."""
    return _("Enter: the one key (start, pause, carry on). Words: {words}, help.").format(
        words=", ".join(_(word).lower() for word in (*WORDS, UNHAPPY, EMERGENCY))
    )


def command_of(words: str) -> cmd.Command | None:
    """The command typed as ``words``, in the language in use or in English."""
    return {**WORDS, **{_(word).lower(): command for word, command in WORDS.items()}}.get(words)


def _local_now() -> datetime.datetime:
    return datetime.datetime.now().astimezone()


@dataclass(frozen=True, slots=True)
class Typed:
    """What came in while waiting: whole lines, the end of the input, a signal to close."""

    lines: tuple[str, ...] = ()
    ended: bool = False
    closed: bool = False


class Words(Protocol):
    """Where typed words come from."""

    def wait(self, timeout_s: float | None) -> Typed:
        """Until something comes in or the time is over; None waits for ever."""

    def forget(self) -> bool:
        """Drop what was typed already, if a person types; whether it is to be dropped."""


@dataclass(slots=True)
class PlainCoach:
    """Runs one session on text streams."""

    runner: Runner
    words: Words
    out: TextIO = field(default_factory=lambda: sys.stdout)
    afterwards: Afterwards | None = None
    wall: Callable[[], datetime.datetime] = _local_now
    _cues: list[tuple[int, int, Cue]] = field(default_factory=list)
    _order: Iterator[int] = field(default_factory=count)
    _began_ns: int | None = None
    _noticed: set[str] = field(default_factory=set)
    _lines: list[str] = field(default_factory=list)
    _told: tuple[str, ...] = ()
    _asks_signs: bool = False
    closed: bool = False

    def run(self) -> None:
        """Until the session is over or a signal closes it."""
        self.runner.heard = self._heard
        self._line(_("Get ready: eyewear on, the dog's eyes covered or turned away."))
        self._line(help_text())
        if self.runner.machine.phase is Phase.READY:
            for text in self.runner.remarks:
                self._line(text)
            speed = self.runner.clock.speed
            self._line(done_text(self.runner.foretold(), now=self.wall(), speed=speed))
        if self.runner.ear.live:
            phrases = ", ".join(phrase for same in PHRASES.values() for phrase in same)
            self._line(_("You can also say: {phrases}.").format(phrases=phrases))
        self._tell_round()
        nobody = False
        while self.runner.machine.phase not in OVER:
            if nobody and self.runner.view().waits:
                self._tell_round()
                if self.runner.press() and self.runner.asks:
                    # Only in a rehearsal: nobody is there, and the laser is off.
                    self.runner.answer("no")
                continue
            typed = self.words.wait(self._wait_s())
            self._lines += typed.lines
            while self._lines and self.runner.machine.phase not in OVER:
                self._typed(self._lines.pop(0))
                # The next line may only answer what was shown before it was typed.
                self._tell_round()
            self._tell_notices()
            nobody = nobody or typed.ended
            self.closed = self.closed or typed.closed
            if typed.closed or (nobody and not self.runner.rehearsal):
                # With nobody left who could stop it, no laser is coached.
                self.runner.do(cmd.Stop("closed"))
            self.runner.tick()
            self._tell_notices()
            self._tell_round()
            self._say_due()
        self._say_due(everything=True)
        self.runner.end_log()
        if self.afterwards is not None:
            self._ask(self.afterwards, nobody=nobody or typed.closed)

    def _tell_round(self) -> None:
        """The question of the readiness round when it is a new one, or that all is ready."""
        view = self.runner.view()
        if view.phase is not Phase.READY and not view.asks:
            if view.readiness is not None and view.readiness.verdict == "stop":
                self._tell_once(view.readiness.why_not)
            return
        if view.readiness is None:
            self._tell_once((_("Press Enter to start."),))
            return
        if view.away:
            self._tell_once((waiting(),))
        elif view.asks:
            self._tell_once(round_lines(view.readiness))
        elif view.phase is Phase.READY:
            self._tell_once((_("All is ready. Press Enter to start."),))

    def _tell_once(self, lines: tuple[str, ...]) -> None:
        if lines != self._told:
            self._told = lines
            if self.words.forget():
                self._lines.clear()
            for line in lines:
                self._line(line)

    def _ask(self, afterwards: Afterwards, *, nobody: bool) -> None:
        """The questions for which both hands are free now, as long as somebody is there."""
        asking = afterwards.asking()
        if not nobody and not asking.over:
            self._line(_("A few short questions."))
            _asked, there = ask_plainly(asking, afterwards.keep, self._next_line, self._line)
            nobody = not there
        if nobody and not afterwards.asking().over:
            self._line(_("To answer later: coach after"))
        for line in afterwards.closing():
            self._line(line)

    def _next_line(self) -> str | None:
        """What is typed next; None when nobody is left to type."""
        while not self._lines:
            typed = self.words.wait(None)
            self.runner.tick()
            self._lines += typed.lines
            if typed.closed or (typed.ended and not self._lines):
                return None
        return self._lines.pop(0)

    def _tell_notices(self) -> None:
        """Each notice once, when it comes; a screen would keep it in sight."""
        for text in self.runner.notices.values():
            if text not in self._noticed:
                self._line(text)
        self._noticed = set(self.runner.notices.values())

    def _typed(self, line: str) -> None:
        words = " ".join(line.lower().split())
        if words in {"?", HELP, _(HELP)}:
            self._line(help_text())
            return
        if self._answer(words) or self._signs(words) or self._emergency(words):
            return
        command = command_of(words)
        if words and command is None:
            unknown = _("I do not know {words}.").format(words=repr(line.strip()))
            self._line(f"{unknown} {help_text()}")
            return
        refusal = self.runner.press() if command is None else self.runner.do(command)
        if refusal:
            self._line(_("Not now: {reason}.").format(reason=refusal))

    def _answer(self, words: str) -> bool:
        """Take typed ``words`` as an answer of the readiness round; whether they are one."""
        asked = self.runner.view().readiness
        answer = None if asked is None or not self.runner.asks else answer_typed(asked, words)
        if answer is not None:
            self.runner.answer(answer)
        return answer is not None

    def _emergency(self, words: str) -> bool:
        """Something went wrong: stopped at once; whether the line was about that."""
        if words not in (EMERGENCY, _(EMERGENCY).lower()):
            return False
        self.runner.went_wrong()
        for line in (*went_wrong.question(), _("Type the number.")):
            self._line(line)
        typed = (self._next_line() or "").strip()
        mishap = next((each for each in went_wrong.MISHAPS if each.key == typed), None)
        self.runner.went_wrong(went_wrong.NOT_SAID if mishap is None else mishap.id)
        if mishap is not None:
            opening = self.runner.opening()
            name, phone = opening.prescriber, opening.phone
            for line in went_wrong.what_to_do(mishap.id, name=name, phone=phone):
                self._line(line)
        return True

    def _signs(self, words: str) -> bool:
        """Signs of a dog that is not happy; whether the line was about that."""
        if words in (UNHAPPY, _(UNHAPPY).lower()):
            refusal = None
            if self.runner.view().phase is not Phase.PAUSED:
                refusal = self.runner.do(cmd.Pause("dog_unhappy"))
            self._asks_signs = refusal is None
            told = signs_lines()
            if refusal is not None:
                told = (_("Not now: {reason}.").format(reason=refusal),)
            for line in told:
                self._line(line)
            return True
        seen = signs_typed(words) if self._asks_signs else ()
        self._asks_signs = bool(seen)
        if seen:
            self.runner.signs(seen)
            self._line(_(ADVICE[advice(seen)]))
        return bool(seen)

    def _wait_s(self) -> float | None:
        times = []
        deadline = self.runner.next_deadline_s()
        if deadline is not None:
            times.append(deadline)
        if self.runner.poll_s is not None:
            times.append(self.runner.poll_s)
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
            at_ns, _order, cue = heapq.heappop(self._cues)
            if cue.text:
                self._line(cue.text, at_ns)

    def _event_text(self, event: ev.Event) -> str:
        if self._began_ns is None:
            self._began_ns = event.at_ns
        spots = self.runner.machine.spots
        match event:
            case ev.MoveStarted():
                spot = spots[event.spot]
                move = _("MOVE to spot {number} of {of}: {where}").format(
                    number=event.spot + 1, of=len(spots), where=_where(spot)
                )
                return " ".join((move, *own_lines(spot)))
            case ev.HoldStarted():
                spot = spots[event.spot]
                hold = (
                    _("KEEP MOVING {time} s: {where}")
                    if spot.swept
                    else _("HOLD {time} s: {where}")
                )
                return hold.format(time=clock_text(ceil_s(event.left_ns)), where=_where(spot))
            case ev.HoldEnded():
                return _("END OF HOLD: {time} s ({reason})").format(
                    time=clock_text(floor_s(event.given_ns)), reason=_(ENDED_WORDS[event.reason])
                )
            case ev.Paused():
                return _("PAUSED. Press Enter to carry on.")
            case ev.SessionStopped():
                return _("STOPPED ({reason}). Switch the laser off.").format(
                    reason=_(ENDED_WORDS[event.reason])
                )
            case ev.SessionFinished():
                return _("FINISHED. Switch the laser off.")
            case _:
                return ""

    def _line(self, text: str, at_ns: int | None = None) -> None:
        stamp = ""
        if at_ns is not None and self._began_ns is not None:
            seconds = max(0, at_ns - self._began_ns) // NS_PER_S
            stamp = f"[{seconds // 60}:{seconds % 60:02d}] "
        print(f"{stamp}{text}", file=self.out, flush=True)


def ask_plainly(
    asking: Asking,
    keep: Callable[[str, Answer], str],
    next_line: Callable[[], str | None],
    tell: Callable[[str], None],
) -> tuple[Asking, bool]:
    """Ask a round line by line, keeping each answer at once.

    The round as far as it was answered, and False when nobody is left to answer. ``next_line``
    gives what is typed, None at the end of the input.
    """
    while not asking.over:
        for text in question_lines(asking):
            tell(text)
        while True:
            line = next_line()
            if line is None:
                return asking, False
            try:
                following = typed_answer(asking, line)
            except ValueError as error:
                tell(str(error))
                continue
            question = asking.question
            answered = question is not None and following.answers is not asking.answers
            if question is not None and answered:
                refusal = keep(question.id, following.answers[question.id])
                if refusal:
                    tell(refusal)
                    continue
            asking = following
            break
    return asking, True


def _where(spot: Spot) -> str:
    return f"{place_text(spot)} ({told(spot.region).owner_words})"


class Keyboard:
    """Lines from a file descriptor, and SIGINT, SIGTERM or SIGHUP as a wish to close.

    Signal handlers only wake the wait, so that none can land between a hold and its record.
    """

    SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self._typed = b""
        self._selector = selectors.DefaultSelector()
        self._woken, self._waker = socket.socketpair()

    def __enter__(self) -> "Keyboard":
        self._waker.setblocking(False)
        self._before = {n: signal.signal(n, lambda *_: None) for n in self.SIGNALS}
        self._fd_before = signal.set_wakeup_fd(self._waker.fileno())
        self._selector.register(self._woken, selectors.EVENT_READ)
        try:
            self._selector.register(self._fd, selectors.EVENT_READ)
            self._open = True
        except (OSError, ValueError):
            # /dev/null, a plain file or a closed descriptor: nobody will type.
            self._open = False
        return self

    def __exit__(self, *_: object) -> None:
        signal.set_wakeup_fd(self._fd_before)
        for number, handler in self._before.items():
            signal.signal(number, handler)
        self._selector.close()
        self._woken.close()
        self._waker.close()

    def forget(self) -> bool:
        """Drop what a person typed ahead; a script has been written to the end before it runs."""
        if not os.isatty(self._fd):
            return False
        self._typed = b""
        with suppress(termios.error):
            termios.tcflush(self._fd, termios.TCIFLUSH)
        return True

    def wait(self, timeout_s: float | None) -> Typed:
        """Until a line, the end, a signal, or the time is over."""
        lines: list[bytes] = []
        closed = False
        for key, _events in self._selector.select(timeout_s if self._open else timeout_s or 0):
            if key.fd != self._fd:
                closed = True
                continue
            try:
                chunk = os.read(self._fd, 4096)
            except OSError:  # a terminal that is gone
                chunk = b""
            if not chunk:
                self._selector.unregister(self._fd)
                self._open = False
            *whole, self._typed = (self._typed + chunk).split(b"\n")
            lines += whole
        texts = tuple(line.decode(errors="replace") for line in lines)
        return Typed(lines=texts, ended=not self._open, closed=closed)
