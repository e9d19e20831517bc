"""A whole evening on a tiny plan: the real runner, journal, diary and questions; time is ours."""

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar

from textual.pilot import Pilot

from coach.bedside.after_session import SessionAfter
from coach.bedside.earlier_sessions import sessions_done_with, without_minded
from coach.bedside.runner import Runner, header_of
from coach.bedside.session_clock import SessionClock
from coach.journal.diary import read_diary
from coach.journal.diary_entries import AfterSession, answers_of
from coach.journal.journal import Journal, read_journal
from coach.journal.journal_lines import Stamp
from coach.paths import dog_folder, journal_folder
from coach.plan.files import PlanFile, load_plan
from coach.plan.spots import SessionSpots, Spot, session_of
from coach.record.tally import SessionTally, tally_of
from coach.screens.ask import AskScreen
from coach.screens.step_scanning import PAIR_NS
from coach.session import commands as cmd
from coach.session.coaching_level import level_for, tips_for
from coach.session.machine import OVER, Machine, Options, Phase
from coach.session.readiness import eyes_only, round_for
from coach.session.readiness_timing import Preparing
from coach.units import NS_PER_S
from coach.voice.key_input import FIRST_REPEAT_NS, REPEAT_NS
from coach.voice.voice_port import SilentVoice
from tests.e2e.virtual import START_NS, TODAY, FakeTime, wall
from tests.plan_head import head
from tests.screens.one_app import session_app
from tests.screens.thin import settled, shown
from tests.worlds import QuickDisk

SMALL = (60, 20)
WAITS = "Press again now for all choices."

# The dog, the people and the laser are invented; too little of everything for a real plan.
PLAN = f"""\
{head("tiny")}
[settle]
leave_out = true

[session]
order = "one side at a time"
advance = "auto"
move_seconds = 10
repeats_allowed = 1

[[regions]]
region = "lumbar"
sides = ["left"]
spots = 2
seconds_each_spot = 10

[[regions]]
region = "tail_base"
sides = ["middle"]
spots = 1
seconds_each_spot = 10
"""


class HeardVoice(SilentVoice):
    """Keeps what it was asked to say."""

    live: ClassVar[bool] = False

    def __init__(self) -> None:
        self.said: list[str] = []
        self.at_ns: list[int] = []

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        self.said.append(text)
        self.at_ns.append(at_ns)


def tiny_plan(folder: Path) -> PlanFile:
    path = folder / "tiny.toml"
    path.write_text(PLAN, encoding="utf-8")
    return load_plan(path, today=TODAY)


