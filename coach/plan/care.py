"""``[care]``: what the prescriber says about the time before and during a session."""

from typing import Annotated, Literal, get_args

from pydantic import AfterValidator, Field

from coach.body.regions import Side
from coach.plan.fields import FORMAT_2, Table, refuse, whole, words

# What plans may name. Only standing facts are cleared by it; the others stand in old plans.
Clearance = Literal[
    "lump",
    "pregnancy",
    "wound",
    "fever",
    "bleeding",
    "medicine",
    "worse",
    "heat_sensitive",
    "epilepsy",
    "young",
    "thyroid",
    "implant",
    "blood",
]
# Standing facts, true for months, which would otherwise be a stop or a question for the vet: a
# prescriber has looked at them and allows them.
STANDING: frozenset[Clearance] = frozenset(
    {"implant", "epilepsy", "blood", "heat_sensitive", "pregnancy", "young", "thyroid"}
)
CLEARABLE: tuple[Clearance, ...] = tuple(name for name in get_args(Clearance) if name in STANDING)
Reminders = Literal["full", "short", "few"]


def _differ(names: list[Clearance]) -> list[Clearance]:
    if len(set(names)) < len(names):
        raise refuse("each clearance once")
    return names


class Care(Table):
    """``[care]``: nothing stated clears nothing and chooses the reminders by the sessions done.

    Attributes:
        clearances: standing facts that the prescriber has looked at and allows. News (a wound, a
            fever) in an old plan clears nothing: it has not happened yet.
        dog_lies: where the dog lies, in the prescriber's words.
        owner_sits: the dog's side at which the owner sits while it stands or lies on its chest.
        touch_seconds: for stroking the dog before the first spot, laser off; never counted.
        touch_words: how to, in the prescriber's words.
        reminders: how much is said about technique, whatever the practice.
    """

    clearances: Annotated[list[Clearance], Field(max_length=20), AfterValidator(_differ)] = Field(
        default=[], examples=[["implant"]]
    )
    dog_lies: Annotated[str, words(0, 60)] = ""
    owner_sits: Side | None = None
    reminders: Reminders | None = None
    touch_seconds: Annotated[int | None, whole(5, 300, "s")] = Field(
        default=None, examples=[30], json_schema_extra=FORMAT_2
    )
    touch_words: Annotated[str, words(0, 200)] = Field(
        default="",
        examples=["Stroke the neck slowly with a flat hand."],
        json_schema_extra=FORMAT_2,
    )

    @property
    def cleared(self) -> tuple[Clearance, ...]:
        """The standing facts that are not asked about."""
        return tuple(name for name in self.clearances if name in STANDING)

    @property
    def news_cleared(self) -> tuple[Clearance, ...]:
        """What an old plan clears in advance although it cannot: it is asked all the same."""
        return tuple(name for name in self.clearances if name not in STANDING)
