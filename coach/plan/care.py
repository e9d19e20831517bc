"""``[care]``: what the prescriber says about the time before and during a session."""

from typing import Annotated, Literal, get_args

from pydantic import AfterValidator, Field

from coach.body.regions import Side
from coach.plan.fields import FORMAT_2, Table, refuse, whole, words

# What would otherwise be a stop or a question for the vet, and what a prescriber may clear.
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
]
CLEARABLE: tuple[Clearance, ...] = get_args(Clearance)
Reminders = Literal["full", "short", "few"]


def _differ(names: list[Clearance]) -> list[Clearance]:
    if len(set(names)) < len(names):
        raise refuse("each clearance once")
    return names


class Care(Table):
    """``[care]``: nothing stated clears nothing and chooses the reminders by the sessions done.

    Attributes:
        clearances: points of the readiness round that the prescriber has looked at and allows.
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
