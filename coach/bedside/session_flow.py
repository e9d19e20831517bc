"""A session from the wish for one to its end screen: everything between home and home."""

from collections.abc import Sequence
from dataclasses import dataclass

from coach import paths
from coach.appliance.clock import stamper, trust
from coach.bedside.after_session import SessionAfter
from coach.bedside.before_session import before_session, plan_for
from coach.bedside.earlier_sessions import preparing_for, sessions_done_with, without_minded
from coach.bedside.evening import Ended, Evening, NotStarted, SessionWish
from coach.bedside.flow import Flow, Gone, coached, show, work
from coach.bedside.lesson_flow import lesson_for, teach_back
from coach.bedside.opening import Wanted, opened
from coach.bedside.pages import LessonPage
from coach.bedside.phase_today import phase_today
from coach.bedside.runner import Runner, header_of
from coach.bedside.session_clock import SessionClock
from coach.bedside.shortened import shortened
from coach.bedside.spoken_ahead import texts_for
from coach.handover.take_plan_text import second_look_lines
from coach.journal.journal import Journal, JournalBusy, JournalError
from coach.journal.journal_lines import Signer
from coach.journal.signing import KeyUnusable, device_key
from coach.language import _
from coach.paths import dog_folder, summary_folder
from coach.plan.files import PlanFile
from coach.plan.model import CalendarRules, Plan
from coach.plan.spots import SessionSpots
from coach.record.dog_course import read_course, read_pace
from coach.record.session_length import Between
from coach.reports.calendar_text import early_text
from coach.session.coaching_level import level_for, tips_for
from coach.session.cues import calm_texts, sentence
from coach.session.machine import Machine, Options, Phase
from coach.session.readiness import every_sentence, eyes_only
from coach.session.readiness_timing import Preparing
from coach.units import NS_PER_S
from coach.voice.command_filter import ANSWERS
from coach.voice.listener import Ear, NoEar


def session_flow(evening: Evening, wish: SessionWish) -> Flow[Ended]:
    """One session or rehearsal. Why nothing was started is told, and in what is returned."""
    try:
        return (yield from _session(evening, wish))
    except NotStarted as refusal:
        ended = Ended(outcome=refusal.outcome, problem=refusal.problem, aloud=refusal.aloud)
    except JournalBusy as busy:
        ended = Ended(outcome="busy", problem=str(busy))
    except JournalError as error:
        problem = _("the log cannot be opened; nothing started: {error}").format(error=error)
        ended = Ended(outcome="not_written", problem=problem)
    return ended


def refusal_lines(ended: Ended) -> tuple[str, ...]:
    """What the owner reads where nothing was started."""
    if not ended.problem:
        return ()
    return tuple(sentence(line.strip(" -")) for line in ended.problem.split("\n"))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Setup:
    """A session that is about to be opened."""

    plan_file: PlanFile
    session: SessionSpots
    options: Options
    preparing: Preparing | None

    @property
    def plan(self) -> Plan:
        return self.plan_file.plan


def _session(evening: Evening, wish: SessionWish) -> Flow[Ended]:
    plan_file = _in_phase(evening, (yield from plan_for(evening, wish)))
    plan = plan_file.plan
    dog = plan.dog.name
    if wish.rehearsal:
        # A rehearsal is where a plan is tried: what the prescriber should look at again.
        evening.notes += second_look_lines(plan, today=evening.today())
    session = yield from shortened(evening, wish, plan)
    if not wish.rehearsal:
        session, rests = without_minded(plan, session, day=evening.today())
        evening.notes += rests
        if not session.spots:
            raise NotStarted(_("every spot of this plan has to rest today"))
    setup = _set_up(evening, wish, plan_file, session)
    yield from prepared(evening, setup.plan, setup.session, setup.options, setup.preparing)
    by = ""
    if not wish.rehearsal:
        by = yield from before_session(evening, wish, plan, session.spots)
    lesson = lesson_for(evening, wish, plan)
    if lesson is not None:
        yield from show(LessonPage(dog=dog, spots=session.spots, keys=lesson.keys))
    runner = yield from _opened(evening, wish, setup, by=by)
    after = _afterwards(evening, runner, by)
    listens = evening.listens if wish.listen is None else wish.listen
    runner.ear = _open_ear(evening) if listens else NoEar()
    try:
        phase = yield from coached(runner, after)
    except (Gone, GeneratorExit):
        runner.close()
        raise
    except BaseException:
        # A fault of ours: the log stays open, so that what was given counts and the rest can be.
        runner.leave_open()
        raise
    runner.close()
    if lesson is not None:
        problem = yield from teach_back(lesson.teaching)
        evening.notes += [problem] if problem else []
    if runner.failure:
        return Ended(outcome="not_written", problem=runner.failure, journal=runner.path)
    outcome = "done" if phase is Phase.FINISHED else "ended_early"
    return Ended(outcome=outcome, journal=runner.path)  # type: ignore[arg-type]


def options_for(evening: Evening, wish: SessionWish, plan: Plan, session: SessionSpots) -> Options:
    """How the machine runs this session."""
    done = sessions_done_with(plan)
    level = level_for(done, plan.care.reminders)
    return Options(
        advance=wish.advance or plan.rules.advance,
        laser_button=plan.laser.starts == "button at each spot",
        repeats_allowed=plan.rules.repeats_allowed,
        patience_ns=plan.rules.patience_minutes * 60 * NS_PER_S,
        lead_ns=0 if evening.speech.silent else NS_PER_S // 5,
        owner_sits=wish.owner_sits or plan.care.owner_sits,
        reminders=level,
        tips=tips_for(session.spots, level=level, sessions_done=done),
    )


