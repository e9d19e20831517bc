"""The rules of the call list, and what a practice sets for itself. Every error with its place.

``rules.toml`` is ours. ``practice.toml`` (beside the handovers, or named) may say::

    practice = 1                     # the format
    name = "mill-pond"               # how this practice is called in figures of several
    first_words = ["wobbl"]          # more beginnings of words to read first

    [rules.early_sign]
    weight = 40                      # also least, lasts_days; weight = 0: never

    [[same_dog]]                     # two computers, one dog
    dog = "Pip"
    devices = ["3b6a27bc", "8f01cc2d"]   # the first letters of their public keys, at least 8
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictInt, ValidationError

from coach.plan.problems import PlanProblems, Problem, Report, meant, show

PRACTICE_FILE = "practice.toml"
LARGEST_BYTES = 1_000_000
SHORTEST_DEVICE = 8

Weight = Annotated[StrictInt, Field(ge=0, le=100)]
Least = Annotated[StrictInt, Field(ge=1, le=1000)]
Days = Annotated[StrictInt, Field(ge=1, le=3650)]
Text = Annotated[str, Field(min_length=1, max_length=200)]


class Rule(BaseModel):
    """One rule; ``rules.toml`` says what its fields mean."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    words: Text
    weight: Weight
    least: Least = 1
    lasts_days: Days
    standing: StrictBool = False
    source: Text


class OwnRule(BaseModel):
    """What a practice may say about a rule."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    weight: Weight | None = None
    least: Least | None = None
    lasts_days: Days | None = None


class SameDog(BaseModel):
    """``[[same_dog]]``: one dog whose handovers come from several computers."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    dog: Text
    devices: Annotated[
        tuple[Annotated[str, Field(pattern=rf"^[0-9a-f]{{{SHORTEST_DEVICE},64}}$")], ...],
        Field(min_length=2, max_length=20),
    ]


class PracticeFile(BaseModel):
    """``practice.toml``."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    practice: Annotated[StrictInt, Field(ge=1, le=1)]
    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")] = "practice"
    rests_days: Days | None = None
    first_words: Annotated[tuple[Text, ...], Field(max_length=200)] = ()
    rules: Mapping[str, OwnRule] = {}
    same_dog: tuple[SameDog, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """All rules as they hold in this practice.

    Attributes:
        rules: by key, as they stand in the file.
        first_words: beginnings of words of the owner to read at once, in small letters.
        rests_days: how long a call without an end puts a standing rule off.
        practice: name of the practice.
        same_dogs: what the practice says about dogs with several computers.
    """

    rules: Mapping[str, Rule]
    first_words: tuple[str, ...]
    rests_days: int
    practice: str = "practice"
    same_dogs: tuple[SameDog, ...] = ()

    def rows(self) -> list[tuple[str, int, int, int, int]]:
        """The table ``rules`` of the question: rule, weight, least, lasts_days, standing."""
        return [
            (key, rule.weight, rule.least, rule.lasts_days, int(rule.standing))
            for key, rule in self.rules.items()
            if rule.weight
        ]


def house_rules() -> Rules:
    """The rules that come with the program."""
    raw = tomllib.loads((files("coach.practice") / "rules.toml").read_text(encoding="utf-8"))
    return Rules(
        rules={key: Rule.model_validate(rule) for key, rule in raw["rules"].items()},
        first_words=tuple(raw["words"]["first"]),
        rests_days=raw["call"]["rests_days"],
    )


def rules_for(folder: Path, named: Path | None = None) -> Rules:
    """The rules for the handovers in ``folder``: the practice's file changes ours.

    ``named`` is used in place of the file in the folder. Raises PlanProblems with every problem,
    and OSError for a named file that cannot be read.
    """
    path = named or folder / PRACTICE_FILE
    if named is None and not path.exists():
        return house_rules()
    if not path.is_file():
        raise PlanProblems([_problem(path, "something that is no file", "a practice file")])
    raw = path.read_bytes()[: LARGEST_BYTES + 1]
    if len(raw) > LARGEST_BYTES:
        raise PlanProblems([_problem(path, "more than 1 MB", "a practice file")])
    return _changed(house_rules(), *_read(path, raw))


def _read(path: Path, raw: bytes) -> tuple[PracticeFile, Report]:
    from coach.plan.parse import parse

    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"a byte that is not UTF-8 (0x{raw[error.start]:02x})"
        raise PlanProblems([_problem(path, found, "text saved as UTF-8", line)]) from error
    if not text.strip():
        raise PlanProblems([_problem(path, "an empty file", "practice = 1, and what you change")])
    values, report = parse(text, file=str(path))
    if report.unreadable:
        raise PlanProblems(report.problems())
    try:
        return PracticeFile.model_validate(values), report
    except ValidationError as error:
        for one in error.errors(include_url=False):
            place = tuple(part for part in one["loc"] if isinstance(part, str | int))
            report.add(place, _found(one), _allowed(one))
        raise PlanProblems(report.problems()) from error


def _changed(house: Rules, own: PracticeFile, report: Report) -> Rules:
    rules = dict(house.rules)
    for key, change in own.rules.items():
        if key not in rules:
            report.add(
                ("rules", key), show(key), f"one of {', '.join(rules)}", meant(key, list(rules))
            )
            continue
        told = {name: value for name, value in change if value is not None}
        rules[key] = rules[key].model_copy(update=told)
    if report:
        raise PlanProblems(report.problems())
    return replace(
        house,
        rules=rules,
        first_words=house.first_words + tuple(word.lower() for word in own.first_words),
        rests_days=own.rests_days or house.rests_days,
        practice=own.name,
        same_dogs=own.same_dog,
    )


def _found(error: Any) -> str:
    return "nothing" if error["type"] == "missing" else show(error["input"])


def _allowed(error: Any) -> str:
    if error["type"] == "extra_forbidden":
        return "no such name here"
    message = str(error["msg"])
    return message[:1].lower() + message[1:]


def _problem(path: Path, found: str, allowed: str, line: int | None = None) -> Problem:
    return Problem(file=str(path), field="", found=found, allowed=allowed, line=line)


def first_word(words: str, beginnings: Sequence[str]) -> bool:
    """Whether a word of ``words`` begins as one of ``beginnings`` (of the practice's list)."""
    text = f" {' '.join(words.lower().split())}"
    return any(f" {start}" in text for start in beginnings)
