"""What the app costs a small board: time to the first paint, CPU and memory of a session."""

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from coach.session.readiness_timing import MOST_READ_NS
from coach.units import NS_PER_S
from tests.benchmarks.frame import Figure, pairs, percentile, say
from tests.screens.thin import LONG_BACK
from tests.terminal import Terminal

MINIMAL = "tests.benchmarks.minimal_app"
AGAINST = "a minimal Textual + pydantic app"
TICKS = os.sysconf("SC_CLK_TCK")
COLUMNS, ROWS = 80, 24
# The readiness round has fewer questions; with this many keys something else is wrong.
TRIES = 60


@contextmanager
def everyday() -> Iterator[None]:
    """A home that both programs were started in before, as on any day but the first.

    With compiled modules, as installed ones are: a shell may forbid to keep them, and then every
    start compiles ours and none of the libraries'.
    """
    with tempfile.TemporaryDirectory() as home:
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ.update(COACH_HOME=home, PYTHONPYCACHEPREFIX=f"{home}/compiled")
        first_paint_s(*coach(), module="coach")
        first_paint_s(module=MINIMAL)
        yield


@contextmanager
def running(*words: str, module: str = "coach") -> Iterator[Terminal]:
    """The program on a terminal; killed at the end.

    Nothing is left of the session that the one before was killed in: closing it takes time.
    """
    shutil.rmtree(Path(os.environ["COACH_HOME"], "state", "dogs"), ignore_errors=True)
    terminal = Terminal(*words, module=module, columns=COLUMNS, rows=ROWS)
    try:
        yield terminal
    finally:
        terminal.process.kill()
        terminal.process.wait()
        terminal.close()


def coach() -> tuple[str, ...]:
    """The words for a rehearsal that goes on by itself."""
    words = ("rehearse", str(LONG_BACK), "--silent", "--no-lesson", "--no-questions")
    return (*words, "--advance", "auto")


def first_paint_s(*words: str, module: str) -> float:
    """From the start of the process to the screen that both have: what SPACE does."""
    began_s = time.perf_counter()
    with running(*words, module=module) as terminal:
        terminal.until(lambda text: "SPACE" in text)
        return time.perf_counter() - began_s


def cpu_s(pid: int) -> float:
    """User and system time of a process so far."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def peak_mib(pid: int) -> float:
    """The most memory that a process had."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    raise RuntimeError("no VmHWM in /proc")


def go_on(terminal: Terminal) -> None:
    """Through whatever is asked or told before, to the first hold; never for ever."""
    for _ in range(TRIES):
        state = terminal.text.partition("\n")[0]
        if "HOLD" in state:
            return
        key = "n" if "choose, then wait" in terminal.text else " "
        terminal.press("g" if "MOVE" in state else key)
        # A question of the readiness round takes no key before it can have been read.
        terminal.show(MOST_READ_NS / NS_PER_S + 0.1)
    raise SystemExit(f"no hold after {TRIES} keys; last was\n{terminal.text}")


def session_cost(seconds: float, *, module: str, picture: bool = False) -> tuple[float, float]:
    """CPU s over so many seconds of a running session, and its peak memory, MiB."""
    words = coach() if module == "coach" else ()
    with running(*words, module=module) as terminal:
        terminal.until(lambda text: "SPACE" in text)
        if module == "coach":
            go_on(terminal)
            if not picture:
                terminal.press("p")
        terminal.watch(2)
        before_s = cpu_s(terminal.process.pid)
        terminal.watch(seconds)
        used_s = cpu_s(terminal.process.pid) - before_s
        if module == "coach":
            # To the end: the closing record is signed, and what signs is loaded only for it.
            terminal.press("x")
            terminal.until(lambda text: "STOPPED" in text)
        return used_s, peak_mib(terminal.process.pid)


def measure(*, quick: bool) -> list[Figure]:
    """First paint, CPU and memory."""
    with everyday():
        return _measured(quick=quick)


def _measured(*, quick: bool) -> list[Figure]:
    say("board: first paint")
    ours_s, base_s = pairs(
        lambda: first_paint_s(*coach(), module="coach"),
        lambda: first_paint_s(module=MINIMAL),
        rounds=3 if quick else 15,
    )
    figures = [
        Figure(
            name="process start to first paint",
            ours=ours_s,
            baseline=base_s,
            unit="s",
            against=AGAINST,
            goal=1.3,
        )
    ]
    seconds, rounds = (10.0, 1) if quick else (60.0, 3)
    costs: dict[str, list[tuple[float, float]]] = {"plain": [], "dog": [], "minimal": []}
    for number in range(rounds):
        say(f"board: {seconds:.0f} s of a session, round {number + 1} of {rounds}")
        costs["plain"].append(session_cost(seconds, module="coach"))
        costs["minimal"].append(session_cost(seconds, module=MINIMAL))
        costs["dog"].append(session_cost(seconds, module="coach", picture=True))
    middle = {
        kind: [percentile([cost[which] for cost in found], 0.5) for which in (0, 1)]
        for kind, found in costs.items()
    }
    for kind, name in (("plain", "without the dog"), ("dog", "with the dog drawn")):
        figures.append(
            Figure(
                name=f"CPU of {seconds:.0f} s of a session, {name}",
                ours=middle[kind][0],
                baseline=middle["minimal"][0],
                unit="s",
                against=f"{AGAINST} at 10 Hz",
                goal=1.5,
            )
        )
    figures.append(
        Figure(
            name="peak memory of a session",
            ours=middle["dog"][1],
            baseline=middle["minimal"][1],
            unit="MiB",
            against=AGAINST,
            goal=1.4,
            note="the app's process; the voice's children come on top",
        )
    )
    return figures
