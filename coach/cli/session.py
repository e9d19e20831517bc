"""``coach session`` and ``coach rehearse``: coach, speak, log."""

import argparse
import sys
from pathlib import Path

from coach.cli.exits import Exit
from coach.language import N_, _

FAILED = N_(
    "The program has failed. Switch the laser off. What was given is in the log: the next "
    "start offers to carry on."
)
EXITS = {
    "done": Exit.DONE,
    "ended_early": Exit.ENDED_EARLY,
    "bad_input": Exit.BAD_INPUT,
    "not_allowed": Exit.NOT_ALLOWED,
    "busy": Exit.BUSY,
    "not_written": Exit.NOT_WRITTEN,
    "nothing": Exit.NOT_ALLOWED,
}
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
    from coach.bedside.permission import because

    try:
        return because(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


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
    from coach.bedside.evening import Ended, Evening, SessionWish
    from coach.bedside.flow import Fault, Flow, tell
    from coach.bedside.session_flow import refusal_lines, session_flow
    from coach.cli.running import by_problem, has_terminal, on_a_screen, run_flow

    problems = [] if args.rehearsal else by_problem(args.by)
    if problems:
        print(f"coach: {problems[0]}", file=sys.stderr)
        return Exit.BAD_INPUT
    screen = on_a_screen(plain=args.plain)
    if not args.plain and not has_terminal():
        print(_("No terminal here: coaching line by line (as with --plain)."), flush=True)
    wish = SessionWish(
        plan=args.plan,
        dog=getattr(args, "dog", None),
        rehearsal=args.rehearsal,
        listen=args.listen,
        advance=args.advance,
        minutes=args.minutes,
        owner_sits=args.owner_sits,
        carry_on=getattr(args, "carry_on", None),
        by=getattr(args, "by", ""),
        because=getattr(args, "because", None) or "",
        # Line by line there is a lesson only for who asks for it.
        lesson=getattr(args, "lesson", None) if screen else bool(getattr(args, "lesson", None)),
        speed=args.speed,
        questions=not args.no_questions,
    )

    def flow(evening: Evening) -> Flow[Ended]:
        ended = yield from session_flow(evening, wish)
        if screen:
            yield from tell(*refusal_lines(ended))
        return ended

    try:
        ended = run_flow(flow, args, record=args.record_voice, speaks_in_lines=True)
    except Exception as error:
        print(_(FAILED), file=sys.stderr, flush=True)
        if isinstance(error, Fault):
            return Exit.FAILED
        raise
    if ended is None:
        return Exit.ENDED_EARLY
    if ended.problem:
        print(f"coach: {ended.problem}", file=sys.stderr)
    if ended.journal is not None:
        _tell(ended.journal)
    return EXITS[ended.outcome]


def _tell(journal: Path) -> None:
    """What was given, on stdout, after the screen is gone."""
    from coach.journal.journal import JournalUnreadable, read_journal
    from coach.record.tally import TallyError, tally_of
    from coach.reports.session_text import report_lines

    try:
        print("\n".join(report_lines(tally_of(read_journal(journal).lines))))
    except (JournalUnreadable, TallyError) as error:
        print(f"coach: {error}", file=sys.stderr)
    print(_("Log: {file}").format(file=journal))
