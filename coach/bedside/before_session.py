"""Before a session: which dog, is it this one, who treats, and how is the dog doing."""

import tomllib
from collections.abc import Sequence
from pathlib import Path

from coach import paths
from coach.bedside.evening import Evening, NotStarted, SessionWish
from coach.bedside.flow import Flow, Key, ask, show
from coach.bedside.household import Household, helper_name, read_household, write_household
from coach.bedside.interrupted_session import find_unfinished
from coach.bedside.pages import DogPage
from coach.bedside.scoring import Scoring, scored
from coach.language import _, ngettext
from coach.paths import dog_folder, household_file, journal_folder
from coach.plan.files import PlanFile, load_plan
from coach.plan.model import Plan
from coach.plan.problems import PlanProblems
from coach.plan.spots import Spot
from coach.session.household_questions import (
    DOG,
    HELPER,
    NEW,
    SOMEBODY_ELSE,
    name_of_helper,
    which_dog,
    who_treats,
)


def plan_for(evening: Evening, wish: SessionWish) -> Flow[PlanFile]:
    """The plan that is meant: the one given, else that of the dog named or picked.

    Raises NotStarted.
    """
    path = yield from _plan_path(evening, wish)
    try:
        return load_plan(path, today=evening.today())
    except PlanProblems as problems:
        count = len(problems.problems)
        told = ngettext(
            "{count} problem; nothing started", "{count} problems; nothing started", count
        ).format(count=count)
        raise NotStarted(f"{problems}\n{told}", outcome="bad_input", aloud=told) from None


def _plan_path(evening: Evening, wish: SessionWish) -> Flow[Path]:
    if wish.plan is not None:
        return wish.plan
    own = paths.own_plans()
    if wish.dog is not None:
        folder = paths.dog_folder(wish.dog)
        own = [path for path in own if path.parent == folder] or own
    if len(own) == 1:
        return own[0]
    if own and evening.attended:
        answered = yield from ask(which_dog([_dog_in(path) for path in own]))
        if DOG not in answered.answers:
            raise NotStarted(_("nothing started"))
        return own[int(answered.answers[DOG])]
    if own:
        raise NotStarted(
            _("several dogs have a plan; say which: {plans}").format(
                plans=", ".join(str(path) for path in own)
            ),
            outcome="bad_input",
        )
    if wish.rehearsal:
        return paths.demo_plan()
    raise NotStarted(
        _("no plan given, and no dog has one under {folder}").format(
            folder=paths.state_folder() / "dogs"
        ),
        outcome="bad_input",
    )


def _dog_in(path: Path) -> str:
    """The dog's name as its plan has it, else as its folder is called."""
    try:
        return str(tomllib.loads(path.read_text(encoding="utf-8"))["dog"]["name"])[:40]
    except (OSError, ValueError, KeyError, TypeError):
        # What is wrong with the plan is told when it is taken.
        return path.parent.name


def before_session(
    evening: Evening, wish: SessionWish, plan: Plan, spots: Sequence[Spot]
) -> Flow[str]:
    """Ask what is to be asked before this session; who treats, or "". Raises NotStarted."""
    dog = plan.dog.name
    if _cut_off(dog):
        # A dog lies there with half a session: nothing is worth a delay.
        return wish.by
    household = read_household(household_file())
    if household.problem:
        evening.notes.append(household.problem)
    by = wish.by or (household.helpers[0] if len(household.helpers) == 1 else "")
    scoring = Scoring(folder=dog_folder(dog), dog=dog, stamp=evening.stamp, wishes=plan.scores)
    if not evening.attended:
        if scoring.due(evening.today()):
            evening.notes.append(_("The plan asks how {dog} is doing: coach score").format(dog=dog))
        return by
    if wish.dog is None and several_dogs():
        yield from _confirmed(plan, spots)
    if not by:
        by = yield from _helper(evening, household, dog)
    scoring.by = by
    if scoring.due(evening.today()):
        told = yield from scored(scoring)
        evening.notes += [told.problem] if told.problem else []
    return by


def _confirmed(plan: Plan, spots: Sequence[Spot]) -> Flow[None]:
    """Is this the dog, and this its plan? Raises NotStarted."""
    keys = (Key("yes", _("Y"), _("yes, this dog"), vital=True), Key("no", "N", _("no"), vital=True))
    pressed = yield from show(DogPage(plan=plan, spots=tuple(spots), keys=keys))
    if pressed.id != "yes":
        raise NotStarted(_("nothing started"))


def _helper(evening: Evening, household: Household, dog: str) -> Flow[str]:
    """Who treats, or "" when nobody says so."""
    helpers = household.helpers
    said: object = None
    if len(helpers) > 1:
        answered = yield from ask(who_treats(helpers), title=dog)
        said = answered.answers.get(HELPER)
        if said is not None and said != SOMEBODY_ELSE:
            return str(said)
    if said != SOMEBODY_ELSE and (household.asked or helpers):
        return ""
    answered = yield from ask(name_of_helper(helper_name), title=dog)
    by = str(answered.answers.get(NEW, ""))
    try:
        write_household(household_file(), [*helpers, *([by] if by else [])])
    except (OSError, ValueError) as error:
        evening.notes.append(_("The name is not kept: {why}").format(why=error))
    return by


def _cut_off(dog: str) -> bool:
    """Whether a session of ``dog`` waits to be carried on."""
    before = find_unfinished(journal_folder(dog, rehearsal=False))
    return before is not None and before.can_carry_on


def several_dogs() -> bool:
    """Whether this computer knows more than one."""
    return sum(path.is_dir() for path in (paths.state_folder() / "dogs").glob("*")) > 1
