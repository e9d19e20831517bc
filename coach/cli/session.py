"""``coach session`` and ``coach rehearse``: coach, speak, log."""

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coach.bedside.after_session import SessionAfter
    from coach.bedside.runner import Runner
    from coach.journal.journal_lines import Signer
    from coach.plan.files import PlanFile
    from coach.plan.model import Plan
    from coach.plan.spots import SessionSpots
    from coach.record.session_length import Between
    from coach.session.machine import Options
    from coach.voice.tended import Tended
    from coach.voice.voice_port import Voice

FASTEST = 1000
LONGEST_MIN = 240


def _speed(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= FASTEST:
        raise argparse.ArgumentTypeError(f"found {text!r}; allowed: a whole number, 1 to {FASTEST}")
    return int(text)


def _minutes(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= LONGEST_MIN:
        raise argparse.ArgumentTypeError(
            f"found {text!r}; allowed: whole minutes, 1 to {LONGEST_MIN}"
        )
    return int(text)


def _because(text: str) -> str:
    from coach.cli.allowed import because

    return because(text)


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add both commands to the command line."""
    session = commands.add_parser(
        "session",
        help="coach, speak and log a session",
        description="Coach a session of a plan: laser on, everything counted and logged.",
    )
    rehearse = commands.add_parser(
        "rehearse",
        help="a lesson: the same with the laser off; never counted",
        description="Go through a session with the laser off. It is logged apart, never counted. "
        "The first time it is a lesson, place by place.",
    )
    for command in (session, rehearse):
        command.add_argument(
            "plan", type=Path, nargs="?", help="plan file (default: your dog's plan)"
        )
        command.add_argument(
            "--plain", action="store_true", help="line by line, for screen readers and pipes"
        )
        command.add_argument("--silent", action="store_true", help="no voice and no tones")
        command.add_argument(
            "--listen",
            action=argparse.BooleanOptionalAction,
            help="obey spoken words (by itself once coach listen has tried the microphone)",
        )
        command.add_argument(
            "--record-voice", type=Path, metavar="WAV", help="speak into a file instead"
        )
        command.add_argument(
            "--advance", choices=("auto", "wait"), help="move on by itself, or wait for the key"
        )
        command.add_argument(
            "--look", choices=("dark", "daylight", "console"), default="dark", help="colours"
        )
        command.add_argument(
            "--minutes",
            type=_minutes,
            metavar="N",
            help="what fits into N minutes, by the plan's priorities; the rest is left out",
        )
        command.add_argument(
            "--owner-sits",
            choices=("left", "right"),
            help="the dog's side where you sit: cues then say which side is nearest you",
        )
    session.add_argument(
        "--carry-on",
        action=argparse.BooleanOptionalAction,
        help="carry on with a session that was cut off, or close it, without being asked",
    )
    session.add_argument(
        "--dog", metavar="NAME", help="the dog before you: a plan for another one is refused"
    )
    session.add_argument(
        "--by", default="", metavar="NAME", help="who treats; it is written in the log"
    )
    session.add_argument(
        "--because",
        type=_because,
        metavar="REASON",
        help="start where the plan leaves it to you (too soon, clock not set); it is logged",
    )
    rehearse.add_argument(
        "--lesson",
        action=argparse.BooleanOptionalAction,
        help="meet each place of the plan first, and answer three questions at the end "
        "(by itself at the first rehearsal with a dog)",
    )
    rehearse.add_argument(
        "--speed", type=_speed, default=1, metavar="N", help="time runs N times as fast"
    )
    rehearse.add_argument(
        "--no-questions",
        action="store_true",
        help="without the questions before the start; only here, where the laser is off",
    )
    session.set_defaults(run=run, rehearsal=False, speed=1, no_questions=False)
    rehearse.set_defaults(run=run, rehearsal=True)


def run(args: argparse.Namespace) -> int:
    """Coach one session."""
    from coach.cli.allowed import NotAllowed
    from coach.cli.asking import NotStarted, asker, by_problem, refused
    from coach.cli.before import dogs_plan, ready
    from coach.cli.caring import preparing_for, sessions_done_with, without_minded
    from coach.cli.keys import settings
    from coach.cli.lesson import lesson_for
    from coach.cli.plans import load
    from coach.cli.short import chosen
    from coach.cli.speaking import open_ear, texts_for, voice_for
    from coach.journal.journal import JournalBusy, JournalError
    from coach.screens.bindable_keys import key_wishes
    from coach.session.coaching_level import level_for, tips_for
    from coach.session.cues import calm_texts
    from coach.session.machine import Options, Phase
    from coach.session.readiness import every_sentence, eyes_only
    from coach.session.readiness_timing import Preparing
    from coach.units import NS_PER_S
    from coach.voice.command_filter import ANSWERS
    from coach.voice.tended import Tended

    problems = [] if args.rehearsal else by_problem(args.by)
    if problems:
        print(f"coach: {problems[0]}", file=sys.stderr)
        return Exit.BAD_INPUT
    try:
        plan_file = load(dogs_plan(args), demo=args.rehearsal)
    except NotStarted:
        return _not_started(args)
    if plan_file is None:
        return Exit.BAD_INPUT
    plan_file, phase_remarks = _in_phase(plan_file)
    plan = plan_file.plan
    if args.rehearsal:
        _second_look(plan)
    terminal = sys.stdin.isatty() and sys.stdout.isatty()
    plain = args.plain or not terminal
    if plain and not args.plain:
        print(_("No terminal here: coaching line by line (as with --plain)."), flush=True)
    try:
        session = chosen(plan, minutes=args.minutes, ask=asker(args, title=plan.dog.name))
    except NotStarted:
        return _not_started(args)
    if session is None:
        return Exit.BAD_INPUT
    if not args.rehearsal:
        session = without_minded(plan, session)
        if not session.spots:
            rests = _("every spot of this plan has to rest today")
            return refused(args, Exit.NOT_ALLOWED, rests)
    done = sessions_done_with(plan)
    level = level_for(done, plan.care.reminders)
    options = Options(
        advance=args.advance or plan.rules.advance,
        laser_button=plan.laser.starts == "button at each spot",
        repeats_allowed=plan.rules.repeats_allowed,
        patience_ns=plan.rules.patience_minutes * 60 * NS_PER_S,
        lead_ns=0 if args.silent else NS_PER_S // 5,
        owner_sits=args.owner_sits or plan.care.owner_sits,
        reminders=level,
        tips=tips_for(session.spots, level=level, sessions_done=done),
    )
    preparing = preparing_for(args, plan_file, session, first=done == 0)
    wishes = settings()
    keymap = key_wishes().keymap(wishes.keys)
    listens = wishes.listens if args.listen is None else args.listen
    texts = texts_for(plan, session, options)
    if preparing is not None:
        texts += every_sentence(preparing.round)
    if listens:
        texts += [_(answer) for answer in ANSWERS]
    voice = voice_for(args, texts, wishes.voice, calm_texts(session.spots))
    tended = Tended(voice)
    by = ""
    if not args.rehearsal:
        try:
            by = ready(args, plan, session, voice=tended)
        except NotStarted:
            return _not_started(args, voice)
    lesson = lesson_for(args, plan, session.spots, plain=plain)
    if lesson is not None:
        lesson.meet(tended)
    try:
        runner = _runner(args, plan_file, session, options, tended, by=by)
        runner.remarks = (*phase_remarks, *runner.remarks)
    except NotStarted:
        return _not_started(args, voice)
    except JournalError as error:
        problem = _("the log cannot be opened; nothing started: {error}").format(error=error)
        return refused(args, Exit.NOT_WRITTEN, problem, voice)
    except NotAllowed as refusal:
        return refused(args, Exit.NOT_ALLOWED, str(refusal), voice, aloud=refusal.aloud)
    except JournalBusy as busy:
        problem = _("another session of {dog} is running: {who}").format(
            dog=plan.dog.name, who=busy.who
        )
        return refused(args, Exit.BUSY, problem, voice)
    runner.preparing = preparing
    if preparing is not None and runner.machine.phase is not Phase.READY:
        # The rest of a session that was cut off: the room is as it was, the eyes may not be.
        runner.preparing = Preparing(eyes_only(plan))
    after = _afterwards(runner, by)
    if listens:
        runner.ear = open_ear(voice)
    try:
        if plain:
            from coach.lines.line_mode import Keyboard, PlainCoach

            with Keyboard(sys.stdin.fileno()) as keyboard:
                # A script that types has typed all it has to say.
                asked = after if sys.stdin.isatty() else None
                PlainCoach(runner, keyboard, afterwards=asked).run()
        else:
            from coach.screens.session_app import build_app

            app = build_app(runner, look=args.look, afterwards=after, say=runner.speak)
            app.set_keymap({action: ",".join(keys) for action, keys in keymap.items()})
            app.run()
            if app.return_code == Exit.FAILED:
                # The framework has told the fault; the session did not end, it lost its screen.
                return _failed(runner)
    except Exception:
        _failed(runner)
        raise
    runner.close()
    _tell(runner)
    if lesson is not None:
        lesson.teach_back()
    if runner.failure:
        print(f"coach: {runner.failure}", file=sys.stderr)
        return Exit.NOT_WRITTEN
    return Exit.DONE if runner.machine.phase is Phase.FINISHED else Exit.ENDED_EARLY


def _failed(runner: "Runner") -> int:
    """A fault of ours: the log stays open, so that what was given counts and the rest can be."""
    runner.leave_open()
    told = _(
        "The program has failed. Switch the laser off. What was given is in the log: the next "
        "start offers to carry on."
    )
    print(told, file=sys.stderr, flush=True)
    return Exit.FAILED


def _runner(
    args: argparse.Namespace,
    plan_file: "PlanFile",
    session: "SessionSpots",
    options: "Options",
    tended: "Tended",
    *,
    by: str,
) -> "Runner":
    from coach import __version__
    from coach.appliance.clock import stamper
    from coach.bedside.runner import Runner, header_of
    from coach.bedside.session_clock import SessionClock
    from coach.cli.asking import asker
    from coach.cli.opening import opened
    from coach.journal.journal import JournalError

    clock = SessionClock(speed=args.speed, began_ns=time.monotonic_ns())
    signer = _signer()
    journal, machine = opened(
        args,
        plan_file,
        header=header_of(
            plan_file,
            session.spots,
            options,
            version=__version__,
            rehearsal=args.rehearsal,
            left_for_next=session.left_for_next,
        ),
        spots=session.spots,
        options=options,
        stamp=stamper(clock.now_ns),
        signer=signer,
        ask=asker(args, title=plan_file.plan.dog.name, voice=tended),
    )
    if by:
        try:
            journal.append("helper", {"name": by})
        except JournalError:
            journal.close()
            raise
    return Runner(
        plan_file=plan_file,
        machine=machine,
        journal=journal,
        voice=tended.voice,
        reports=tended.reports,
        clock=clock,
        rehearsal=args.rehearsal,
        signer=signer,
        past=() if args.rehearsal else _past(plan_file.plan.dog.name),
        remarks=() if args.rehearsal else _early(plan_file.plan),
    )


def _in_phase(plan_file: "PlanFile") -> "tuple[PlanFile, tuple[str, ...]]":
    """The plan as it is in the phase of its course that holds now."""
    from coach.appliance.clock import trust
    from coach.bedside.phase_today import phase_today
    from coach.paths import dog_folder, summary_folder

    dog = plan_file.plan.dog.name
    return phase_today(
        plan_file,
        folder=dog_folder(dog),
        kept=summary_folder(dog),
        clock_trusted=trust() != "unknown",
    )


def _past(dog: str) -> "Sequence[Between]":
    """What the dog's sessions before tell of how long one takes."""
    from coach.paths import dog_folder, summary_folder
    from coach.record.dog_course import read_pace

    return read_pace(dog_folder(dog), dog, kept=summary_folder(dog))


def _early(plan: "Plan") -> tuple[str, ...]:
    """A remark where the plan has a calendar and this session is before its day: no refusal."""
    from coach.appliance.clock import trust
    from coach.paths import dog_folder, summary_folder
    from coach.plan.model import CalendarRules
    from coach.record.dog_course import read_course
    from coach.reports.calendar_text import early_text

    if plan.calendar == CalendarRules() or not plan.course or trust() == "unknown":
        return ()
    dog = plan.dog.name
    text = early_text(read_course(plan, dog_folder(dog), kept=summary_folder(dog)))
    return (text,) if text else ()


def _second_look(plan: "Plan") -> None:
    """What the prescriber should look at again: a rehearsal is where a plan is tried."""
    from coach.bedside.runner import today
    from coach.handover.take_plan_text import second_look_lines

    for line in second_look_lines(plan, today=today()):
        print(line, file=sys.stderr)


def _not_started(args: argparse.Namespace, voice: "Voice | None" = None) -> int:
    from coach.cli.asking import refused

    return refused(args, Exit.NOT_ALLOWED, _("nothing started"), voice)


def _afterwards(runner: "Runner", by: str) -> "SessionAfter | None":
    """What is asked once the session is over; nothing after a rehearsal."""
    if runner.rehearsal:
        return None
    from coach.appliance.clock import stamper
    from coach.bedside.after_session import SessionAfter
    from coach.paths import dog_folder, summary_folder

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


def _signer() -> "Signer | None":
    """The key of this device; without one the journal is closed unsigned, and that is said."""
    from coach.journal.signing import KeyUnusable, device_key
    from coach.paths import device_key_file

    try:
        return device_key(device_key_file())
    except (KeyUnusable, OSError) as error:
        print(_("The log will not be signed: {error}").format(error=error), file=sys.stderr)
        return None


def _tell(runner: "Runner") -> None:
    """What was given, on stdout, after the screen is gone."""
    from coach.journal.journal import JournalUnreadable, read_journal
    from coach.record.tally import TallyError, tally_of
    from coach.reports.session_text import report_lines

    try:
        print("\n".join(report_lines(tally_of(read_journal(runner.path).lines))))
    except (JournalUnreadable, TallyError) as error:
        print(f"coach: {error}", file=sys.stderr)
    print(_("Log: {file}").format(file=runner.path))
