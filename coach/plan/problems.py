"""What is wrong with a plan file: every problem with its place, what was found, what is allowed."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

Path = tuple[str | int, ...]


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

    def add(self, path: Path, found: str, allowed: str, hint: str = "") -> None:
        self.found.append((path, found, allowed, hint))

    def problems(self) -> list[Problem]:
        from coach.plan.locate import line_of, lines_of

        lines = lines_of(self.text)
        return sorted(
            (
                Problem(
                    file=self.file,
                    field=dotted(path),
                    found=found,
                    allowed=allowed,
                    line=line_of(lines, path),
                    hint=hint,
                )
                for path, found, allowed, hint in self.found
            ),
            key=lambda problem: problem.line or 0,
        )


def dotted(path: Path) -> str:
    """``("regions", 0, "sides")`` as ``regions[1].sides``: people count from one."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}"
    return text.removeprefix(".")


def show(value: Any) -> str:
    """A found value, short enough for one line."""
    if isinstance(value, Decimal):
        return str(value)
    text = f'"{value}"' if isinstance(value, str) else str(value)
    if isinstance(value, bool):
        text = text.lower()
    return text if len(text) <= 60 else f"{text[:57]}..."


def meant(word: str, known: Iterable[str]) -> str:
    """``did you mean "lumbar"?`` or nothing."""
    from rapidfuzz import process

    best = process.extractOne(word.lower(), list(known), score_cutoff=60)
    return f'did you mean "{best[0]}"?' if best else ""
