"""``coach score``: how the dog is doing, in the owner's own scores."""

import argparse
import sys
import time
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.bedside.scoring import Scoring
    from coach.journal.diary_entries import Entry


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "score",
        help="say how the dog is doing: a 0-10 rating and three to five activities",
        description="Rate how the dog is doing, best before a session. Earlier answers stay "
        "hidden and nothing is concluded. A plan can ask for it by its table [scores]. Without "
        "scores on the command line it asks, one key each.",
        epilog="examples: coach score; coach score --name 'the stairs' 'the sofa' 'a long walk'; "
        "coach score Juniper --function 6 --activity 'the stairs=2'",
    )
    command.add_argument("dog", nargs="?", metavar="DOG|PLAN", help="default: the only dog")
    command.add_argument("--function", metavar="N", help="0 not at all, to 10 as well as can be")
    command.add_argument(
        "--activity",
        action="append",
        default=[],
        metavar="NAME=N",
        help="0 not at all, to 4 with ease; once for each",
    )
    command.add_argument(
        "--total", metavar="N", help="total of the form that the plan names under [scores]"
    )
    command.add_argument(
        "--name", nargs="+", metavar="NAME", help="name the three to five activities to watch"
    )
    command.add_argument("--by", default="", metavar="NAME", help="who says so")
    command.add_argument("--plain", action="store_true", help="line by line")
    command.add_argument("--silent", action="store_true", help="no voice")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Ask, or keep what was said."""
    from coach.appliance.clock import stamper
    from coach.bedside.dogs import NoSuchDog, dog_home
    from coach.bedside.scoring import Scoring
    from coach.cli.running import by_problem
    from coach.plan.model import Scores

    try:
        home = dog_home(args.dog)
    except NoSuchDog as error:
        return _refused([str(error)])
    scoring = Scoring(
        folder=home.folder,
        dog=home.name,
        stamp=stamper(time.monotonic_ns),
        wishes=home.plan.scores if home.plan else Scores(),
        by=args.by,
    )
    said = args.name or args.activity or args.function is not None or args.total is not None
    if said or by_problem(args.by):
        return _keep(scoring, args)
    return _ask(scoring, args)


def _ask(scoring: "Scoring", args: argparse.Namespace) -> int:
    from coach.bedside.evening import Evening
    from coach.bedside.flow import Flow
    from coach.bedside.scoring import Told, scored
    from coach.cli.running import run_flow

    def flow(_evening: Evening) -> Flow[Told]:
        return (yield from scored(scoring))

    told = run_flow(flow, args) or Told()
    print("\n".join(told.lines()), file=sys.stderr if told.problem else sys.stdout)
    return Exit.NOT_WRITTEN if told.problem else Exit.DONE


def _keep(scoring: "Scoring", args: argparse.Namespace) -> int:
    from pydantic import ValidationError

    from coach.bedside.score_questions import activity_of, total_of
    from coach.cli.running import by_problem
    from coach.journal.diary_entries import ActivitiesNamed, FunctionScore

    problems = by_problem(args.by)
    entries: list[Entry] = []
    activities = scoring.activities
    if args.name:
        try:
            names = ActivitiesNamed(activities=tuple(map(activity_of, args.name)))
        except (ValidationError, ValueError):
            problems.append(f"--name: found {args.name}; allowed: three to five that differ")
        else:
            entries.append(names.model_copy(update={"by": args.by}))
            activities = names.activities
    said: dict[str, object] = {"by": args.by}
    if args.function is not None:
        if args.function.isdecimal() and int(args.function) <= 10:
            said["score_0_10"] = int(args.function)
        else:
            problems.append(
                f"--function: found {args.function!r}; allowed: a whole number, 0 to 10"
            )
    marks: dict[str, int] = {}
    for pair in args.activity:
        name, _equals, mark = pair.rpartition("=")
        known = {activity.casefold(): activity for activity in activities}
        if name.strip().casefold() not in known or mark.strip() not in {"0", "1", "2", "3", "4"}:
            allowed = ", ".join(activities) or "none named yet, see --name"
            problems.append(f"--activity: found {pair!r}; allowed: NAME=0 to 4 of {allowed}")
        else:
            marks[known[name.strip().casefold()]] = int(mark)
    if marks:
        said["activities"] = marks
    if args.total is not None:
        instrument = scoring.wishes.instrument
        try:
            value = total_of(args.total)
        except ValueError:
            problems.append(f"--total: found {args.total!r}; allowed: a number, 0 to 1000")
        else:
            said["total"] = {"instrument": instrument, "value": value}
            if not instrument:
                problems.append(
                    "--total: found a total; allowed: only where the plan names an instrument"
                )
    if len(said) > 1 and not problems:
        entries.append(FunctionScore.model_validate(said))
    if problems:
        return _refused(problems)
    for entry in entries:
        refusal = scoring.write(entry)
        if refusal:
            print(f"coach: {refusal}", file=sys.stderr)
            return Exit.NOT_WRITTEN
    from coach.language import _

    print(_("Written down."))
    return Exit.DONE


def _refused(problems: list[str]) -> int:
    print("\n".join(f"coach: {problem}" for problem in problems), file=sys.stderr)
    return Exit.BAD_INPUT
