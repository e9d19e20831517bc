"""A whole session in virtual time: the real runner, machine and journal; only time is ours."""

import datetime
import io
from dataclasses import dataclass, field
from pathlib import Path

from coach.appliance.clock import stamper
from coach.bedside.runner import Runner, header_of
from coach.bedside.session_clock import SessionClock
from coach.journal.journal import Journal
from coach.journal.journal_lines import Signer
from coach.lines.line_mode import PlainCoach, Typed
from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.session.machine import Machine, Options
from coach.voice.voice_port import SilentVoice

TODAY = datetime.date(2026, 11, 25)
START_NS = 5_000_000_000


def wall() -> datetime.datetime:
    """The clock on the wall at the start."""
    return datetime.datetime(2026, 11, 25, 19, 30, tzinfo=datetime.UTC)


@dataclass
class FakeTime:
    """Monotonic nanoseconds that move only when told to."""

    now_ns: int = START_NS

    def __call__(self) -> int:
        return self.now_ns


@dataclass
class Script:
    """Words that are typed at given seconds of the session; otherwise time jumps to what is due."""

    time: FakeTime
    words: list[tuple[float, str]] = field(default_factory=list)

    def forget(self) -> bool:
        return False

    def wait(self, timeout_s: float | None) -> Typed:
        due_ns = None if timeout_s is None else self.time.now_ns + round(timeout_s * 1e9)
        if self.words:
            at_ns = START_NS + round(self.words[0][0] * 1e9)
            if due_ns is None or at_ns <= due_ns:
                self.time.now_ns = max(self.time.now_ns, at_ns)
                return Typed(lines=(self.words.pop(0)[1],))
        if due_ns is None:
            return Typed(ended=True)
        self.time.now_ns = due_ns
        return Typed()


def runner_for(
    plan: Path,
    home: Path,
    time: FakeTime,
    *,
    rehearsal: bool = False,
    lead_ns: int = 0,
    signer: Signer | None = None,
) -> Runner:
    """A runner over ``plan`` whose journal lies in ``home``."""
    plan_file = load_plan(plan, today=TODAY)
    spots = spots_of(plan_file.plan)
    rules = plan_file.plan.rules
    options = Options(
        advance=rules.advance,
        laser_button=plan_file.plan.laser.starts == "button at each spot",
        repeats_allowed=rules.repeats_allowed,
        lead_ns=lead_ns,
    )
    clock = SessionClock(monotonic_ns=time)
    journal = Journal.create(
        home,
        header=header_of(plan_file, spots, options, version="test", rehearsal=rehearsal),
        stamp=stamper(clock.now_ns),
    )
    return Runner(
        plan_file=plan_file,
        machine=Machine(spots, options),
        journal=journal,
        voice=SilentVoice(),
        clock=clock,
        rehearsal=rehearsal,
        signer=signer,
    )


def coach_plainly(
    plan: Path, home: Path, words: list[tuple[float, str]], *, signer: Signer | None = None
) -> tuple[str, Path]:
    """Coach a session in virtual time; what was printed, and the journal."""
    time = FakeTime()
    runner = runner_for(plan, home, time, signer=signer)
    out = io.StringIO()
    PlainCoach(runner, Script(time, words), out, wall=wall).run()
    runner.close()
    return out.getvalue(), runner.path
