"""Glue: command or time in, machine, journal first, then voice and screen. No UI in here.

Longer than other files: that nothing overtakes the journal has to be seen in one place.
"""

import errno
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from coach.bedside.port import Ending, Opening
from coach.bedside.session_clock import SessionClock

# Here as well, for those who set up a runner.
from coach.journal.header import header_of as header_of
from coach.journal.journal import Journal, JournalError, read_journal
from coach.journal.journal_lines import CLOSED, Signer
from coach.language import N_, _
from coach.plan.files import PlanFile
from coach.record.session_length import Between, Foretold, foretell
from coach.record.tally import TallyError, tally_of
from coach.reports.session_text import report_lines
from coach.session import commands as cmd
from coach.session import events as ev
from coach.session.cues import LOG_LOST, STOPPED, Cue, Priority, tone_cue
from coach.session.machine import OVER, Machine, NotNow, Phase, Step, one_key
from coach.session.readiness import Answer
from coach.session.readiness_timing import Preparing
from coach.session.replay import restore
from coach.session.signals import ADVICE, advice, seen_text, stop_reason
from coach.session.state import Sitting
from coach.session.view import View, view
from coach.session.went_wrong import KIND
from coach.units import NS_PER_S
from coach.voice.command_filter import NOT_NOW, USE_THE_KEY, Obedience
from coach.voice.listener import Ear, EarReport, NoEar
from coach.voice.phrases import COMMANDS, PHRASES
from coach.voice.voice_port import Voice, VoiceReport, speak

# A hold that a hand starts begins with its tone, not with the press: as soon as it can be heard.
LEAST_LEAD_NS = NS_PER_S // 5
MOST_LEAD_NS = NS_PER_S
HANDED_ON_NS = NS_PER_S // 20
POLL_S = 0.2
HEARD_SHOWN_NS = 4 * NS_PER_S
# A question with its keys, or a list of choices, may take so long to read out.
TOLD_NS = 60 * NS_PER_S
ASIDE_NS = 3 * NS_PER_S
# So long the log of a session in which something went wrong waits to be told what it was.
WRONG_NS = 120 * NS_PER_S

TONE_LATE = N_("SOUND IS LATE: watch the screen")
NO_JOURNAL = N_("THE LOG CANNOT BE WRITTEN: session ended. Switch the laser off.")


