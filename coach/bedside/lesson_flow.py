"""The lesson around a rehearsal: the places of the plan before it, three questions after it."""

from dataclasses import dataclass

from coach.bedside.evening import Evening, SessionWish
from coach.bedside.flow import Flow, Key, ask
from coach.bedside.household import read_household
from coach.bedside.lesson_quiz import Teaching
from coach.language import _
from coach.paths import dog_folder, household_file
from coach.plan.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """One lesson with the dog of a plan."""

    teaching: Teaching
    keys: tuple[Key, ...]


def lesson_for(evening: Evening, wish: SessionWish, plan: Plan) -> Lesson | None:
    """The lesson of a rehearsal, or None.

    Unless somebody said so there is one at the first rehearsal with a dog, where somebody is there
    and time runs as it does in a session.
    """
    if not wish.rehearsal or wish.lesson is False:
        return None
    helpers = read_household(household_file()).helpers
    teaching = Teaching(
        folder=dog_folder(plan.dog.name),
        dog=plan.dog.name,
        stamp=evening.stamp,
        by=helpers[0] if len(helpers) == 1 else "",
    )
    if wish.lesson is None and (not evening.attended or wish.speed != 1 or teaching.had()):
        return None
    keys = (
        Key("on", _("SPACE"), _("go on"), vital=True),
        Key("leave", "Q", _("leave the lesson"), vital=True),
    )
    return Lesson(teaching=teaching, keys=keys)


def teach_back(teaching: Teaching) -> Flow[str]:
    """The questions, and the lesson in the diary; "" or why it is not there."""
    yield from ask(teaching.asking(), title=teaching.dog, keep=teaching.keep)
    return teaching.finish()
