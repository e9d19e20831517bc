"""The kinds of fields that plan tables have: numbers within bounds, counts, text. Pure."""

import unicodedata
from collections.abc import Callable
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict
from pydantic_core import PydanticCustomError

from coach.dose.quantity import BOUNDS, Quantity, plain

# For the ``json_schema_extra`` of a field that plans of format 1 do not have.
FORMAT_2: dict[str, Any] = {"format": 2}

# Invisible characters that may stand in text: joiners and marks of some scripts.
INVISIBLE_ALLOWED = frozenset("\u200c\u200d\u200e\u200f")


def refuse(allowed: str, hint: str = "") -> PydanticCustomError:
    """What a field raises when it cannot take a value."""
    return PydanticCustomError("refused", "{allowed}", {"allowed": allowed, "hint": hint})


class Checked(BeforeValidator):
    """A check of a field that can say what it allows; see :mod:`coach.plan.reference`."""

    def __init__(self, check: Callable[[Any], Any], allowed: str) -> None:
        super().__init__(check)
        object.__setattr__(self, "allowed", allowed)

    allowed: str


def ordinary(value: Any) -> Decimal:
    """An ordinary number as a Decimal."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise refuse("a number without quotes or unit")
    number = Decimal(value)
    if not number.is_finite():
        raise refuse("an ordinary number")
    return number


def between(low: str, high: str, unit: str, *, below: str = "", above: str = "") -> Any:
    """A Decimal from ``low`` to ``high``; ``below`` and ``above`` say what was probably meant."""

    def check(value: Any) -> Decimal:
        number = ordinary(value)
        if Decimal(low) <= number <= Decimal(high):
            return number
        hint = below if number < Decimal(low) else above
        # A negative or zero number is no unit slip.
        raise refuse(f"{low} to {high} {unit}", hint if number > 0 else "")

    return Checked(check, f"{low} to {high} {unit}")


def usual(quantity: Quantity, unit: str = "") -> Any:
    """A Decimal in the usual range that :mod:`coach.dose.quantity` has for ``quantity``."""
    bounds = BOUNDS[quantity]
    return between(
        plain(bounds.usual_low),
        plain(bounds.usual_high),
        unit or bounds.unit,
        below=bounds.below,
        above=bounds.above,
    )


def whole(low: int, high: int, unit: str = "") -> Any:
    """A whole number from ``low`` to ``high``."""
    allowed = f"a whole number, {low} to {high} {unit}".rstrip()

    def check(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise refuse(allowed)
        return value

    return Checked(check, allowed)


def words(low: int, high: int, *, lines: bool = False) -> Any:
    """Text of ``low`` to ``high`` characters that shows whole on a screen; ``lines``: several."""

    def shows(character: str) -> bool:
        if character == "\n":
            return lines
        category = unicodedata.category(character)
        return category not in ("Cc", "Cf", "Cs", "Zl", "Zp") or character in INVISIBLE_ALLOWED

    def check(value: Any) -> str:
        if not isinstance(value, str):
            raise refuse("text in quotes")
        text = value.strip()
        if not all(map(shows, text)):
            raise refuse(f"text without control characters{'' if lines else ', on one line'}")
        if not low <= len(text) <= high:
            raise refuse(f"{low} to {high} characters" if low else f"at most {high} characters")
        return text

    allowed = f"text, {low} to {high} characters{'' if lines else ', one line'}"
    return Checked(check, allowed)


Line = Annotated[str, words(1, 80)]
Note = Annotated[str, words(0, 2000, lines=True)]
PowerMw = Annotated[Decimal, usual("mean_power_mw")]
Seconds = Annotated[Decimal, usual("duration_s")]


def tape_cm(low_mm: int, high_mm: int) -> Any:
    """Centimetres in whole millimetres, as a tape reads them."""
    low, high = Decimal(low_mm) / 10, Decimal(high_mm) / 10

    def check(value: Any) -> Decimal:
        number = ordinary(value)
        if low <= number <= high and number * 10 == (number * 10).to_integral_value():
            return number
        hint = "this looks like mm" if low <= number / 10 <= high < number else ""
        raise refuse(f"{low} to {high} cm, in steps of 0.1", hint)

    return Checked(check, f"{low} to {high} cm, in steps of 0.1")


# The footprint of a head and the way from spot to spot.
Across = Annotated[Decimal, tape_cm(2, 300)]


class Table(BaseModel):
    """Base of all tables: nothing unknown, nothing converted, nothing changed later.

    Every field that must be there has an example, which is shown when it is missing.
    """

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True
    )
