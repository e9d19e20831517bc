"""``[patient]``, ``[reason]``, ``[recheck]``: who is treated, why, and when it is looked at again.

Format 2. All of it is for the record and for the prescriber: nothing here is asked of the owner.
Pure.
"""

import datetime
import re
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field

from coach.plan.fields import Note, Table, refuse, whole, words

Sex = Literal["female", "female neutered", "male", "male neutered"]
Coat = Literal["short", "long", "clipped"]
CoatColour = Literal["dark", "light"]
StopSign = Literal["red skin", "warm skin", "stopped for the dog"]
STOP_SIGNS: tuple[StopSign, ...] = get_args(StopSign)
StopThen = Literal["stop and call", "call"]

_Short = Annotated[str, words(0, 80)]


class Patient(Table):
    """``[patient]``: the dog and its owner as the practice knows them."""

    number: _Short = Field(default="", examples=["P-20417"])
    chip: Annotated[str, words(0, 40)] = Field(default="", examples=["276098100000001"])
    breed: _Short = Field(default="", examples=["dachshund"])
    sex: Sex | None = Field(default=None, examples=["female neutered"])
    born: datetime.date | None = Field(default=None, examples=[datetime.date(2018, 5, 1)])
    coat: Coat | None = Field(default=None, examples=["short"])
    coat_colour: CoatColour | None = Field(default=None, examples=["dark"])
    owner_name: _Short = Field(default="", examples=["Robin Muster"])
    owner_phone: Annotated[str, words(0, 40)] = Field(default="", examples=["+49 30 000000"])


class Reason(Table):
    """``[reason]``: why the laser is ordered, and what was agreed with the owner."""

    problem: Note = Field(default="", examples=["stiff after lying"])
    goal: Note = Field(default="", examples=["ten steps without a stumble"])
    precautions: Note = Field(default="", examples=["dark coat: feel the skin after each spot"])
    consent_by: _Short = Field(default="", examples=["Robin Muster"])
    consent_on: datetime.date | None = Field(default=None, examples=[datetime.date(2026, 11, 20)])
    instructions_by: _Short = Field(default="", examples=["Dr. Ada Muster"])
    instructions_on: datetime.date | None = Field(
        default=None, examples=[datetime.date(2026, 11, 20)]
    )


class StopRule(Table):
    """``[[recheck.stop]]``: a sign, so many times, and what is to be done then.

    ``within_days`` counts back from today; without it, from the start of the plan.
    """

    sign: StopSign = Field(examples=["red skin"])
    times: Annotated[int, whole(1, 20)] = 1
    within_days: Annotated[int | None, whole(1, 365, "days")] = None
    then: StopThen = "stop and call"


class Recheck(Table):
    """``[recheck]``: the next visit, on a date or after so many sessions, and the stop rules."""

    on: datetime.date | None = Field(default=None, examples=[datetime.date(2026, 12, 18)])
    after_sessions: Annotated[int | None, whole(1, 200)] = Field(default=None, examples=[6])
    note: Note = Field(default="", examples=["bring the dog hungry"])
    stop: Annotated[list[StopRule], Field(max_length=10)] = Field(default=[])


def _sha256(value: Any) -> str:
    if not isinstance(value, str) or not re.fullmatch("[0-9a-f]{64}", value):
        raise refuse("the SHA-256 of the file, 64 hex digits; coach check prints it")
    return value


def _file_name(value: Any) -> str:
    if not isinstance(value, str) or not re.fullmatch(
        r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}\.(png|jpg|jpeg)", value
    ):
        raise refuse("the name of a PNG or JPEG file beside the plan, such as wound.jpg")
    return value


class Photo(Table):
    """``[[photos]]``: a picture that lies beside the plan file."""

    file: Annotated[str, BeforeValidator(_file_name)] = Field(examples=["wound.jpg"])
    sha256: Annotated[str, BeforeValidator(_sha256)] = Field(examples=["0" * 64])
    shows: Annotated[str, words(0, 120)] = Field(default="", examples=["the wound on 25 November"])
