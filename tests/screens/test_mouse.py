"""Mouse reporting is on at each moment of a session, as a terminal sees it: fingers and clicks."""

import re
from collections.abc import Iterator

import pytest

from tests.screens.thin import LONG_BACK
from tests.terminal import Terminal

pytestmark = pytest.mark.long

# DEC private mode 1000 (X11 mouse reporting): xterm's ctlseqs.
MODE = re.compile(rb"\x1b\[\?1000([hl])")


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal("rehearse", str(LONG_BACK), "--silent", "--no-lesson")
    yield made
    if made.process.poll() is None:
        made.process.kill()
        made.process.wait()
    made.close()


def test_it_is_on_from_the_first_question_to_the_end(terminal: Terminal) -> None:
    raw: list[bytes] = []
    feed = terminal.stream.feed

    def keep(data: bytes) -> None:
        raw.append(data)
        feed(data)

    terminal.stream.feed = keep  # type: ignore[method-assign]

    def on(wanted: str) -> None:
        terminal.until(lambda text: wanted in text)
        modes = MODE.findall(b"".join(raw))
        assert modes[-1:] == [b"h"], wanted

    on("Is this your dog and your plan?")
    terminal.answer()
    on("About Juniper, once for this plan")
    while "How is Juniper today?" not in terminal.text:
        terminal.show(3)
        terminal.press("n")
    on("How is Juniper today?")
    # By a finger: SGR mouse mode (1006), press and let go on the first key of the bottom row.
    while "Is the room safe?" not in terminal.text:
        terminal.show(3)
        row, column = next(
            (y, text.index("N no"))
            for y, text in enumerate(terminal.screen.display, 1)
            if "N no" in text
        )
        terminal.press(f"\x1b[<0;{column + 1};{row}M\x1b[<0;{column + 1};{row}m")
    on("Is the room safe?")
    while "All is ready." not in terminal.text:
        terminal.answer()
    terminal.press(" ")
    on("E emergency")
    terminal.press("d")
    on("|| PAUSED")
    terminal.press("e")
    on("What happened?")
    terminal.press("4")
    on("No more laser today.")
    terminal.press(" ")
    on("Q close")
