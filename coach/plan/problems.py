"""What is wrong with a plan file: every problem with its place, what was found, what is allowed."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

Path = tuple[str | int, ...]

LONGEST_FOUND = 60
READABLE = 'TOML, such as: name = "text" or seconds_each_spot = 30'
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing to mend in a plan file.

    Attributes:
        file: the file as the user named it.
        field: dotted path in the file, or "" for the file as a whole.
        found: what stands there.
        allowed: what may stand there.
        line: line in the file, from 1, or None.
        hint: what was probably meant, or "".
    """

    file: str
    field: str
    found: str
    allowed: str
    line: int | None = None
    hint: str = ""

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        field = f" {self.field}:" if self.field else ""
        hint = f" ({self.hint})" if self.hint else ""
        return f"{place}:{field} found {self.found}; allowed: {self.allowed}{hint}"


class PlanProblems(Exception):  # noqa: N818  (a list of problems, not one error)
    """A plan that cannot be used, with everything that is wrong with it."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


class Report:
    """Collects problems; looks up lines only when it is asked for them."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.text = text
        self.found: list[tuple[Path, str, str, str]] = []
        self.unreadable: list[tuple[int, str, str]] = []

    def __bool__(self) -> bool:
        """Whether there is anything to report."""
        return bool(self.found or self.unreadable)

    def add(self, path: Path, found: str, allowed: str, hint: str = "") -> None:
        """Something wrong in a field; its line is found later."""
        self.found.append((path, found, allowed, hint))

    def add_line(self, line: int, found: str, hint: str) -> None:
        """A line that cannot be read at all; its field is found later, if it has one."""
        self.unreadable.append((line, found, hint))

    def problems(self) -> list[Problem]:
        """All of them, in the order of the file."""
        from coach.plan.locate import line_of, lines_of

        lines = lines_of(self.text)
        fields: dict[int, Path] = {}
        for path, line in lines.items():
            fields[line] = max(fields.get(line, ()), path, key=len)
        found = [
            Problem(
                file=self.file,
                field=dotted(path),
                found=found,
                allowed=allowed,
                line=line_of(lines, path),
                hint=hint,
            )
            for path, found, allowed, hint in self.found
        ]
        found += [
            Problem(
                file=self.file,
                field=dotted(fields.get(line, ())),
                found=found,
                allowed=READABLE,
                line=line,
                hint=hint,
            )
            for line, found, hint in self.unreadable
        ]
        return sorted(found, key=lambda problem: problem.line or 0)


def dotted(path: Path) -> str:
    """``("regions", 0, "sides")`` as ``regions[1].sides``: people count from one."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if _BARE_KEY.fullmatch(part) else f".{show(part)}"
    return text.removeprefix(".")


def show(value: Any) -> str:
    """A found value as a plan file would have it, safe to print and short enough for a line."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        items = ("a list" if isinstance(item, list) else show(item) for item in value[:8])
        return short(f"[{', '.join(items)}{', ...' * (len(value) > 8)}]")
    if isinstance(value, str):
        return short(f'"{value}"')
    if isinstance(value, int) and abs(value) >= 10**LONGEST_FOUND:
        return f"a number of more than {LONGEST_FOUND} digits"
    return short(str(value))


def short(text: str) -> str:
    """``text`` cut to fit a line, what does not show made visible: a line end is ``\\n``."""
    cut = text if len(text) <= LONGEST_FOUND else f"{text[: LONGEST_FOUND - 3]}..."
    return "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in cut
    )


def meant(word: str, known: Mapping[str, str] | Iterable[str]) -> str:
    """``did you mean "lumbar"?`` or nothing. A mapping gives the word to offer for each name."""
    from rapidfuzz import process

    names = known if isinstance(known, Mapping) else {name: name for name in known}
    by_small = {name.lower(): offered for name, offered in names.items()}
    # Nearly everything contains a word of one or two letters.
    if len(word) < 3:
        by_small = {name: offered for name, offered in by_small.items() if len(name) < 3}
    best = process.extractOne(word.lower(), list(by_small), score_cutoff=60)
    return f'did you mean "{by_small[best[0]]}"?' if best else ""