@dataclass
class Evening:
    """One session as ``coach session`` puts it together, from what lies on the disk.

    ``opens`` makes journal and machine, as :func:`coach.bedside.opening.opened`; else they are new.
    """

    plan_file: PlanFile
    session: SessionSpots
    voice: SilentVoice = field(default_factory=SilentVoice)
    look: str = "dark"
    days_ago: int = 0
    time: FakeTime = field(default_factory=FakeTime)
    opens: Callable[..., tuple[Journal, Machine]] | None = None

    def __post_init__(self) -> None:
        plan = self.plan_file.plan
        dog, spots = plan.dog.name, self.session.spots
        done = sessions_done_with(plan)
        level = level_for(done, plan.care.reminders)
        options = Options(
            advance=plan.rules.advance,
            repeats_allowed=plan.rules.repeats_allowed,
            reminders=level,
            tips=tips_for(spots, level=level, sessions_done=done),
        )
        opens = self.opens or self._opened
        header = header_of(self.plan_file, spots, options, version="test", rehearsal=False)
        journal, machine = opens(header=header, spots=spots, options=options, stamp=self.stamp)
        self.runner = Runner(
            plan_file=self.plan_file,
            machine=machine,
            journal=journal,
            voice=self.voice,
            clock=SessionClock(monotonic_ns=self.time),
            rehearsal=False,
        )
        questions = round_for(plan, first=done == 0)
        if machine.phase is not Phase.READY:
            questions = eyes_only(plan)
        self.runner.preparing = Preparing(questions)
        self.after = SessionAfter(
            folder=dog_folder(dog), dog=dog, journal=self.runner.path, stamp=self.stamp, plan=plan
        )
        self.app = session_app(
            self.runner,
            look=self.look,
            wall=self.wall,
            mono_ns=self.time,
            afterwards=self.after,
            say=self.runner.speak,
        )

    def _opened(
        self,
        *,
        header: Mapping[str, Any],
        spots: tuple[Spot, ...],
        options: Options,
        stamp: Callable[[], Stamp],
    ) -> tuple[Journal, Machine]:
        folder = journal_folder(self.plan_file.plan.dog.name, rehearsal=False)
        journal = Journal.create(folder, header=header, stamp=stamp, disk=QuickDisk())
        return journal, Machine(spots, options)

    def wall(self) -> datetime.datetime:
        after = datetime.timedelta(microseconds=(self.time() - START_NS) // 1000)
        return wall() - datetime.timedelta(days=self.days_ago) + after

    def stamp(self) -> Stamp:
        return Stamp(
            mono_ns=self.time(),
            boot_id=f"boot-{self.days_ago}",
            wall=self.wall().isoformat(timespec="milliseconds"),
            trust="synchronised",
        )

    def phase(self) -> Phase:
        return self.runner.view().phase

    @property
    def tally(self) -> SessionTally:
        """What the log of it comes to."""
        return tally_of(read_journal(self.runner.path).lines)

    @property
    def outcomes(self) -> list[str]:
        """How each spot went."""
        assert self.tally.problems == ()
        return [spot.outcome for spot in self.tally.spots]

    def moments(self, kind: str) -> list[int]:
        """When each event of ``kind`` was, by the log."""
        lines = read_journal(self.runner.path).lines
        return [int(line["data"]["at_ns"]) for line in lines if line["kind"] == kind]

    @property
    def answered(self) -> AfterSession | None:
        """What the diary has about it."""
        folder = dog_folder(self.plan_file.plan.dog.name)
        return answers_of(read_diary(folder).entries).get(self.after.session)


def tonight(
    plan_file: PlanFile,
    *,
    voice: SilentVoice | None = None,
    look: str = "dark",
    time: FakeTime | None = None,
    opens: Callable[..., tuple[Journal, Machine]] | None = None,
) -> Evening:
    """Without the spots that rest today."""
    plan = plan_file.plan
    session, _rests = without_minded(plan, session_of(plan), day=wall().date())
    return Evening(
        plan_file, session, voice or SilentVoice(), look, time=time or FakeTime(), opens=opens
    )


def give_before(plan_file: PlanFile, *, sessions: int) -> None:
    """As many whole sessions, one a day, the last one yesterday."""
    for days_ago in range(sessions, 0, -1):
        evening = Evening(plan_file, session_of(plan_file.plan), days_ago=days_ago)
        evening.runner.preparing = None
        evening.runner.do(cmd.Start())
        while evening.phase() is not Phase.FINISHED:
            evening.time.now_ns += evening.runner.view().left_ns
            evening.runner.tick()
        evening.runner.close()


class Owner:
    """Reads the screen, presses or taps, and has time."""

    def __init__(self, evening: Evening, pilot: Pilot[Phase]) -> None:
        self.evening, self.pilot = evening, pilot
        self.seen: list[str] = []
        self.pressed: list[str] = []

    async def see(self) -> str:
        await settled(self.pilot)
        self.seen.append(shown(self.evening.app))
        return self.seen[-1]

    async def press(self, key: str, *, after_s: float = 2.0, pair: bool = False) -> str:
        """Press ``key``; in a pause no second press follows, but for a ``pair``."""
        self.evening.time.now_ns += round(after_s * NS_PER_S)
        self.pressed.append(key)
        await self.pilot.press(key)
        if after_s < FIRST_REPEAT_NS / NS_PER_S:
            # The key is not held down: no repeat comes.
            return await self.wait(REPEAT_NS / NS_PER_S)
        return await self.see() if pair else await self._alone()

    async def _alone(self) -> str:
        """Until a press in a pause has waited in vain for a second one."""
        text = await self.see()
        return await self.wait(PAIR_NS / NS_PER_S) if WAITS in flat(text) else text

    async def answer(self) -> str:
        """What the readiness round asks, by the one key: done, or the answer that comes first."""
        asked = self.evening.runner.view().readiness
        prompt = None if asked is None else asked.prompt
        assert prompt is not None
        text = await self.press("space", after_s=3)
        return text if prompt.preset else await self.wait(3)

    async def choose(self, words: str) -> str:
        """By the one key alone: two presses in a row, step to ``words``, and wait."""
        await self.press("space", pair=True)
        assert "LEAVE AS IT IS? Wait 3 s to choose it." in await self.press("space", after_s=0.5)
        return await self.step_to(words)

    async def step_to(self, words: str) -> str:
        for _ in range(30):
            text = flat(await self.press("space", after_s=1))
            if f"{words.upper()}? Wait" in text or f"Your answer: {words}." in text:
                return await self.wait(4)
        raise AssertionError(f"{words!r} was not offered")

    async def tap(self, words: str, *, after_s: float = 2.0) -> str:
        """Tap where ``words`` stand on the screen; the last place, for keys are at the bottom."""
        self.evening.time.now_ns += round(after_s * NS_PER_S)
        rows = shown(self.evening.app).splitlines()
        row = max((y for y, text in enumerate(rows) if words in text), default=-1)
        assert row >= 0, (words, rows)
        assert await self.pilot.click(offset=(rows[row].rindex(words) + 1, row))
        return await self._alone()

    async def wait(self, seconds: float) -> str:
        self.evening.time.now_ns += round(seconds * NS_PER_S)
        screen = self.evening.app.screen
        if isinstance(screen, AskScreen):
            screen.beat()
        self.evening.app.beat()
        return await self.see()

    async def until(self, phase: Phase) -> str:
        """Let the seconds pass until ``phase``."""
        for _ in range(120):
            self.evening.time.now_ns += NS_PER_S // 2
            self.evening.app.beat()
            if self.evening.phase() in (phase, *OVER):
                break
        assert self.evening.phase() is phase
        return await self.see()


def flat(text: str) -> str:
    """``text`` with every run of blanks as one: wrapped lines read as one."""
    return re.sub(r"\s+", " ", text)
