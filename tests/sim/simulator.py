"""Whole sessions in virtual time, with a seeded owner, a seeded dog and seeded misfortune.

One seed is one evening: a session is begun, disturbed, cut off and carried on until it is
closed. The real runner, machine, journal and carry-on code run; clock, disk faults, owner and
dog are simulated. After each life of the program the journal is held against the truth, which
the simulator keeps by itself from the moments at which a hold was told to begin and to end.

    python -m tests.sim.simulator 17            one seed, with its story
    python -m tests.sim.simulator 0 10000       ten thousand seeds, with counts at the end

Longer than other files: owner, dog and truth of one evening have to be read together.
"""

import datetime
import random
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

from coach.bedside.interrupted_session import carry_on, close_cut_off, find_unfinished, moment_of
from coach.bedside.runner import Runner
from coach.bedside.session_clock import SessionClock
from coach.journal.disk import LOCK_NAME
from coach.journal.journal import (
    Journal,
    JournalBusy,
    JournalError,
    JournalReading,
    JournalUnreadable,
    journal_files,
    read_journal,
)
from coach.plan.files import load_plan
from coach.plan.spots import Spot
from coach.record.tally import tally_of
from coach.record.verify import verify_all
from coach.session import commands as cmd
from coach.session import events as ev
from coach.session.machine import OVER, Machine, Options, Phase, Step
from coach.session.readiness import eyes_only, round_for
from coach.session.readiness_timing import Preparing
from coach.session.signals import BY_ID
from coach.session.start_rules import may_carry_on
from coach.units import NS_PER_S
from tests.sim.disk import FAULTS, Fault, PulledPlug, SimDisk
from tests.sim.people import SilentVoice, Truth
from tests.worlds import Clock, header_for, spots_for

S = NS_PER_S
WORST_TICK_NS = 4 * S
CARRY_ON_WITHIN_S = 1800
SIGNS = sorted(BY_ID)
# Only for the questions before the start; the spots are the evening's own.
PLAN = load_plan(
    Path(__file__).parents[2] / "plans" / "demo-long-back.toml", today=datetime.date(2026, 11, 25)
).plan
ROUND = round_for(PLAN, first=False)
WALLS = (
    "2025-01-01T19:00:00.000+01:00",
    "2025-01-01T19:10:00.000+01:00",
    "1970-01-01T01:00:10.000+01:00",
    "2031-06-01T07:00:00.000+02:00",
    "2024-12-31T23:59:59.000+01:00",
)


class Wrong(AssertionError):  # noqa: N818  (said of the program)
    """An invariant does not hold."""


