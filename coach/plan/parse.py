"""TOML text to plain values, and what to tell people about lines that are no TOML. Pure.

A line that cannot be read is reported and then taken as if its value were :data:`UNREADABLE`,
so that whatever is wrong further down is told in the same run.
"""

import re
import tomllib
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from coach.plan.problems import READABLE, PlanProblems, Problem, Report, short


class Unreadable:
    """Stands for a value whose line has been reported already."""


UNREADABLE: Final = Unreadable()

_KEY_AND_VALUE = re.compile(r"(\s*[A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*\s*=)\s*\S")
_INT_DIGITS = 4300
# Beyond these the file is no plan, and every further line costs another reading.
_MOST_LINES = 20
# The longest note fits. The time for a key of many parts grows with their square.
_LONGEST_LINE = 6000

_SLIPS: tuple[tuple[str, str], ...] = (
    (r"=\s*\[?\s*[\u201c\u201d\u201e\u2018\u2019]", 'use straight quotes: "'),
    (r"=\s*[-+]?\d+,\d", "write decimals with a point, such as 0.5"),
    (r"=\s*\d+:\d\d\s*(#|$)", "write minutes and seconds as seconds, such as 90"),
    (
        r"=\s*\d{1,2}[./-]\d{1,2}[./-]\d{2,4}",
        "write dates as year-month-day, such as 2026-11-25",
    ),
    (r"=\s*[-+]?\d+(\.\d+)?\s*[A-Za-z%\u00b5]", "write the number without its unit"),
    (r"=\s*(True|False|TRUE|FALSE|[Yy]es|[Nn]o)\b", "write true or false, in small letters"),
    (r"=\s*[^\W\d]", 'put text in quotes: "..."'),
    (r"=\s*(#|$)", "nothing stands after the ="),
    (r"^[\w.-]+\s*:", "write = between a name and its value"),
)
_REASONS: tuple[tuple[str, str], ...] = (
    ("overwrite a value", "this name stands twice in its table"),
    ("Cannot declare", "this table stands twice"),
    ("Unclosed array", "a list that begins further up has no closing ]"),
    ("Invalid date", "there is no such date"),
    (r"Illegal character '\\n'", "a closing quote is missing"),
    ("Unterminated string", "a closing quote is missing"),
    ("(Illegal|invalid) character", "a character that does not show"),
    (r"Unescaped '\\\\'", r"write \\ for a backslash"),
)


def parse(text: str, *, file: str) -> tuple[dict[str, Any], Report]:
    """The values in ``text``, and a report that already holds every line that is no TOML.

    Raises PlanProblems when so much is broken that no value can be told from its table.
    """
    if not text.strip():
        found = "an empty file"
        allowed = "a plan; the folder plans holds two as examples"
        raise PlanProblems([Problem(file=file, field="", found=found, allowed=allowed)])
    lines = text.split("\n")
    too_long = [
        Problem(
            file=file,
            line=number,
            field="",
            found=f"a line of {len(line)} characters",
            allowed=f"at most {_LONGEST_LINE}",
        )
        for number, line in enumerate(lines, start=1)
        if len(line) > _LONGEST_LINE
    ]
    if too_long:
        raise PlanProblems(too_long)
    mark = _unused_number(text)
    report = Report(file, text)
    while True:
        try:
            raw = tomllib.loads(report.text, parse_float=_reader(mark))
        except (ValueError, RecursionError) as error:
            number, found, hint = _explain(error, lines)
            if all(number != line for line, *_ in report.unreadable):
                report.add_line(number, found, hint)
                pair = _KEY_AND_VALUE.match(lines[number - 1])
                if pair and len(report.unreadable) < _MOST_LINES:
                    lines[number - 1] = f"{pair[1]} {mark}"
                    report.text = "\n".join(lines)
                    continue
            raise PlanProblems(_without_fields(report)) from error
        return raw, report


def _reader(mark: str) -> Callable[[str], Any]:
    def number(text: str) -> Any:
        if text == mark:
            return UNREADABLE
        try:
            return Decimal(text)
        except InvalidOperation:
            return Decimal("Infinity")

    return number


def _unused_number(text: str) -> str:
    exponent = 1
    while f"0.0e-{exponent}" in text:
        exponent += 1
    return f"0.0e-{exponent}"


def _explain(error: ValueError | RecursionError, lines: list[str]) -> tuple[int, str, str]:
    """Line from 1, what stands there, and what to do about it."""
    if isinstance(error, RecursionError):
        return _first(lines, r"[\[{].*[\[{]"), "brackets in brackets, far too deep", ""
    if not isinstance(error, tomllib.TOMLDecodeError):
        return _first(lines, rf"[\d_]{{{_INT_DIGITS},}}"), "a number that is far too long", ""
    place = re.search(r"\(at line (\d+), column \d+\)", str(error))
    number = min(int(place[1]), len(lines)) if place else len(lines)
    content = lines[number - 1].strip()
    return number, short(content) or "the end of the file", _hint(str(error), content)


def _first(lines: list[str], pattern: str) -> int:
    return next((n for n, line in enumerate(lines, start=1) if re.search(pattern, line)), 1)


def _hint(reason: str, content: str) -> str:
    many = re.match(r"\[+\s*(course|regions)\s*\]", content)
    if many:
        return f"write [[{many[1]}]] each time, with two brackets"
    for table, subject in ((_REASONS, reason), (_SLIPS, content)):
        for pattern, hint in table:
            if re.search(pattern, subject):
                return hint
    text = re.sub(r"\s*\(at [^)]*\)", "", reason)
    return text[:1].lower() + text[1:]


def _without_fields(report: Report) -> list[Problem]:
    """The unreadable lines of a text whose structure is not known."""
    return [
        Problem(file=report.file, line=line, field="", found=found, allowed=READABLE, hint=hint)
        for line, found, hint in report.unreadable
    ]
