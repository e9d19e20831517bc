"""What the diary of a dog can hold: said by the household, outside the clock of a session. Pure.

Every entry is a frozen model. ``session`` is the name of a session's journal without ``.jsonl``,
``by`` is who said it, or "". A later entry never changes an earlier one: answers are added to
each other (:func:`answers_of`), and a correction points at what it corrects.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictInt,
    ValidationInfo,
    field_serializer,
    field_validator,
)

from coach.plan.fields import refuse, words

Skin = Literal["fine", "warm", "red"]
CorrectionWhat = Literal["wrong_side", "wrong_region", "laser_was_off", "not_this_dog", "note"]
SKINS: tuple[Skin, ...] = get_args(Skin)
CORRECTIONS: tuple[CorrectionWhat, ...] = get_args(CorrectionWhat)

# 0 is the worst and 10 the best that the household can think of (people.md: a plain rating of
# function; activities 0 to 4 after Lascelles et al. 2008, a client-specific measure).
WORST, BEST = 0, 10
HARDEST, EASIEST = 0, 4
FEWEST_ACTIVITIES, MOST_ACTIVITIES = 3, 5
LONGEST_NAME = 40
LONGEST_WORDS = 2000

Session = Annotated[str, words(1, 120)]
By = Annotated[str, words(0, LONGEST_NAME)]
Words = Annotated[str, words(0, LONGEST_WORDS, lines=True)]
Activity = Annotated[str, words(1, LONGEST_NAME)]
ZeroToTen = Annotated[StrictInt, Field(ge=WORST, le=BEST)]
ZeroToFour = Annotated[StrictInt, Field(ge=HARDEST, le=EASIEST)]
Code = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{0,39}$")]
Count = Annotated[StrictInt, Field(ge=0)]


def _number(value: Any) -> Any:
    """Kept as text, so that no digit changes."""
    return Decimal(value) if isinstance(value, str) else value


Total = Annotated[Decimal, BeforeValidator(_number), Field(ge=0, le=1000, allow_inf_nan=False)]


class Entry(BaseModel):
    """Base of all entries. Fields that a newer program may add are left alone."""

    model_config = ConfigDict(frozen=True, extra="ignore")
    kind: ClassVar[str]
    by: By = ""

    def payload(self) -> dict[str, Any]:
        """Its fields as plain JSON values."""
        return self.model_dump(mode="json")


class AfterSession(Entry):
    """How a session ended and what it left behind. None: not answered (yet).

    ``went_wrong``: an accident that was told when the log of the session had been closed.

    ``tolerance_0_10``: 0 the dog did not put up with it at all, 10 it was wholly at ease.
    """

    kind: ClassVar[str] = "after_session"
    session: Session
    stop_reason: Code | None = None
    went_wrong: Code | None = None
    skin: Skin | None = None
    tolerance_0_10: ZeroToTen | None = None
    words: Words = ""


class InstrumentTotal(BaseModel):
    """The total of a questionnaire for which the vet asked; its questions are not ours."""

    model_config = ConfigDict(frozen=True, extra="ignore")
    instrument: Annotated[str, words(1, 80)]
    value: Total

    @field_serializer("value")
    def _as_text(self, value: Decimal) -> str:
        return str(value)


class FunctionScore(Entry):
    """How the dog is doing, said before a session.

    ``score_0_10`` rates function, 10 is best; ``activities`` has 0 (cannot) to 4 (no trouble).
    """

    kind: ClassVar[str] = "function_score"
    score_0_10: ZeroToTen | None = None
    activities: Annotated[Mapping[Activity, ZeroToFour], Field(max_length=MOST_ACTIVITIES)] = {}
    total: InstrumentTotal | None = None


class ActivitiesNamed(Entry):
    """What this dog's household wants to watch."""

    kind: ClassVar[str] = "activities_named"
    activities: Annotated[
        tuple[Activity, ...], Field(min_length=FEWEST_ACTIVITIES, max_length=MOST_ACTIVITIES)
    ]

    @field_validator("activities")
    @classmethod
    def _distinct(cls, activities: tuple[str, ...]) -> tuple[str, ...]:
        if len({name.casefold() for name in activities}) < len(activities):
            raise refuse("activities that differ")
        return activities


class Correction(Entry):
    """Something in the journal of a session was not so. ``line`` and ``spot`` count from 1."""

    kind: ClassVar[str] = "correction"
    session: Session
    line: Annotated[StrictInt, Field(ge=1)] | None = None
    spot: Annotated[StrictInt, Field(ge=1)] | None = None
    what: CorrectionWhat
    text: Words = ""


class LessonDone(Entry):
    """A lesson was gone through; ``right`` of ``of`` questions were answered at the first try."""

    kind: ClassVar[str] = "lesson_done"
    of: Count
    right: Count

    @field_validator("right")
    @classmethod
    def _at_most_all(cls, right: int, info: ValidationInfo) -> int:
        if right > info.data.get("of", right):
            raise refuse("at most as many as there were questions")
        return right


KINDS: Mapping[str, type[Entry]] = {
    entry.kind: entry
    for entry in (AfterSession, FunctionScore, ActivitiesNamed, Correction, LessonDone)
}


def entry_of(kind: str, data: Mapping[str, Any]) -> Entry | None:
    """The entry in a decoded line; None for a kind of a newer program.

    Raises pydantic.ValidationError with everything that is wrong.
    """
    model = KINDS.get(kind)
    return None if model is None else model.model_validate(data)


def answers_of(entries: Iterable[Entry]) -> dict[str, AfterSession]:
    """For each session all that was answered about it: what was said later is added.

    A later answer to the same question takes the place of the earlier one; words are kept all.
    """
    found: dict[str, AfterSession] = {}
    for entry in entries:
        if not isinstance(entry, AfterSession):
            continue
        before = found.get(entry.session)
        if before is None:
            found[entry.session] = entry
            continue
        said = {name: value for name, value in entry if value not in (None, "")}
        said["words"] = "\n".join(filter(None, (before.words, entry.words)))[:LONGEST_WORDS]
        found[entry.session] = before.model_copy(update=said)
    return found


def activities_of(entries: Iterable[Entry]) -> tuple[str, ...]:
    """The activities that were named last, or none."""
    named: tuple[str, ...] = ()
    for entry in entries:
        if isinstance(entry, ActivitiesNamed):
            named = entry.activities
    return named
