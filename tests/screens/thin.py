"""A session without disk and sound over the real machine, and a clock that obeys the test."""

import datetime
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from coach.bedside.port import Ending, Opening
from coach.plan.files import PlanFile, load_plan
from coach.plan.spots import Spot, spots_of
from coach.record.tally import tally_of
from coach.reports.session_text import report_lines
from coach.screens.driver import EveningApp
from coach.session import commands as cmd
from coach.session import events as ev
from coach.session.machine import OVER, Machine, NotNow, Options, Phase, Step, one_key
from coach.session.readiness import Answer
from coach.session.view import View, view
from coach.units import NS_PER_S
from tests.screens.one_app import session_app

ROOT = Path(__file__).parents[2]
LONG_BACK = ROOT / "plans" / "demo-long-back.toml"
BIG_HIPS = ROOT / "plans" / "demo-big-hips.toml"
TODAY = datetime.date(2026, 11, 25)
# When a key that is held down for 3 s arrives: first after 0.66 s (X.Org), then 25 times a second
# (wlroots); from memory.
HELD_S = (0.0, 0.66, *[0.04] * 60)
BEGAN = datetime.datetime(2026, 11, 25, 18, 30, tzinfo=datetime.UTC)
START_NS = 7_000 * NS_PER_S
JOURNAL = Path("/home/invented/journals/000001.jsonl")


