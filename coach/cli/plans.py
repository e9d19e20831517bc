"""Finding and loading the plan that a command speaks of."""

import sys
from pathlib import Path

from coach.appliance.clock import today
from coach.language import _
from coach.plan.files import PlanFile, load_plan
from coach.plan.problems import PlanProblems


def choose(given: Path | None, *, demo: bool) -> Path | str:
    """The plan to use, or a sentence that says why there is none."""
    from coach import paths

    if given is not None:
        return given
    own = paths.own_plans()
    if len(own) == 1:
        return own[0]
    if own:
        return _("several dogs have a plan; say which: {plans}").format(
            plans=", ".join(str(path) for path in own)
        )
    if demo:
        return paths.demo_plan()
    return _("no plan given, and no dog has one under {folder}").format(
        folder=paths.state_folder() / "dogs"
    )


def load(given: Path | None, *, demo: bool = False) -> PlanFile | None:
    """The plan, or None after its problems have been printed."""
    path = choose(given, demo=demo)
    if isinstance(path, str):
        print(f"coach: {path}", file=sys.stderr)
        return None
    try:
        return load_plan(path, today=today())
    except PlanProblems as problems:
        print(problems, file=sys.stderr)
        number = len(problems.problems)
        print(f"coach: {number} problem{'s' * (number > 1)}; nothing started", file=sys.stderr)
        return None
