"""``coach after``: say how a session went, later than at its end."""

import argparse
import sys
import time
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.bedside.after_session import SessionAfter
    from coach.bedside.dogs import DogHome
    from coach.session.questions import Answer

OPTIONS = {
    "stop_reason": "--why",
    "skin": "--skin",
    "tolerance_0_10": "--tolerance",
    "words": "--words",
}


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "after",
        help="say how the last session went: skin, tolerance, a line for the vet",
        description="Answer the questions about a session later than at its end. Without answers "
        "on the command line it asks, one key each; whatever is not answered stays open.",
        epilog="examples: coach after; coach after Juniper --skin fine --tolerance 8",
    )
    command.add_argument("dog", nargs="?", metavar="DOG|PLAN", help="default: the only dog")
    command.add_argument(
        "--session", type=int, metavar="N", help="number of the session (default: the last one)"
    )
    command.add_argument("--skin", metavar="SKIN", help="fine, warm or red")
    command.add_argument(
        "--tolerance", dest="tolerance_0_10", metavar="N", help="0 not at all, to 10 at ease"
    )
    command.add_argument("--words", metavar="TEXT", help="a line in your own words")
    command.add_argument("--why", dest="stop_reason", metavar="REASON", help="why it was stopped")
    command.add_argument("--by", default="", metavar="NAME", help="who says so")
    command.add_argument("--plain", action="store_true", help="line by line")
    command.add_argument("--silent", action="store_true", help="no voice")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Ask, or keep what was said."""
    from coach.bedside.dogs import NoSuchDog, dog_home
    from coach.cli.running import by_problem
    from coach.journal.disk import held_by

    try:
        home = dog_home(args.dog)
    except NoSuchDog as error:
        return _refused(str(error))
    holder = held_by(home.journals) if home.journals.is_dir() else None
    if holder is not None:
        from coach.language import _

        running = _("another session of {dog} is running: {who}")
        print("coach: " + running.format(dog=home.name, who=holder), file=sys.stderr)
        return Exit.BUSY
    session = _session(home, args)
    if isinstance(session, str):
        return _refused(session)
    said = {name: getattr(args, name) for name in OPTIONS if getattr(args, name) is not None}
    if said or by_problem(args.by):
        return _keep(session, said)
    return _ask(session, args)


def _session(home: "DogHome", args: argparse.Namespace) -> "SessionAfter | str":
    """The session that is meant, or a sentence that says why there is none."""
    from coach.appliance.clock import stamper
    from coach.bedside.after_session import SessionAfter
    from coach.journal.journal import journal_files, number_of
    from coach.paths import summary_folder

    files = {number_of(path): path for path in journal_files(home.journals)}
    if not files:
        return f"no session is logged in {home.journals}"
    wanted = sorted(files, reverse=True) if args.session is None else [args.session]
    if args.session is not None and args.session not in files:
        return f"--session: found {args.session}; allowed: {min(files)} to {max(files)}"
    stamps = stamper(time.monotonic_ns)
    for number in wanted:
        session = SessionAfter(
            folder=home.folder,
            dog=home.name,
            journal=files[number],
            stamp=stamps,
            plan=home.plan,
            by=args.by,
            kept=summary_folder(home.name),
        )
        if session.began():
            return session
    if args.session is None:
        return f"no session of {home.name} has begun yet"
    return f"--session: found {args.session}, in which nothing began; allowed: one that began"


def _keep(session: "SessionAfter", said: dict[str, str]) -> int:
    from pydantic import ValidationError

    from coach.cli.running import by_problem
    from coach.journal.diary_entries import BEST, SKINS, WORST, AfterSession
    from coach.record.after_questions import STOP_REASONS, line_of_words

    answers: dict[str, Answer] = {}
    problems = []
    allowed = {
        "stop_reason": ", ".join(STOP_REASONS),
        "skin": ", ".join(SKINS),
        "tolerance_0_10": f"a whole number, {WORST} to {BEST}",
        "words": "some words",
    }
    for name, text in said.items():
        value: Answer = text
        try:
            if name == "words":
                value = line_of_words(text)
            elif name == "stop_reason" and text not in STOP_REASONS:
                raise ValueError(text)
            elif name == "tolerance_0_10" and text.isdecimal():
                value = int(text)
            AfterSession.model_validate({"session": session.session, name: value})
        except (ValidationError, ValueError):
            problems.append(f"{OPTIONS[name]}: found {text!r}; allowed: {allowed[name]}")
            continue
        answers[name] = value
    if "stop_reason" in answers and not session.unsaid():
        problems.append("--why: found a reason; allowed: only for a session that was stopped")
    problems += by_problem(session.by)
    if problems:
        return _refused("\ncoach: ".join(problems))
    for question, answer in answers.items():
        refusal = session.keep(question, answer)
        if refusal:
            print(f"coach: {refusal}", file=sys.stderr)
            return Exit.NOT_WRITTEN
    _close(session)
    return Exit.DONE


def _ask(session: "SessionAfter", args: argparse.Namespace) -> int:
    from coach.bedside.evening import Evening
    from coach.bedside.flow import Flow
    from coach.cli.running import on_a_screen, run_flow
    from coach.language import _

    def flow(_evening: Evening) -> Flow[None]:
        yield from answered_later(session)

    from coach.bedside.after_session import answered_later

    if session.asking().over:
        print(_("All is answered already for this session."))
        _close(session)
        return Exit.DONE
    run_flow(flow, args)
    if not on_a_screen(plain=args.plain):
        _close(session)
    return Exit.DONE


def _close(session: "SessionAfter") -> None:
    print("\n".join((f"{session.dog}: {session.session}", *session.closing())))


def _refused(why: str) -> int:
    print(f"coach: {why}", file=sys.stderr)
    return Exit.BAD_INPUT
