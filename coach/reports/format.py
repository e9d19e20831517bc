"""Figures as people read them: shares rounded down, seconds, lines that wrap. Pure."""

import textwrap
from fractions import Fraction

from coach.language import number
from coach.units import rounded, s_from_ns

WIDTH = 60


def percent(share: Fraction) -> str:
    """Rounded down: 100 % is only what is whole."""
    return f"{share.numerator * 100 // share.denominator} %"


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