@dataclass
class Evening:
    """One seed."""

    seed: int
    folder: Path
    story: list[str] = field(default_factory=list)
    seen: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.dice = random.Random(self.seed)
        holds = [self.dice.randint(1, 25) for _ in range(self.dice.randint(1, 6))]
        self.options = Options(
            advance=self.dice.choice(["auto", "auto", "wait"]),
            laser_button=self.dice.random() < 0.5,
            repeats_allowed=self.dice.randint(0, 2),
            lead_ns=self.dice.choice([0, S // 5]),
            patience_ns=self.dice.choice([60, 600, 3600]) * S,
        )
        self.spots = self._some_swept(spots_for(holds, move_s=self.dice.randint(3, 10)))
        self.truth = Truth([0] * len(holds))
        self.clock = Clock(now_ns=self.dice.randint(1, 10**6) * S)
        self.boots = 1
        self.cuts = 0
        self.loss_ns = 0
        self.late_ns = 0
        self.lied = False
        self.taken = ""
        self.again = [0] * len(holds)

    def _some_swept(self, spots: Sequence[Spot]) -> tuple[Spot, ...]:
        """In one evening of three some heads are moved instead of held; dice of their own, so that
        the stories of before stay as they are."""
        dice = random.Random(f"swept {self.seed}")
        if dice.random() > 0.34:
            return tuple(spots)
        return tuple(
            replace(
                spot,
                technique="swept",
                treated_area_um2=dice.randint(10, 100) * 10**8,
                pass_ns=dice.choice([None, spot.hold_ns // dice.randint(1, 4) or None]),
            )
            if dice.random() < 0.5
            else spot
            for spot in spots
        )

    # One life of the program after another

    def run(self) -> None:
        """Until the session is closed. Raises Wrong."""
        self.say(f"holds {[spot.hold_ns // S for spot in self.spots]} s, {self.options}")
        for life in range(40):
            disk = SimDisk(random.Random(self.dice.random()))
            # Later lives have better luck, so that every evening ends.
            if self.dice.random() < 0.85 ** (life + 0.2):
                disk.faults = [self._fault() for _ in range(self.dice.choice([1, 1, 1, 2]))]
                self.say(f"ahead: {[(fault.kind, fault.at) for fault in disk.faults]}")
            done = False
            disk.waits = self._slow
            try:
                done = self._life(disk)
            except PulledPlug:
                self.say("the program is gone")
            if self.taken:
                self._buried(disk)
                return
            self._buried(disk)
            self._check()
            if done:
                self._check_closed()
                return
            self._between()
        raise Wrong("the session was never closed")

    def _fault(self) -> Fault:
        kind = self.dice.choice(FAULTS)
        calls = self.dice.choice([1, 2, 50]) if kind in ("disk full", "sync that lies") else 1
        return Fault(kind, self.dice.choice([1, 2, 3, self.dice.randint(1, 60)]), calls)

    def _life(self, disk: SimDisk) -> bool:
        """One run of the program; True when the session is closed in the end."""
        try:
            runner = self._begin(disk)
        except JournalError as error:
            self.say(f"could not begin: {error}")
            return False
        if runner is None:
            return True
        self._sit(runner, disk)
        runner.close()
        if self.taken:
            self._check_taken(runner)
            return True
        if runner.failure:
            self.seen["ended by the disk"] += 1
            self.say(f"{runner.failure}")
            self._check_failed(runner)
            return False
        self.say(f"closed, {runner.machine.phase.value}")
        return True

    def _begin(self, disk: SimDisk) -> Runner | None:
        before = find_unfinished(self.folder)
        if before is None:
            reading = self._journal()
            if reading is not None and reading.closed:
                self.say("it was closed after all")
                return None
            journal = Journal.create(
                self.folder,
                header=header_for(self.spots, self.options),
                stamp=self.clock.stamp,
                disk=disk,
            )
            machine = Machine(self.spots, self.options)
            self.say(f"opened {journal.path.name}")
        else:
            now = moment_of(
                {
                    "wall": self.clock.wall,
                    "trust": self.clock.trust,
                    "mono_ns": self.clock.now_ns,
                    "boot": self.clock.boot_id,
                }
            )
            reason = may_carry_on(ended=before.ended, now=now, within_s=CARRY_ON_WITHIN_S)
            wants = reason is None or (reason.owner_may and self.dice.random() < 0.8)
            if not before.can_carry_on or not wants or self.dice.random() < 0.1:
                close_cut_off(before, stamp=self.clock.stamp, disk=disk)
                self.seen["closed as cut off"] += 1
                self.say("closed as cut off")
                return None
            journal, machine = carry_on(
                before,
                spots=self.spots,
                options=self.options,
                stamp=self.clock.stamp,
                now_ns=self.clock.now_ns,
                disk=disk,
            )
            self.seen["carried on"] += 1
            self.say(f"carried on at spot {machine.sitting.index + 1}")
        first = machine.phase is Phase.READY
        clock = SessionClock(monotonic_ns=lambda: self.clock.now_ns)
        rules = SimpleNamespace(advance=self.options.advance)
        plan = SimpleNamespace(plan=SimpleNamespace(rules=rules), digest="")
        runner = Runner(
            plan_file=cast(Any, plan),
            machine=machine,
            journal=journal,
            voice=cast(Any, SilentVoice()),
            clock=clock,
            rehearsal=False,
            preparing=Preparing(ROUND if first else eyes_only(PLAN)),
        )
        runner.heard = self._heard
        return runner

    def _heard(self, step: Step) -> None:
        self.truth.told(step.events)
        for event in step.events:
            self.seen[event.kind] += 1
            if not isinstance(event, ev.Heartbeat):
                self.say(f"  {event.payload()} {event.kind}")

    def _sit(self, runner: Runner, disk: SimDisk) -> None:
        """The owner, the dog and the clock, until it is over or the program is gone."""
        dies_at = self.dice.randint(0, 400) if self.dice.random() < 0.3 else None
        for turn in range(5000):
            self.seen[runner.machine.phase.value] += 1
            if runner.machine.phase in OVER:
                return
            if turn == dies_at:
                disk.dead = True
                self.seen["killed between two writes"] += 1
                raise PulledPlug
            self._pass_time(runner)
            if not self.taken:
                self._meddle(runner)
            if runner.asks:
                self._prepare(runner)
                continue
            if runner.machine.phase is Phase.PAUSED and self.dice.random() < 0.2:
                runner.signs(tuple(self.dice.sample(SIGNS, self.dice.randint(0, 3))))
                self.seen["signs seen"] += 1
            if self.dice.random() < 0.004:
                # Stopped at once; what it was is told, or never.
                runner.went_wrong()
                if self.dice.random() < 0.5:
                    runner.went_wrong("burn")
                self.seen["went wrong"] += 1
                continue
            command = self._wish(runner)
            if command is None:
                runner.tick()
            elif isinstance(command, str):
                runner.press()
            else:
                runner.do(command)
        raise Wrong("the session never ends")

    def _meddle(self, runner: Runner) -> None:
        """Now and then somebody takes the log away, starts a second program, or ends this one."""
        wish = self.dice.random()
        path = runner.journal.path
        if wish < 0.0004:
            self.taken = self.dice.choice(["deleted", "replaced", "cut"])
            match self.taken:
                case "deleted":
                    path.unlink()
                case "replaced":
                    other = path.with_name("other")
                    other.write_bytes(path.read_bytes())
                    other.replace(path)
                case "cut":
                    with path.open("r+b") as file:
                        file.truncate(path.stat().st_size // 2)
            self.seen[f"log {self.taken}"] += 1
            self.say(f"the log was {self.taken}")
        elif wish < 0.002:
            if self.dice.random() < 0.3 and (path.parent / LOCK_NAME).exists():
                (path.parent / LOCK_NAME).unlink()
            try:
                Journal.create(
                    self.folder,
                    header=header_for(self.spots, self.options),
                    stamp=self.clock.stamp,
                )
            except JournalBusy:
                self.seen["second program refused"] += 1
            else:
                raise Wrong("a second program opened a session beside the first")
        elif wish < 0.003:
            self.say("a signal")
            self.seen["ended by a signal"] += 1
            runner.do(cmd.Stop("closed"))

    def _slow(self) -> None:
        """The disk takes seconds."""
        wait_ns = self.dice.randint(1, 5 * S)
        self.clock.now_ns += wait_ns
        self.late_ns = max(self.late_ns, wait_ns + WORST_TICK_NS)

    def _check_taken(self, runner: Runner) -> None:
        """A log that was taken away: the session ends, and does not say that all is well."""
        if not runner.failure or runner.machine.phase not in OVER:
            raise Wrong(f"the log was {self.taken}, and nobody noticed")

    def _prepare(self, runner: Runner) -> None:
        """The owner in the readiness round: mostly yes, now and then something else."""
        wish = self.dice.random()
        prompt = None if runner.preparing is None else runner.preparing.round.prompt
        if prompt is None or (wish < 0.7 and prompt.preset):
            runner.press()
        elif wish < 0.6:
            # What is asked about health is answered by its own key; the big one does nothing.
            runner.answer(prompt.options[0].answer)
        elif wish < 0.7:
            before = runner.preparing.round if runner.preparing is not None else None
            away = runner.preparing is not None and runner.preparing.away
            runner.press()
            now = runner.preparing.round if runner.preparing is not None else None
            if before != now and not away:
                raise Wrong("a habit answered a question about health")
        elif wish < 0.8:
            runner.do(cmd.Back())
        elif wish < 0.9:
            # A key that means something else now.
            keys: list[cmd.Command] = [cmd.Start(), cmd.CarryOn(), cmd.Go(), cmd.Say()]
            runner.do(self.dice.choice(keys))
        else:
            runner.answer(self.dice.choice(prompt.options).answer)
        self.seen["readiness asked"] += 1

    def _pass_time(self, runner: Runner) -> None:
        """To the next deadline, a little late; now and then too late, or to a moment before."""
        deadline_s = runner.next_deadline_s()
        wait_ns = round((deadline_s or 0) * S)
        if self._waits(runner):
            walks_away = deadline_s is not None and not runner.asks and self.dice.random() < 0.1
            if walks_away:
                self.seen["owner walked away"] += 1
            else:
                wait_ns = self.dice.randint(0, 3 * S)
        late_ns = self.dice.choice([0, self.dice.randint(0, S // 10), self.dice.randint(0, S)])
        if self.dice.random() < 0.02:
            late_ns = self.dice.randint(S, WORST_TICK_NS)
        if self.dice.random() < 0.001:
            # Frozen, or asleep with a clock that went on.
            late_ns = self.dice.randint(WORST_TICK_NS, 600 * S)
            self.seen["frozen"] += 1
        if self.dice.random() < 0.2:
            wait_ns = self.dice.randint(0, wait_ns)
        self.late_ns = max(self.late_ns, late_ns)
        self.clock.now_ns += wait_ns + late_ns
        if self.dice.random() < 0.01:
            self.clock.wall = self.dice.choice(WALLS)
            self.seen["wall clock jumped"] += 1

    def _waits(self, runner: Runner) -> bool:
        """Whether nothing runs until the owner does something."""
        if runner.asks:
            return runner.next_deadline_s() is None
        return runner.machine.sitting.until_ns is None

    def _wish(self, runner: Runner) -> cmd.Command | str | None:
        if self._waits(runner) and self.dice.random() < 0.5:
            return "the one key"
        if self.dice.random() > 0.12:
            return None
        wishes: tuple[cmd.Command | str, ...] = (
            "the one key",
            cmd.Pause("dog_moved"),
            cmd.Pause("contact_lost"),
            cmd.CarryOn(),
            cmd.Go(),
            cmd.Skip(cast(Any, self.dice.choice(cmd.SKIP_REASONS))),
            cmd.Again(),
            cmd.Back(),
            cmd.Say(),
            *([cmd.Stop("dog_unhappy")] if self.dice.random() < 0.15 else []),
        )
        return self.dice.choice(wishes)

    def _buried(self, disk: SimDisk) -> None:
        """What is left of this life on the disk."""
        died = disk.dead
        # When nobody says stop, the owner lifts the head only when the coach falls silent.
        self.truth.lift(self.clock.now_ns)
        power_cut = died and self.dice.random() < 0.7
        lost = disk.bury(power_cut=power_cut)
        self.seen.update(disk.struck)
        if lost and disk.struck["sync that lies"]:
            self.lied = True
        if died or disk.struck:
            # At most the time since the last heartbeat: one beat, and what its tick was late.
            self.cuts += 1
            self.loss_ns += self.options.heartbeat_ns + self.late_ns
        self.late_ns = 0
        if died:
            self.seen["power cut" if power_cut else "process killed"] += 1
        if power_cut:
            self.boots += 1
            self.clock.boot_id = f"boot-{self.boots}"
            self.clock.now_ns = self.dice.randint(1, 50) * S

    def _between(self) -> None:
        self.clock.now_ns += self.dice.choice([5, 60, 600, 4000]) * S
        self.clock.wall = self.dice.choice(WALLS)
        self.clock.trust = self.dice.choice(["synchronised", "rtc", "unknown"])

    # What must hold

    def _check_eyes(self, reading: JournalReading) -> None:
        """No hold before both questions about the eyes were answered by yes, after each cut too."""
        safe: set[str] = set()
        for line in reading.lines:
            if line["kind"] in ("session_opened", "session_resumed"):
                safe = set()
            elif line["kind"] == "readiness" and line["data"]["answer"] == "yes":
                safe.add(line["data"]["point"])
            elif line["kind"] == "hold_started" and not safe >= {"eyewear", "dog_eyes"}:
                raise Wrong("a hold began before the eyes were safe")

    def _journal(self) -> JournalReading | None:
        """The journal of this evening. A file that was cut before its first line is none."""
        readable = []
        for path in journal_files(self.folder):
            try:
                readable.append(read_journal(path))
            except JournalUnreadable as error:
                self.say(str(error))
        if len(readable) > 1:
            raise Wrong(f"one session became {len(readable)} journals")
        return readable[0] if readable else None

    def _given(self) -> list[int]:
        reading = self._journal()
        if reading is None:
            return [0] * len(self.spots)
        self._check_eyes(reading)
        tally = tally_of(reading.lines)
        # "Again" counts from the moment at which it is written, heard or not.
        self.again = [max(a, spot.repeats) for a, spot in zip(self.again, tally.spots, strict=True)]
        if tally.problems:
            raise Wrong(f"the tally says {tally.problems}")
        if reading.damage is not None:
            raise Wrong(f"the journal is damaged: {reading.damage}")
        return [spot.given_ns for spot in tally.spots]

    def _check(self) -> None:
        """After each life: what the journal says against what the owner was told."""
        given = self._given()
        self.say(f"told {self.truth.held_ns}, journal {given}")
        loss_ns = self.loss_ns
        for spot, told_ns, given_ns, again in zip(
            self.spots, self.truth.held_ns, given, self.again, strict=True
        ):
            if given_ns > told_ns:
                raise Wrong(f"spot {spot.index + 1}: {given_ns} counted, {told_ns} given")
            if given_ns > spot.hold_ns * (1 + again):
                raise Wrong(f"spot {spot.index + 1}: {given_ns} counted, more than granted")
            if told_ns > spot.hold_ns * (1 + again) + loss_ns and not self.lied:
                raise Wrong(f"spot {spot.index + 1}: {told_ns} given, more than granted")
        lost_ns = sum(self.truth.held_ns) - sum(given)
        if lost_ns > loss_ns and not self.lied:
            raise Wrong(f"{lost_ns} ns lost in {self.cuts} cuts")

    def _check_failed(self, runner: Runner) -> None:
        """When the disk failed: the screen shows no more than what is written."""
        if runner.machine.phase not in OVER:
            raise Wrong("it goes on without a log")
        if list(runner.machine.sitting.given_ns) != self._given():
            raise Wrong(
                f"shown {runner.machine.sitting.given_ns}, written {self._given()} after a failure"
            )

    def _check_closed(self) -> None:
        reading = self._journal()
        if reading is None:
            raise Wrong("closed, but not there")
        result, *more = verify_all([reading.path])
        if more:
            raise Wrong(f"closed, but {more}")
        if not result.good:
            raise Wrong(f"closed, but {result}")

    def say(self, text: str) -> None:
        """One more line of the story."""
        self.story.append(f"{self.clock.now_ns / S:12.3f} {text}")


def evening(seed: int) -> Evening:
    """Run one seed; its story is told when it goes wrong."""
    with tempfile.TemporaryDirectory(prefix="coach-sim-") as folder:
        one = Evening(seed, Path(folder) / "dog")
        try:
            one.run()
        except BaseException as error:
            story = "\n".join(one.story)
            again = f"python -m tests.sim.simulator {seed}"
            raise Wrong(f"seed {seed}: {error!r}\n{story}\nagain with: {again}") from error
    return one


def main(words: Sequence[str]) -> int:
    """Run a seed, or a range of them."""
    first, *rest = (int(word) for word in words)
    if not rest:
        one = evening(first)
        print("\n".join(one.story))
        return 0
    seen: Counter[str] = Counter()
    wrong = 0
    for seed in range(first, rest[0]):
        try:
            seen.update(evening(seed).seen)
        except Wrong:
            wrong += 1
            traceback.print_exc(limit=0)
    for what, count in sorted(seen.items()):
        print(f"{count:9} {what}")
    print(f"{rest[0] - first} seeds, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
