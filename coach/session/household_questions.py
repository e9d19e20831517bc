"""Who is by the dog bed: which dog, and who treats. Rounds of one question each. Pure."""

from collections.abc import Callable, Sequence

from coach.language import _
from coach.session.questions import Answer, Asking, Question, numbered

DOG, HELPER, NEW = "dog", "helper", "new_helper"
SOMEBODY_ELSE = ""


def which_dog(names: Sequence[str]) -> Asking:
    """Which of up to nine dogs this is; the answer is its place in ``names``, from 0."""
    choices: list[tuple[Answer, str]] = list(enumerate(names))
    question = Question(
        id=DOG, text=_("Which dog is in front of you?"), choices=numbered(*choices[:9])
    )
    return Asking(questions=(question,))


def who_treats(helpers: Sequence[str]) -> Asking:
    """Which of up to eight helpers treats today; ``SOMEBODY_ELSE`` for none of them."""
    choices: list[tuple[Answer, str]] = [(name, name) for name in helpers[:8]]
    choices.append((SOMEBODY_ELSE, _("somebody else")))
    question = Question(
        id=HELPER,
        text=_("Who treats today?"),
        help=(_("It is written in the log."),),
        choices=numbered(*choices),
    )
    return Asking(questions=(question,))


def name_of_helper(name_of: Callable[[str], str]) -> Asking:
    """The name of somebody new. ``name_of`` makes it of what was typed, or raises ValueError."""

    def typed(text: str) -> str:
        try:
            return name_of(text)
        except ValueError:
            raise ValueError(_("Use a short name.")) from None

    question = Question(
        id=NEW,
        text=_("Who treats? What is your name?"),
        help=(
            _("It is written in the log, so that the vet knows who to ask."),
            _("You are asked once. You may leave it out."),
        ),
        typed=typed,
    )
    return Asking(questions=(question,))
