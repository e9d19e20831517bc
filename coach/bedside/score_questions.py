"""How the dog is doing, in the owner's own scores: when to ask, what, and what it becomes. Pure.

A plain 0-10 rating of function, and a client-specific measure: three to five activities of this
dog, named by its household, each from 0 to 4 (the method, not the words, of Lascelles et al.
2008). Of a questionnaire that is somebody's property only the total is taken, and only if the vet
asked for it. It is asked before a session and earlier answers stay hidden, because 39.7 % of
owners saw a dog on placebo improve (Conzemius and Evans 2012). Nothing is concluded here.
"""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation

from coach.journal.diary_entries import (
    BEST,
    FEWEST_ACTIVITIES,
    LONGEST_NAME,
    MOST_ACTIVITIES,
    WORST,
    ActivitiesNamed,
    Entry,
    FunctionScore,
    InstrumentTotal,
)
from coach.language import _
from coach.session.questions import Answer, Asking, Choice, Question, scale

HIGHEST_TOTAL = 1000
FUNCTION, TOTAL = "function", "total"


def score_due(
    said: Iterable[tuple[datetime.date, Entry]], *, every_days: int | None, today: datetime.date
) -> bool:
    """Whether the rhythm asks for a score today. A clock that went back is asked rather than not.

    ``said`` are the entries of the diary with their local dates; None asks for no rhythm.
    """
    if every_days is None:
        return False
    days = [day for day, entry in said if isinstance(entry, FunctionScore)]
    if not days:
        return True
    return not 0 <= (today - days[-1]).days < every_days


def score_questions(dog: str, *, activities: Sequence[str], instrument: str) -> Asking:
    """The round of scores."""
    questions = [
        Question(
            id=FUNCTION,
            text=_("How well does {dog} get about these days?").format(dog=dog),
            help=(
                _("Think of the last seven days."),
                _("0: not at all. 10: as well as you can think of."),
            ),
            choices=scale(WORST, BEST),
        )
    ]
    questions += [
        Question(
            id=activity_id(number),
            text=_("{activity}: how well does it go?").format(activity=activity),
            help=(_("Think of the last seven days."),),
            choices=(
                Choice(key="0", value=0, text=_("not at all")),
                Choice(key="1", value=1, text=_("with great trouble")),
                Choice(key="2", value=2, text=_("with some trouble")),
                Choice(key="3", value=3, text=_("nearly with ease")),
                Choice(key="4", value=4, text=_("with ease")),
            ),
        )
        for number, activity in enumerate(activities)
    ]
    if instrument:
        questions.append(
            Question(
                id=TOTAL,
                text=_("What is the total of this form: {form}?").format(form=instrument),
                help=(_("Your vet asks for it. Fill in the form on paper first."),),
                typed=total_of,
            )
        )
    return Asking(questions=tuple(questions))


def activity_id(number: int) -> str:
    """The id of the question about activity ``number`` (from 0)."""
    return f"activity_{number}"


def score_entry(
    answers: Mapping[str, Answer], *, activities: Sequence[str], instrument: str, by: str = ""
) -> FunctionScore | None:
    """What the answers of a round become; None when nothing was answered."""
    if not answers:
        return None
    total = answers.get(TOTAL)
    return FunctionScore.model_validate(
        {
            "score_0_10": answers.get(FUNCTION),
            "activities": {
                activity: answers[activity_id(number)]
                for number, activity in enumerate(activities)
                if activity_id(number) in answers
            },
            "total": None
            if total is None
            else InstrumentTotal(instrument=instrument, value=Decimal(total)),
            "by": by,
        }
    )


def naming_questions(dog: str) -> Asking:
    """Asked once: what this household wants to watch."""
    texts = (
        _("What would you like to see {dog} do with ease again?"),
        _("What else would you like to see {dog} do with ease again?"),
    )
    return Asking(
        questions=tuple(
            Question(
                id=activity_id(number),
                text=texts[min(number, 1)].format(dog=dog),
                help=(
                    _(
                        "Name {fewest} to {most} things, one by one. This is number {number}."
                    ).format(fewest=FEWEST_ACTIVITIES, most=MOST_ACTIVITIES, number=number + 1),
                    _("A few words each, such as: climb the stairs."),
                ),
                typed=activity_of,
            )
            for number in range(MOST_ACTIVITIES)
        )
    )


def named(answers: Mapping[str, Answer], *, by: str = "") -> ActivitiesNamed | None:
    """What the answers to :func:`naming_questions` become; None when there are too few."""
    names: dict[str, str] = {}
    for answer in answers.values():
        names.setdefault(str(answer).casefold(), str(answer))
    if len(names) < FEWEST_ACTIVITIES:
        return None
    return ActivitiesNamed(activities=tuple(names.values()), by=by)


def activity_of(text: str) -> str:
    """An activity as it was typed. Raises ValueError with a sentence."""
    words = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if not words or len(words) > LONGEST_NAME:
        raise ValueError(_("Use a few words: at most {most} letters.").format(most=LONGEST_NAME))
    return words


def total_of(text: str) -> str:
    """The total of a questionnaire as it was typed. Raises ValueError with a sentence."""
    try:
        number = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        number = Decimal(-1)
    if not (number.is_finite() and 0 <= number <= HIGHEST_TOTAL):
        raise ValueError(
            _('I found "{found}". It can be a number from 0 to {most}.').format(
                found=text.strip()[:40], most=HIGHEST_TOTAL
            )
        )
    return str(number)
