"""What every screen of a session owes the machine, however it looks."""

from collections.abc import Iterator, Sequence

from coach.screens import block_letters
from coach.screens.driver import EveningApp
from coach.screens.key_bar import Keys
from coach.screens.session import SessionScreen
from coach.session.cues import side_word
from coach.session.machine import Phase
from coach.units import NS_PER_S
from tests.screens.thin import ThinSession, shown

# How the keys are called on the screen, where that is not the letter itself.
KEYS = {"SPACE": "space", "LEERTASTE": "space", "?": "question_mark", "Ctrl+Q": "ctrl+q"}


def check(app: EveningApp[Phase], session: ThinSession) -> None:
    """The number is what is left, the side is the plan's, and each key shown is bound."""
    view = session.view()
    lines = shown(app).splitlines()
    if isinstance(app.screen, SessionScreen):
        spot = session.spots[session.machine.sitting.index]
        sizes = range(block_letters.LETTER_ROWS, app.size.height + 1)
        wide = [app.screen.query_one(f"#{name}").region.width for name in ("side", "main")]
        side = (
            block_letters.letters(side_word(spot.side), width=width, height=size)
            for size in sizes
            for width in wide
        )
        assert _any_in(side, lines), (side_word(spot.side), lines)
        if view.phase is Phase.HOLDING:
            left_s = -(-view.left_ns // NS_PER_S)
            clock = f"{left_s // 60}:{left_s % 60:02d}" if left_s >= 60 else f"{left_s}"
            number = (
                block_letters.digits(clock, width=width, height=size)
                for size in sizes
                for width in wide
            )
            assert _any_in(number, lines), (clock, lines)
    bound = app.screen.active_bindings
    for place in app.screen.query_one(Keys).placed:
        key = KEYS.get(place.tap.key, place.tap.key.lower())
        assert key in bound, (place.tap, sorted(bound))
        assert bound[key].enabled, place.tap


def _any_in(pictures: Iterator[block_letters.Rows | None], lines: Sequence[str]) -> bool:
    return any(picture is not None and _in(picture, lines) for picture in pictures)


def _in(picture: block_letters.Rows, lines: Sequence[str]) -> bool:
    """Whether ``lines`` show ``picture``, and nothing of letters right beside it."""
    columns = max(map(len, picture))
    padded = [line.ljust(200) for line in lines]
    rows = [row.ljust(columns) for row in picture]
    full = block_letters.FULL
    for top in range(len(lines) - len(rows) + 1):
        at = padded[top].find(rows[0])
        while at >= 0:
            found = all(
                padded[top + number][at : at + columns] == row for number, row in enumerate(rows)
            )
            beside = [
                padded[top + number][max(0, at - 1) : at] + padded[top + number][at + columns :][:1]
                for number in range(len(rows))
            ]
            if found and full not in "".join(beside):
                return True
            at = padded[top].find(rows[0], at + 1)
    return False
