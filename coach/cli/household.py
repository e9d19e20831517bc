"""``coach household``: the dogs that live here, and who treats them."""

import argparse
import sys

from coach.cli.exits import Exit
from coach.language import _


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "household",
        help="the dogs that live here, and who treats them",
        description="Show the dogs that this computer knows and the names of those who treat "
        "them, and change the names. Logs keep the names that were written in them.",
    )
    command.add_argument(
        "--add", action="append", default=[], metavar="NAME", help="one who treats"
    )
    command.add_argument(
        "--remove", action="append", default=[], metavar="NAME", help="one who treats no more"
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Change what is to be changed, then show."""
    from coach.bedside.household import MOST_HELPERS, helper_name, read_household, write_household
    from coach.paths import household_file

    household = read_household(household_file())
    if household.problem:
        return _refused([household.problem])
    names = {name.casefold(): name for name in household.helpers}
    problems = []
    for name in args.add:
        try:
            names.setdefault(helper_name(name).casefold(), helper_name(name))
        except ValueError as error:
            problems.append(f"--add: found {name!r}; allowed: {error}")
    for name in args.remove:
        if names.pop(name.strip().casefold(), None) is None:
            known = ", ".join(names.values()) or "none"
            problems.append(f"--remove: found {name!r}; allowed: one of {known}")
    if len(names) > MOST_HELPERS:
        problems.append(f"found {len(names)} names; allowed: at most {MOST_HELPERS}")
    if problems:
        return _refused(problems)
    if args.add or args.remove:
        try:
            write_household(household_file(), list(names.values()))
        except OSError as error:
            print(f"coach: the names cannot be kept: {error}", file=sys.stderr)
            return Exit.NOT_WRITTEN
    _show(list(names.values()))
    return Exit.DONE


def _show(helpers: list[str]) -> None:
    from coach.bedside.dogs import known_dogs
    from coach.journal.journal import journal_files
    from coach.paths import own_plans

    dogs = known_dogs()
    unknown = [path for path in own_plans() if path.parent not in {dog.folder for dog in dogs}]
    print(_("Dogs:") if dogs or unknown else _("Dogs: none yet"))
    for dog in dogs:
        plan = _("no plan that can be used")
        if dog.plan is not None:
            plan = _("plan {plan}").format(plan=dog.plan.about.id)
        line = _("{dog}: {plan}, {count} logs, in {folder}").format(
            dog=dog.name, plan=plan, count=len(journal_files(dog.journals)), folder=dog.folder
        )
        print(f"  {line}")
    for path in unknown:
        line = _("{dog}: its plan cannot be used; see coach check {file}").format(
            dog=path.parent.name, file=path
        )
        print(f"  {line}")
    names = ", ".join(helpers) or _("nobody is named yet")
    print(_("Who treats: {names}").format(names=names))


def _refused(problems: list[str]) -> int:
    print("\n".join(f"coach: {problem}" for problem in problems), file=sys.stderr)
    return Exit.BAD_INPUT