def _set_up(
    evening: Evening, wish: SessionWish, plan_file: PlanFile, session: SessionSpots
) -> _Setup:
    plan = plan_file.plan
    preparing = None
    if wish.questions:
        preparing = preparing_for(
            plan_file, session, now=evening.wall(), owner_sits=wish.owner_sits
        )
    return _Setup(
        plan_file=plan_file,
        session=session,
        options=options_for(evening, wish, plan, session),
        preparing=preparing,
    )


def prepared(
    evening: Evening,
    plan: Plan,
    session: SessionSpots,
    options: Options,
    preparing: Preparing | None,
) -> Flow[None]:
    """Render what will be said, as far as it is not yet; the owner need not wait for it."""
    texts = texts_for(plan, session, options)
    if preparing is not None:
        texts += every_sentence(preparing.round)
    texts += [*evening.driver_says(), *(_(answer) for answer in ANSWERS)]
    speech = evening.speech
    if not speech.missing(texts, calm_texts(session.spots)):
        return
    told = yield from work(
        lambda progress: speech.prepare(texts, progress),
        _("Preparing the voice. You need not wait: words that are not ready are said later."),
        title=plan.dog.name,
        skip=speech.skip,
    )
    evening.notes += told or ()


def _opened(evening: Evening, wish: SessionWish, setup: _Setup, *, by: str) -> Flow[Runner]:
    plan_file, session = setup.plan_file, setup.session
    dog = plan_file.plan.dog.name
    clock = SessionClock(monotonic_ns=evening.mono_ns, speed=wish.speed, began_ns=evening.mono_ns())
    signer = _signer(evening)
    header = header_of(
        plan_file,
        session.spots,
        setup.options,
        version=evening.version,
        rehearsal=wish.rehearsal,
        left_for_next=session.left_for_next,
    )
    wanted = Wanted(
        plan_file=plan_file,
        header=header,
        spots=session.spots,
        options=setup.options,
        stamp=stamper(clock.now_ns),
        signer=signer,
    )
    try:
        journal, machine = yield from opened(evening, wish, wanted)
    except JournalBusy as busy:
        problem = _("another session of {dog} is running: {who}").format(dog=dog, who=busy.who)
        raise NotStarted(problem, outcome="busy") from None
    return _runner(evening, wish, setup, (journal, machine, clock, signer), by=by)


def _runner(
    evening: Evening,
    wish: SessionWish,
    setup: _Setup,
    held: tuple[Journal, Machine, SessionClock, Signer | None],
    *,
    by: str,
) -> Runner:
    journal, machine, clock, signer = held
    plan = setup.plan
    if by:
        try:
            journal.append("helper", {"name": by})
        except JournalError:
            journal.close()
            raise
    remarks = evening.take_notes()
    runner = Runner(
        plan_file=setup.plan_file,
        machine=machine,
        journal=journal,
        voice=evening.speech.lent(),
        reports=evening.speech.take_reports(),
        clock=clock,
        rehearsal=wish.rehearsal,
        signer=signer,
        past=() if wish.rehearsal else _past(plan.dog.name),
        remarks=remarks if wish.rehearsal else (*remarks, *_early(plan)),
    )
    runner.preparing = setup.preparing
    if setup.preparing is not None and machine.phase is not Phase.READY:
        # The rest of a session that was cut off: the room is as it was, the eyes may not be.
        runner.preparing = Preparing(eyes_only(plan))
    return runner


def _in_phase(evening: Evening, plan_file: PlanFile) -> PlanFile:
    """The plan as it is in the phase of its course that holds now."""
    dog = plan_file.plan.dog.name
    today, remarks = phase_today(
        plan_file,
        folder=dog_folder(dog),
        kept=summary_folder(dog),
        clock_trusted=trust() != "unknown",
    )
    evening.notes += remarks
    return today


def _open_ear(evening: Evening) -> Ear:
    """An ear that is told what the voice plays, so that it can hear the owner over it."""
    from coach.voice.child_voice import SpokenVoice
    from coach.voice.listener import ListeningEar

    ear = ListeningEar()
    ear.start()
    if isinstance(evening.speech.voice, SpokenVoice):
        evening.speech.voice.on_sound = ear.plays
    return ear


def _past(dog: str) -> Sequence[Between]:
    """What the dog's sessions before tell of how long one takes."""
    return read_pace(dog_folder(dog), dog, kept=summary_folder(dog))


def _early(plan: Plan) -> tuple[str, ...]:
    """A remark where the plan has a calendar and this session is before its day: no refusal."""
    if plan.calendar == CalendarRules() or not plan.course or trust() == "unknown":
        return ()
    dog = plan.dog.name
    text = early_text(read_course(plan, dog_folder(dog), kept=summary_folder(dog)))
    return (text,) if text else ()


def _afterwards(evening: Evening, runner: Runner, by: str) -> SessionAfter | None:
    """What is asked once the session is over; nothing after a rehearsal."""
    if runner.rehearsal or not evening.attended:
        return None
    plan = runner.plan_file.plan
    return SessionAfter(
        folder=dog_folder(plan.dog.name),
        dog=plan.dog.name,
        journal=runner.path,
        stamp=stamper(runner.clock.now_ns),
        plan=plan,
        by=by,
        kept=summary_folder(plan.dog.name),
    )


def _signer(evening: Evening) -> Signer | None:
    """The key of this device; without one the journal is closed unsigned, and that is said."""
    try:
        return device_key(paths.device_key_file())
    except (KeyUnusable, OSError) as error:
        evening.notes.append(_("The log will not be signed: {error}").format(error=error))
        return None
