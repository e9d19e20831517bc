"""What the picture of the dog costs a second of the countdown.

At three sizes: a second of a hold as the screen draws it with the picture (which is then only
looked up), and the one drawing that a change of spot takes, both beside that second without it.
"""

from collections.abc import Callable

from coach.body.raster import Look
from coach.screens.session_layout import Moment, draw
from coach.screens.spots_picture import sketch
from coach.session import commands as cmd
from tests.benchmarks.frame import Figure, say, timed_s
from tests.screens.thin import LONG_BACK, ThinSession, thin_session

ROUNDS, QUICK_ROUNDS = 200, 40
SIZES = ((60, 20), (80, 24), (120, 40))
LOOKS: tuple[Look, ...] = ("colour", "console")


def best_ms(rounds: int, *what: Callable[[], object]) -> list[float]:
    """The fastest of several rounds in turns: what each takes when nothing interferes."""
    times: list[list[float]] = [[] for _ in what]
    for _ in range(rounds):
        for found, one in zip(times, what, strict=True):
            found.append(timed_s(one) * 1000)
    return [min(found) for found in times]


def holding() -> ThinSession:
    """A session in the middle of a hold."""
    session = thin_session(LONG_BACK)
    session.do(cmd.Start())
    for _ in range(9):
        session.do(cmd.Skip("asked"))
    session.do(cmd.Go())
    session.time.pass_s(3)
    session.tick()
    return session


def measure(*, quick: bool) -> list[Figure]:
    """Each size and look."""
    say("redraw")
    session = holding()

    def moment() -> Moment:
        return Moment(view=session.view(), opening=session.opening(), ends=session.time.wall())

    figures = []
    for width, height in SIZES:
        for look in LOOKS:
            kept = moment()
            drawn = draw(kept, width=width, height=height, picture=True).picture
            if drawn is None:
                raise SystemExit(f"no picture at {width} x {height}")
            columns, rows = drawn
            before = kept.view.states

            def without(width: int = width, height: int = height) -> None:
                draw(moment(), width=width, height=height)

            def with_dog(width: int = width, height: int = height, before: object = before) -> None:
                now = moment()
                draw(now, width=width, height=height, picture=True)
                if now.view.states != before:
                    raise SystemExit("the spots changed within a hold")

            def new_spot(columns: int = columns, rows: int = rows, look: Look = look) -> None:
                sketch(session.view(), width=columns, height=rows, look=look)

            rounds = QUICK_ROUNDS if quick else ROUNDS
            tick_ms, dog_ms, spot_ms = best_ms(rounds, without, with_dog, new_spot)
            for name, ours in (("a second with the dog", dog_ms), ("a new spot", spot_ms)):
                figures.append(
                    Figure(
                        name=f"{name}, {width}x{height}, {look}",
                        ours=ours,
                        baseline=tick_ms,
                        unit="ms",
                        against="a second without the dog",
                    )
                )
    return figures
