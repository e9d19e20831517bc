"""Pairs, interleaved, and the medians of them: what every benchmark here is made of."""

import json
import platform
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One line of the table.

    ``ratio`` is ours / baseline, ``goal`` the most it should be. Where both are near nothing and a
    ratio means nothing (``by_itself``), ``goal`` is the most that ours should be, in its unit.
    """

    name: str
    ours: float
    baseline: float
    unit: str
    against: str
    goal: float | None = None
    by_itself: bool = False
    note: str = ""

    @property
    def ratio(self) -> float | None:
        """How many times the baseline."""
        if self.by_itself:
            return None
        return self.ours / self.baseline

    @property
    def verdict(self) -> str:
        """The goal and whether it is met; nothing where there is none."""
        if self.goal is None:
            return ""
        held = self.ours if self.ratio is None else self.ratio
        asked = f"{self.goal:g} {self.unit}" if self.by_itself else f"{self.goal:g}"
        return f"{asked} {'met' if held <= self.goal else 'MISSED'}"


def pairs(
    ours: Callable[[], float], baseline: Callable[[], float], *, rounds: int
) -> tuple[float, float]:
    """Medians of both, measured in turns so that a busy moment hits both alike."""
    found: tuple[list[float], list[float]] = ([], [])
    for number in range(rounds):
        both = [(0, ours), (1, baseline)]
        for which, measure in both if number % 2 == 0 else reversed(both):
            found[which].append(measure())
    return statistics.median(found[0]), statistics.median(found[1])


def timed_s(what: Callable[[], object]) -> float:
    """Seconds that ``what`` takes."""
    began_s = time.perf_counter()
    what()
    return time.perf_counter() - began_s


def percentile(values: Sequence[float], share: float) -> float:
    """The value that ``share`` (0 to 1) of ``values`` do not exceed: nearest rank."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def machine() -> dict[str, str]:
    """What the figures were taken on."""
    try:
        cpu = next(
            line.partition(":")[2].strip()
            for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
            if line.startswith(("model name", "Model"))
        )
    except (OSError, StopIteration):
        cpu = platform.processor() or "unknown"
    return {
        "cpu": cpu,
        "system": platform.platform(),
        "python": platform.python_version(),
        "textual": version("textual"),
        "pydantic": version("pydantic"),
    }


def table(figures: Sequence[Figure]) -> str:
    """All figures, a line each."""
    rows = [("what", "ours", "baseline", "", "ratio", "goal", "")]
    rows += [
        (
            figure.name,
            f"{figure.ours:.4g}",
            f"{figure.baseline:.4g}",
            figure.unit,
            "" if figure.ratio is None else f"{figure.ratio:.2f}",
            figure.verdict,
            f"against {figure.against}" + (f"; {figure.note}" if figure.note else ""),
        )
        for figure in figures
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(6)]
    lines = []
    for row in rows:
        cells = [
            cell.ljust(width) if column in (0, 3, 5) else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=False))
        ]
        lines.append("  ".join([*cells, row[6]]).rstrip())
    return "\n".join(lines)


def as_json(figures: Sequence[Figure]) -> str:
    """All figures and the machine, for keeping."""
    rows = [{**asdict(figure), "ratio": figure.ratio} for figure in figures]
    return json.dumps({"machine": machine(), "figures": rows}, indent=2)


def say(text: str) -> None:
    """Progress, apart from the table."""
    print(text, file=sys.stderr, flush=True)
