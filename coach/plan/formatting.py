"""Words and numbers as the summary of a plan writes them. Pure."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from coach.units import rounded


def listed(words: Sequence[str]) -> str:
    """``left, middle and right``."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def counted(number: int, thing: str) -> str:
    """``1 spot``, ``2 spots``."""
    return f"{number} {thing}{'s' * (number != 1)}"


def plain(value: Decimal) -> str:
    """Without trailing zeros or an exponent."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def number(value: Decimal | Fraction | None) -> int | float | None:
    """For JSON, rounded to six places; whole numbers without a point."""
    if value is None:
        return None
    places = rounded(value, 6)
    return int(places) if places == places.to_integral_value() else float(places)
