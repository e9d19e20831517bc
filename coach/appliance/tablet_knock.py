"""Between the server and whoever is at the device: a tablet asks, the owner wants to see the code.

Three small files in the private state folder, for the server is a program of its own: that a
tablet asks, what the owner wishes, and the code for the few moments until it is shown.
"""

import time
from contextlib import suppress
from pathlib import Path
from typing import Literal

from coach import paths
from coach.journal.disk import write_whole

# So long after a knock the line at the device is still lit.
LIT_S = 5 * 60
Wish = Literal["t", "f"]


def _file(name: str) -> Path:
    return paths.state_folder() / f"tablet-{name}"


def tell() -> None:
    """A tablet asks. What cannot be written is not lit; the server's own line still says it."""
    with suppress(OSError):
        write_whole(_file("asks"), "\n")


def asking() -> bool:
    """Whether a tablet has asked just now."""
    try:
        age_s = time.time() - _file("asks").lstat().st_mtime
    except OSError:
        return False
    return 0 <= age_s < LIT_S


def shown(code: str) -> None:
    """The owner has wished to see it: nobody asks any more, and ``code`` is there to be shown."""
    with suppress(OSError):
        _file("asks").unlink(missing_ok=True)
        write_whole(_file("code"), code)


def wish(what: Wish) -> None:
    """The owner wants to see the code (t), or no tablet to be known any more (f). OSError."""
    _file("code").unlink(missing_ok=True)
    write_whole(_file("wish"), what)


def waits() -> bool:
    """Whether a wish has not been seen by the server yet."""
    return _file("wish").exists()


def wishes() -> str:
    """What was wished since the last look."""
    path = _file("wish")
    try:
        with path.open(encoding="ascii", errors="replace") as stream:
            told = stream.read(10)
        path.unlink()
    except OSError:
        return ""
    return told


def code() -> str:
    """The code that is to be shown, once; "" where there is none yet."""
    path = _file("code")
    try:
        with path.open(encoding="ascii", errors="replace") as stream:
            told = stream.read(10)
        path.unlink()
    except OSError:
        return ""
    return told if told.isdigit() else ""
