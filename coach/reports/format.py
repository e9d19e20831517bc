"""Figures as people read them: what was given is rounded down, what is left is rounded up. Pure."""

import textwrap
from fractions import Fraction

from coach.language import number
from coach.units import NS_PER_S, rounded, s_from_ns

WIDTH = 60


def percent(share: Fraction) -> str:
    """Rounded down: 100 % is only what is whole."""
    return f"{share.numerator * 100 // share.denominator} %"


def whole_given_s(given_ns: int) -> int:
    """Whole seconds that were given: the part of a second that is not over does not count."""
    return given_ns // NS_PER_S


def seconds(duration_ns: int) -> str:
    """Seconds without a unit, with one place where they are not whole."""
    exact = s_from_ns(duration_ns)
    return number(rounded(exact, 0 if exact.denominator == 1 else 1))


def wrapped(text: str, width: int = WIDTH) -> list[str]:
    """``text`` in lines; what is carried over is set in."""
    return textwrap.wrap(text, width, subsequent_indent="  ") or [""]


def item(text: str, width: int = WIDTH) -> list[str]:
    """``text`` in lines, set in."""
    return textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ")
