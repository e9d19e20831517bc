"""``coach draft``: from the prescriber's answers to a plan, or to the next revision of one."""

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from coach.cli.exits import Exit
from coach.plan.draft_questions import QUESTIONS, Refused

if TYPE_CHECKING:
    import datetime

    from coach.cli.interview import Interview
    from coach.plan.draft import Draft
    from coach.plan.model import Plan

T = TypeVar("T")

DESCRIPTION = """\
For the prescriber: write a plan, or the next revision of one. Asks on the terminal for what
is not given by an option, shows spots, time and dose as it goes, and writes a new file: the
plan before it stays as it is. It asks for numbers and never proposes a dose. The prescriber
decides."""

EPILOG = """\
regions, one option each, in the order of the session:
  --region REGION:SIDES:SPOTS:DOSE[:NOTE]          spine and neck
  --region REGION:SIDES:FACES:SPOTS:DOSE[:NOTE]    joints
  SPOTS on each side and face: a number, or by the dog's measures tape/maxN or
  tape/Xcm/maxN, at most N. DOSE of each spot with its unit: s, J or J/cm2.
  `coach regions` lists regions, sides and faces.

a head with several sources, one option each instead of wavelength and power:
  --laser-source NM:MW                             mean power
  --laser-source NM:PEAKMW/DUTY                    pulsed, by the duty cycle, 0 to 1
  --laser-source NM:PEAKMW/WIDTHus/FREQUENCYHz     pulsed, by width and frequency
"""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "draft",
        help="for the prescriber: write a plan, or its next revision",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument(
        "plan", type=Path, nargs="?", metavar="PLAN", help="a plan, for its next revision"
    )
    command.add_argument("--out", type=Path, metavar="FILE", help="file to write (a new one)")
    command.add_argument("--replace", action="store_true", help="FILE may be there already")
    for question in QUESTIONS:
        command.add_argument(question.flag, metavar="...", dest=question.place, help=question.ask)
    command.add_argument(
        "--laser-source",
        action="append",
        metavar="NM:...",
        help="a source of a head with several, see below; replaces those of PLAN",
    )
    command.add_argument(
        "--settle", metavar="...", help="opening at the top of the neck: seconds a side, or none"
    )
    command.add_argument(
        "--course",
        action="append",
        metavar="NAME:TIMESxWEEKS",
        help="a phase of the course; may be given several times",
    )
    command.add_argument(
        "--region",
        action="append",
        metavar="REGION:...",
        help="a region, see below; may be given several times; replaces those of PLAN",
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Draft a plan, or tell everything that is wrong with the options."""
    from coach.appliance.clock import today

    try:
        return _run(args, today())
    except (EOFError, KeyboardInterrupt):
        print("\ncoach draft: given up; nothing written", file=sys.stderr)
        return Exit.BAD_INPUT


def _run(args: argparse.Namespace, today: "datetime.date") -> int:
    from coach.cli.interview import Interview
    from coach.plan.draft import empty, next_revision

    before = None
    draft = empty()
    if args.plan is not None:
        before = _plan_before(args.plan, today)
        if before is None:
            return Exit.BAD_INPUT
        draft = next_revision(before, today=today)
    given = _take_options(draft, args)
    terminal = sys.stdin.isatty() and sys.stdout.isatty()
    problems = given.problems + _problems(draft, given, today, missing=not terminal)
    if problems:
        print("\n".join(f"coach draft: {problem}" for problem in problems), file=sys.stderr)
        print("coach draft: nothing written", file=sys.stderr)
        return Exit.BAD_INPUT
    interview = Interview(draft, today=today)
    if terminal and not given.labels:
        interview.ask_everything()
    elif terminal:
        interview.ask_what_is_missing()
    return _finish(args, draft, today, interview if terminal else None)


@dataclass
class _Given:
    """What the options said: their labels, which of them are wrong, and why."""

    labels: set[str] = field(default_factory=set)
    wrong: set[str] = field(default_factory=set)
    problems: list[str] = field(default_factory=list)

    def take(self, label: str, read: Callable[[str], T], answer: str) -> T | None:
        """What ``answer`` means, or None when it cannot be used."""
        self.labels.add(label)
        try:
            return read(answer.strip())
        except Refused as refused:
            self.wrong.add(label)
            self.problems += [f"{label}: {reason}" for reason in refused.reasons]
            return None


def _plan_before(path: Path, today: "datetime.date") -> "Plan | None":
    """The plan to go on from, also one that has run out; None after its problems were told."""
    from coach.handover.kept import load_kept
    from coach.plan.problems import PlanProblems

    try:
        return load_kept(path, today=today).plan
    except PlanProblems as problems:
        print(f"{problems}\ncoach draft: nothing written", file=sys.stderr)
        return None


def _take_options(draft: "Draft", args: argparse.Namespace) -> _Given:
    """Put what the options say into ``draft``."""
    from coach.plan.draft import (
        forget_one_source,
        put,
        read_course,
        read_region,
        read_settle,
        read_source,
        says_of_one_source,
    )

    given = _Given()
    if args.laser_source is not None:
        forget_one_source(draft)
    for question in QUESTIONS:
        answer = getattr(args, question.place)
        if answer is not None and says_of_one_source(question):
            # Said anew of one source: those of the plan before are meant no more.
            draft["laser"].pop("emitter", None)
        if answer is not None:
            put(draft, question, given.take(question.flag, question.read, answer))
    if args.settle is not None:
        settle = given.take("--settle", read_settle, args.settle)
        if settle is not None:
            draft["settle"] = settle
    for table, name, read, answers in (
        (draft["laser"], "emitter", read_source, args.laser_source),
        (draft, "course", read_course, args.course),
        (draft, "regions", read_region, args.region),
    ):
        if answers is None:
            continue
        option = _OPTIONS[name]
        tables = [
            given.take(f"{option} {number}", read, answer)
            for number, answer in enumerate(answers, start=1)
        ]
        # An empty table keeps the numbering; what is wrong with it has been told.
        table[name] = [one or {} for one in tables]
    return given


POWER_ALLOWED = (
    "the mean power, or --laser-peak-power-mw with --laser-duty-cycle, or with "
    "--laser-pulse-width-us and --laser-frequency-hz"
)
_OPTIONS = {
    "emitter": "--laser-source",
    "course": "--course",
    "regions": "--region",
    "settle": "--settle",
}


def _problems(draft: "Draft", given: _Given, today: "datetime.date", *, missing: bool) -> list[str]:
    """What is wrong with ``draft`` as far as it goes; ``missing``: also what it lacks."""
    from coach.plan.draft import (
        NOTHING,
        REGION_ALLOWED,
        SETTLE_ALLOWED,
        asks_settle,
        lacks,
        problem_text,
        problems_in,
    )

    told: list[str] = []
    known = {question.place: question.flag for question in QUESTIONS}
    lacking = {q.flag: q.ask for q in QUESTIONS if lacks(draft, q)}
    if asks_settle(draft):
        lacking["--settle"] = SETTLE_ALLOWED
    if not draft["regions"]:
        lacking["--region"] = REGION_ALLOWED
    if not {"mean_power_mw", "pulsed", "emitter"} & draft["laser"].keys():
        lacking["--laser-mean-power-mw"] = POWER_ALLOWED
    if missing:
        told += [
            f"{flag}: {NOTHING} found; allowed: {ask}"
            for flag, ask in lacking.items()
            if flag not in given.wrong
        ]
    for problem in problems_in(draft, today=today):
        label = known.get(problem.field.partition("[")[0]) or _label(problem.field)
        option = " ".join(label.split()[:2])
        if option in given.wrong or label in lacking or label == "--region":
            continue
        if problem.found == NOTHING and not missing:
            continue
        told.append(f"{label}: {problem_text(problem)}")
    return told


def _label(place: str) -> str:
    """``regions[2].sides[1]`` as ``--region 2 sides``."""
    table, _, rest = place.removeprefix("laser.").partition("[")
    if table not in _OPTIONS:
        return _OPTIONS.get(place.partition(".")[0], place)
    number, _, field_name = rest.partition("].")
    return f"{_OPTIONS[table]} {number.rstrip(']')} {field_name.partition('[')[0]}".strip()


def _finish(
    args: argparse.Namespace,
    draft: "Draft",
    today: "datetime.date",
    interview: "Interview | None",
) -> int:
    """Show what the plan means, and write it."""
    import hashlib

    from coach.plan.draft import to_plan
    from coach.plan.files import PlanFile, PlanThere, save_plan
    from coach.plan.phase_findings import all_findings
    from coach.plan.spots import spots_of
    from coach.plan.summary_text import summary_lines
    from coach.plan.write import write_plan

    plan = to_plan(draft, today=today)
    text = write_plan(plan)
    about = plan.about
    folder = args.plan.parent if args.plan else Path()
    path = args.out or folder / f"{about.id}-r{about.revision}.toml"
    replace = args.replace
    spots = spots_of(plan)
    digest = hashlib.sha256(text.encode()).hexdigest()
    shown = PlanFile(path=path, plan=plan, digest=digest)
    print("\n".join(summary_lines(shown, spots, all_findings(plan, today=today))))
    if interview is not None:
        path, replace = interview.ask_where(path, replace=replace, never=args.plan)
    if args.plan is not None and path.exists() and path.samefile(args.plan):
        print(
            f"coach draft: --out: {path} found; allowed: another file than PLAN, which "
            "stays as it is; nothing written",
            file=sys.stderr,
        )
        return Exit.BAD_INPUT
    try:
        save_plan(path, text, replace=replace)
    except PlanThere:
        print(
            f"coach draft: --out: {path} is there already; allowed: a new file, or --replace; "
            "nothing written",
            file=sys.stderr,
        )
        return Exit.BAD_INPUT
    except OSError as error:
        print(
            f"coach draft: --out: {path} cannot be written: {error.strerror}; nothing written",
            file=sys.stderr,
        )
        return Exit.BAD_INPUT
    print(f"\nWritten: {path}")
    print(f"Next: coach rehearse {path}   goes through it with the laser off")
    return Exit.DONE