@dataclass
class FakeTime:
    """Monotonic nanoseconds and the clock on the wall; both move only when told to."""

    now_ns: int = START_NS

    def __call__(self) -> int:
        return self.now_ns

    def wall(self) -> datetime.datetime:
        return BEGAN + datetime.timedelta(microseconds=(self.now_ns - START_NS) // 1000)

    def pass_s(self, seconds: float) -> None:
        self.now_ns += round(seconds * NS_PER_S)


@dataclass
class ThinSession:
    """The port that the screens drive, as thin as can be."""

    plan_file: PlanFile
    spots: tuple[Spot, ...]
    options: Options
    time: FakeTime
    rehearsal: bool = False
    notices: tuple[str, ...] = ()
    pause_reason: str = ""
    seen: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    asked: list[cmd.Command] = field(default_factory=list)
    lines: list[dict[str, Any]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.machine = Machine(self.spots, self.options)

    @property
    def kinds(self) -> list[str]:
        return [line["kind"] for line in self.lines]

    @property
    def changes(self) -> int:
        return len(self.lines) + len(self.asked)

    @property
    def poll_s(self) -> float | None:
        return None

    def view(self) -> View:
        return view(
            self.machine,
            self.time(),
            dog=self.plan_file.plan.dog.name,
            rehearsal=self.rehearsal,
            power_uw=self.plan_file.plan.laser.power_uw,
            notices=self.notices,
            pause_reason=self.pause_reason,
        )

    def tick(self) -> None:
        self._keep(self.machine.tick(self.time()))

    def do(self, command: cmd.Command) -> str | None:
        self.asked.append(command)
        try:
            step = self.machine.do(command, self.time())
        except NotNow as refusal:
            return str(refusal)
        self._keep(step)
        return None

    def press(self) -> str | None:
        self.tick()
        command = one_key(self.machine)
        return None if command is None else self.do(command)

    def answer(self, answer: Answer, line: str = "") -> str | None:
        raise NotImplementedError("these sessions have no readiness round")

    def signs(self, seen: tuple[str, ...]) -> None:
        self.seen = seen

    def went_wrong(self, what: str = "") -> bool:
        if self.machine.phase in OVER:
            return False
        self.do(cmd.Stop("went_wrong"))
        return True

    def tell(self, *sentences: str) -> None:
        self.told += sentences

    def next_deadline_s(self) -> float | None:
        deadline_ns = self.machine.next_deadline(self.time())
        return None if deadline_ns is None else (deadline_ns - self.time()) / NS_PER_S

    def opening(self) -> Opening:
        plan = self.plan_file.plan
        return Opening(
            plan_id=plan.about.id,
            revision=plan.about.revision,
            prescriber=plan.about.prescriber,
            laser=plan.laser.label,
            laser_class=plan.laser.laser_class,
            note=plan.about.note,
        )

    def ending(self) -> Ending:
        tally = tally_of([self._header(), *self.lines])
        return Ending(lines=tuple(report_lines(tally)), journal=JOURNAL)

    def _keep(self, step: Step) -> None:
        for event in step.events:
            if isinstance(event, ev.Paused):
                self.pause_reason = event.reason
            self.lines.append(
                {
                    "seq": len(self.lines) + 2,
                    "kind": event.kind,
                    "data": event.payload(),
                    "wall": self.time.wall().isoformat(),
                }
            )

    def _header(self) -> dict[str, Any]:
        plan = self.plan_file.plan
        names = ("index", "region", "side", "aspect", "number", "of", "hold_ns", "move_ns")
        return {
            "seq": 1,
            "kind": "session_opened",
            "wall": BEGAN.isoformat(),
            "trust": "synchronised",
            "data": {
                "program": "test",
                "plan": {
                    "id": plan.about.id,
                    "revision": plan.about.revision,
                    "digest": self.plan_file.digest,
                    "prescriber": plan.about.prescriber,
                },
                "dog": {"name": plan.dog.name, "weight_kg": str(plan.dog.weight_kg)},
                "rehearsal": self.rehearsal,
                "laser": {
                    "mean_power_uw": plan.laser.power_uw,
                    "beam_area_um2": plan.laser.beam_area_um2,
                },
                "spots": [
                    {name: getattr(spot, name) for name in (*names, "settle", "note")}
                    for spot in self.spots
                ],
            },
        }


def thin_session(plan: Path = LONG_BACK, *, rehearsal: bool = False) -> ThinSession:
    """A session over a demo plan, run as its plan says."""
    plan_file = load_plan(plan, today=TODAY)
    rules = plan_file.plan.rules
    options = Options(
        advance=rules.advance,
        laser_button=plan_file.plan.laser.starts == "button at each spot",
        repeats_allowed=rules.repeats_allowed,
    )
    return ThinSession(
        plan_file, spots_of(plan_file.plan), options, FakeTime(), rehearsal=rehearsal
    )


def app_for(session: ThinSession, *, look: str = "dark") -> EveningApp[Phase]:
    """The app on the session's own clock."""
    return session_app(session, look=look, wall=session.time.wall, mono_ns=session.time)


def shown(app: EveningApp[Phase]) -> str:
    """The screen as text, without blanks at the ends of lines."""
    strips = app.screen._compositor.render_strips(app.size)
    return "\n".join(strip.text.rstrip() for strip in strips)


async def settled(pilot: Pilot[Phase]) -> None:
    """Until everything that was asked is on the screen."""
    for _ in range(3):
        await pilot.pause()


async def bring_to(pilot: Pilot[Phase], session: ThinSession, phase: Phase) -> None:
    """By the owner's own keys to the first spot in ``phase``."""
    app = pilot.app
    assert isinstance(app, EveningApp)
    await settled(pilot)
    # No press is taken for a key that was down before.
    session.time.pass_s(1)
    if phase is Phase.READY:
        return
    await pilot.press("space")
    if phase in (Phase.HOLDING, Phase.PAUSED):
        await pilot.press("g")
    if phase is Phase.PAUSED:
        await pilot.press("d")
    if phase is Phase.STOPPED:
        await pilot.press("x")
    if phase is Phase.FINISHED:
        for _ in session.spots:
            assert session.do(cmd.Skip("asked")) is None
        app.beat()
    # No later press is taken for a bouncing key or one held down.
    session.time.pass_s(0.8)
    session.tick()
    await settled(pilot)
    assert session.view().phase is phase