@dataclass(slots=True, kw_only=True)
class Runner:
    """One running session. ``heard`` gets every cue after its events are on disk.

    ``ear`` is listened to for the owner's words; each command heard is a line of its own.
    ``reports`` are what the voice told before the session began;
    ``past`` are the dog's sessions before, as far as they tell how long this one will take;
    ``remarks`` what else the owner should know before the start; ``changes`` counts what was
    done or told.
    """

    plan_file: PlanFile
    machine: Machine
    journal: Journal
    voice: Voice
    clock: SessionClock
    rehearsal: bool
    signer: Signer | None = None
    past: Sequence[Between] = ()
    remarks: tuple[str, ...] = ()
    heard: Callable[[Step], None] | None = None
    notices: dict[str, str] = field(default_factory=dict)
    pause_reason: str = ""
    failure: str = ""
    closed: bool = False
    changes: int = 0
    log_ended: bool = False
    reports: list[VoiceReport] = field(default_factory=list)
    ear: Ear = field(default_factory=NoEar)
    _start_tone: str = ""
    preparing: Preparing | None = None
    _seen: tuple[str, ...] = ()
    _obedience: Obedience = field(init=False)
    _heard_ns: int = 0
    _wrong_until_ns: int | None = None

    def __post_init__(self) -> None:
        hand_starts = self.plan_file.plan.rules.advance == "wait"
        self._obedience = Obedience(hand_starts=hand_starts)

    @property
    def path(self) -> Path:
        """The journal file."""
        return self.journal.path

    def view(self) -> View:
        """What to show now."""
        return view(
            self.machine,
            self.clock.now_ns(),
            dog=self.plan_file.plan.dog.name,
            rehearsal=self.rehearsal,
            power_uw=self.plan_file.plan.laser.power_uw,
            notices=tuple(self.notices.values()),
            pause_reason=self.pause_reason,
            readiness=None if self.preparing is None else self.preparing.round,
            away=self.preparing is not None and self.preparing.away,
        )

    def tick(self) -> None:
        """Do what is due, and hear what the voice has to report."""
        self._listen()
        self._apply(self.machine.tick(self.clock.now_ns()))
        if self.preparing is not None and self.asks:
            self._tell(self.preparing.tick(self.clock.now_ns()))
        self._obey()
        # A plug pulled while the owner reads or answers must not make it look cut off.
        self.end_log()

    def do(self, command: cmd.Command) -> str | None:
        """Do what the owner asked; a sentence if that cannot be done now."""
        if isinstance(command, cmd.Stop | cmd.Pause):
            # Silence needs no record, and must not wait for the disk.
            self.voice.silence()
        if isinstance(command, cmd.Stop) and command.reason == "asked" and self._seen:
            # Why is known already; nobody has to be asked again.
            command = cmd.Stop(stop_reason(self._seen))
        now_ns = self.clock.now_ns()
        if self.preparing is not None and self.asks and not isinstance(command, cmd.Stop):
            try:
                told = self.preparing.command(command, now_ns)
            except ValueError as refusal:
                return str(refusal)
            self.voice.silence()
            self._tell(told)
            return None
        # What is due comes first: a refusal would take it back, and close would miss it.
        self._apply(self.machine.tick(now_ns))
        try:
            step = self.machine.do(command, now_ns)
        except NotNow as refusal:
            return str(refusal)
        if self.machine.phase is not Phase.PAUSED:
            self._seen = ()
        self._apply(step)
        return None

    def press(self) -> str | None:
        """The one big key."""
        self.tick()
        if self.preparing is not None and self.asks:
            away, answer = self.preparing.away, self.preparing.one_key()
            if answer is None:
                return None if away else _("this needs a yes or a no")
            return self.answer(answer)
        command = one_key(self.machine)
        return None if command is None else self.do(command)

    @property
    def asks(self) -> bool:
        """Whether the readiness round is still to be gone through. Until then nothing starts."""
        return self.preparing is not None and self.preparing.asks and self.machine.phase not in OVER

    def answer(self, answer: Answer, line: str = "") -> str | None:
        """An answer in the readiness round, on disk first; a sentence if it fits no question.

        ``line``: the point that is answered, where a page has several.
        """
        if self.preparing is None or not self.asks:
            return _("nothing is asked now")
        try:
            asked = self.preparing.round
            following, row = (asked.pick(line) if line else asked).answer(answer)
        except ValueError:
            return _("that is not one of the answers")
        self.voice.silence()
        now_ns = self.clock.now_ns()
        if self._write(row.kind, {"at_ns": now_ns, **row.data}):
            told = self.preparing.go_to(following, now_ns)
            if following.verdict == "stop":
                self.do(cmd.Stop("not_ready"))
            self._tell(told)
        return None

    def _tell(self, sentences: Iterable[str]) -> None:
        """Say what is no cue of the machine, once what is being said is over.

        Where seconds run it is soon too late for it: what is said about them comes first.
        """
        now_ns = self.clock.now_ns()
        runs = self.machine.phase in (Phase.MOVING, Phase.HOLDING)
        until_ns = now_ns + (ASIDE_NS if runs else TOLD_NS)
        for text in sentences:
            self._say(Cue(text=text, at_ns=now_ns, until_ns=until_ns))

    def signs(self, seen: tuple[str, ...]) -> None:
        """The signs of a dog that is not happy, all of this pause; the last line of them counts.

        What they ask for is said, never done.
        """
        if self.machine.phase in OVER:
            return
        now_ns, spot = self.clock.now_ns(), self.machine.sitting.index
        asks = advice(seen)
        data = {"at_ns": now_ns, "spot": spot, "signals": list(seen), "outcome": asks}
        if self._write("signals_seen", data):
            marked = [seen_text(sign) for sign in seen if sign not in self._seen]
            self._seen = seen
            if self.machine.phase is Phase.PAUSED:
                # The list of them is read no further.
                self.voice.silence()
            self._tell((*marked, _(ADVICE[asks])) if seen else ())

    def went_wrong(self, what: str = "") -> bool:
        """Something went wrong: stop and be silent at once, and write it down.

        The log stays open until ``what`` is told, for two minutes at most. Whether the log has it.
        """
        self.voice.silence()
        if self.machine.phase not in OVER:
            self._wrong_until_ns = self.clock.now_ns() + WRONG_NS
            self.do(cmd.Stop("went_wrong"))
        if self.log_ended or self.failure:
            return False
        now_ns, spot = self.clock.now_ns(), self.machine.sitting.index
        written = self._write(KIND, {"at_ns": now_ns, "spot": spot, "what": what})
        if what:
            self._wrong_until_ns = None
        return written

    def next_deadline_s(self) -> float | None:
        """Seconds until :meth:`tick` has something to do, by the monotonic clock."""
        now_ns = self.clock.now_ns()
        deadline_ns = self.machine.next_deadline(now_ns)
        if self.preparing is not None and self.asks:
            deadline_ns = self.preparing.deadline_ns(now_ns)
        if self._wrong_until_ns is not None:
            deadline_ns = self._wrong_until_ns
        if deadline_ns is None:
            return None
        return max(0.0, (deadline_ns - now_ns) / NS_PER_S / self.clock.speed)

    @property
    def poll_s(self) -> float | None:
        """How often to :meth:`tick` for the sake of what the voice may tell; None for never."""
        return POLL_S if self.voice.live or self.ear.live else None

    def opening(self) -> Opening:
        """Whose plan this is, for the screen before the start."""
        plan = self.plan_file.plan
        return Opening(
            plan_id=plan.about.id,
            revision=plan.about.revision,
            prescriber=plan.about.prescriber,
            laser=plan.laser.label,
            laser_class=plan.laser.laser_class,
            note=plan.about.note,
            speed=self.clock.speed,
            phone=plan.about.phone,
            phrases=tuple(PHRASES.values()) if self.ear.live else (),
            foretold=self.foretold(),
            remarks=self.remarks,
        )

    def foretold(self) -> Foretold:
        """How long the whole session will take, by the sessions before it."""
        spots = self.machine.spots
        return foretell(
            self.past,
            hold_ns=sum(spot.hold_ns for spot in spots),
            move_ns=sum(spot.move_ns for spot in spots),
        )

    def ending(self) -> Ending:
        """What was given, from the journal itself."""
        try:
            lines = tuple(report_lines(tally_of(read_journal(self.path).lines)))
        except (OSError, JournalError, TallyError) as error:
            # The stick may be gone; the last screen must still say that the session is over.
            lines = (_("The log cannot be read: {error}").format(error=error),)
        return Ending(lines=lines, journal=self.path)

    def tell(self, *sentences: str) -> None:
        """Say ``sentences`` once what is being said is over."""
        self._tell(sentences)

    def speak(self, text: str) -> None:
        """Say ``text`` now, instead of whatever is being said. Not for cues of the session."""
        speak(self.voice, text, now_ns=self.clock.real_ns(self.clock.now_ns()))

    def close(self) -> None:
        """End what still runs, write the closing record, let go of voice and journal."""
        if self.closed:
            return
        if self.machine.phase not in OVER:
            self.do(cmd.Stop("closed"))
        self.closed = True
        self._wrong_until_ns = None
        self.end_log()
        self.ear.close()
        self.voice.close()

    def leave_open(self) -> None:
        """The program has failed: say so, and leave the log so that it can be carried on."""
        if self.closed:
            return
        self.closed = True
        try:
            if self.machine.phase not in OVER:
                # Nobody counts any more, and the laser may be on.
                self.voice.silence()
                self._say(tone_cue("pause", self.clock.now_ns(), _(STOPPED), Priority.URGENT))
            self.ear.close()
            self.voice.close()
        finally:
            self.journal.close()

    def end_log(self) -> None:
        """The closing record, once the session is over: what follows is not part of it."""
        if self.log_ended or self.machine.phase not in OVER:
            return
        waits_ns = self._wrong_until_ns
        if waits_ns is not None and not self.failure and self.clock.now_ns() < waits_ns:
            return
        self.log_ended = True
        now_ns = self.clock.now_ns()
        closing = {
            "at_ns": now_ns,
            "finished": self.machine.phase is Phase.FINISHED,
            "given_ns": [self.machine.given_ns(n, now_ns) for n in range(len(self.machine.spots))],
            "planned_ns": [spot.hold_ns for spot in self.machine.spots],
        }
        self._write(CLOSED, closing)
        self.journal.close()

    def _apply(self, step: Step) -> None:
        if step.interrupts:
            self.voice.silence()
        for event in step.events:
            if not self._write(event.kind, event.payload()):
                return
            if isinstance(event, ev.Paused):
                self.pause_reason = event.reason
        for cue in step.cues:
            self._say(cue)
        if self.heard is not None and (step.events or step.cues):
            self.heard(step)

    def _say(self, cue: Cue) -> None:
        self.changes += 1
        if cue.tone == "start":
            self._start_tone = cue.text
        self.voice.say(
            cue.text,
            at_ns=self.clock.real_ns(cue.at_ns),
            until_ns=self.clock.real_ns(cue.until_ns),
            urgent=cue.priority is Priority.URGENT,
            tone=cue.tone,
        )

    def _write(self, kind: str, payload: Mapping[str, object]) -> bool:
        """On disk, or the session is over: what cannot be written is not given."""
        self.changes += 1
        if self.failure:
            return False
        try:
            if kind == CLOSED:
                self.journal.finish(payload, signer=self.signer)
            else:
                self.journal.append(kind, payload)
        except JournalError as error:
            self.failure = f"{_(NO_JOURNAL)} ({error})"
            self.notices["journal"] = _(NO_JOURNAL)
            self._give_up(readable=error.errno != errno.ESTALE)
            cue = tone_cue("pause", self.clock.now_ns(), _(LOG_LOST), Priority.URGENT)
            self.voice.silence()
            self._say(cue)
            if self.heard is not None:
                self.heard(Step((), (cue,), interrupts=True))
            return False
        return True

    def _give_up(self, *, readable: bool) -> None:
        """Stop the machine where the journal ends: what is not written was not given."""
        sitting = self.machine.sitting
        # Not even readable any more: what the machine had counted is all that is known.
        restored = self._written() if readable else None
        if restored is not None or sitting.phase not in OVER:
            self.machine.sitting = (restored or sitting).halted(Phase.STOPPED)

    def _written(self) -> Sitting | None:
        try:
            lines = read_journal(self.path).lines
        except JournalError:
            return None
        return restore(self.machine.spots, lines, now_ns=self.clock.now_ns())

    def _listen(self) -> None:
        early, self.reports = self.reports, []
        for report in (*early, *self.voice.poll()):
            if report.kind == "output_latency":
                self._lead(report.late_ns)
            elif self._start_tone and report.text == self._start_tone:
                self._start_tone_heard(report)
            if report.kind in ("tone_started", "tone_not_exact"):
                late = _(TONE_LATE) if report.kind == "tone_not_exact" else ""
                self._noticed("tone", report.kind, late)
            if report.kind == "cue_started":
                self._obedience.spoke(report.onset_ns, report.onset_ns + report.length_ns)
            if report.notice is not None:
                self._noticed("voice", report.kind, report.notice)

    def _noticed(self, who: str, kind: str, notice: str) -> None:
        """Keep ``notice`` in sight until it is taken away, and write it down when it is new."""
        before = self.notices.get(who, "")
        if notice:
            self.notices[who] = notice
        else:
            self.notices.pop(who, None)
        if notice == before:
            return
        self.changes += 1
        if not self.log_ended:
            self._write("notice", {"at_ns": self.clock.now_ns(), "what": kind, "text": notice})

    def _obey(self) -> None:
        """Do what the owner says, as if a key had been pressed; show what was heard."""
        if self.clock.monotonic_ns() - self._heard_ns > HEARD_SHOWN_NS:
            self.changes += self.notices.pop("heard", None) is not None
        for told in self.ear.poll():
            if isinstance(told, EarReport):
                self._noticed("ear", told.kind, told.notice)
                continue
            counting = self.machine.phase in (Phase.MOVING, Phase.HOLDING)
            heard = self._obedience.taken(told, self.clock.monotonic_ns(), counting=counting)
            if heard is None or self.machine.phase in OVER:
                continue
            now_ns = self.clock.now_ns()
            line = {"at_ns": now_ns, "phrase": heard.phrase, "action": heard.action}
            if not self._write("heard", line):
                continue
            self._heard_ns = self.clock.monotonic_ns()
            answer = USE_THE_KEY if heard.needs_hand else ""
            if not answer and self.do(COMMANDS[heard.action]()) is not None:
                answer = NOT_NOW
            text = _("Heard: {phrase}").format(phrase=heard.phrase)
            if answer:
                text = _("Heard: {phrase}. {answer}").format(phrase=heard.phrase, answer=_(answer))
                until_ns = now_ns + 3 * NS_PER_S
                self._say(Cue(text=_(answer), at_ns=now_ns, until_ns=until_ns))
            self.notices["heard"] = text

    def _lead(self, latency_ns: int) -> None:
        """From now on let a hold begin when its tone can be heard on this device."""
        lead_ns = min(MOST_LEAD_NS, max(LEAST_LEAD_NS, latency_ns + HANDED_ON_NS))
        if self.clock.speed > 1 or self.log_ended:
            return
        self.machine.options = replace(self.machine.options, lead_ns=lead_ns)
        told = {"at_ns": self.clock.now_ns(), "latency_ns": latency_ns, "lead_ns": lead_ns}
        self._write("output_latency", told)

    def _start_tone_heard(self, report: VoiceReport) -> None:
        """How exactly the tone that starts a hold was on time; None when it was not heard."""
        late_ns = {"tone_started": report.late_ns, "tone_dropped": None}
        if report.kind in late_ns and not self.log_ended:
            at_ns, spot = self.clock.now_ns(), self.machine.sitting.index
            told = {"at_ns": at_ns, "spot": spot, "late_ns": late_ns[report.kind]}
            self._write("start_tone", told)
