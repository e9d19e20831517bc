"""What the picture of the dog costs a second of the countdown. Run by hand; asserts nothing.

    python -m tests.benchmarks.redraw

Compares, at three sizes: a second of a hold as the screen draws it, without and with the
picture (which is then only looked up), and the one drawing that a change of spot takes.
"""

import time
from collections.abc import Callable

from coach.body.raster import Look
from coach.screens.drawing import Moment, draw
from coach.screens.sketch import sketch
from coach.session import commands as cmd
from tests.screens.thin import LONG_BACK, ThinSession, thin_session

ROUNDS = 200
SIZES = ((60, 20), (80, 24), (120, 40))


def best_ms(what: Callable[[], object]) -> float:
    """The fastest of several rounds: what the work takes when nothing interferes."""
    times = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        what()
        times.append(time.perf_counter() - began)
    return min(times) * 1000


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


def main() -> None:
    """Print one line a size and look."""
    session = holding()

    def moment() -> Moment:
        return Moment(view=session.view(), opening=session.opening(), ends=session.time.wall())

    print("size     look     tick ms  with dog  ratio  a new spot ms")
    for width, height in SIZES:
        looks: tuple[Look, ...] = ("colour", "console")
        for look in looks:
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

            tick, dog, spot = best_ms(without), best_ms(with_dog), best_ms(new_spot)
            print(
                f"{width:>3}x{height:<4} {look:<8} {tick:7.2f} {dog:9.2f} {dog / tick:6.2f} "
                f"{spot:14.2f}"
            )


if __name__ == "__main__":
    main()
