"""How large the letters must be on the display that is plugged in, and the terminal to show them.

The kiosk is a compositor with one terminal in it. It knows no size of letters that suits a
7-inch panel and a television, so the terminal is started with the size for this display.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

CONNECTORS = Path("/sys/class/drm")
# Of DejaVu Sans Mono, in parts of its size (its hhea and hmtx tables).
WIDE, HIGH = 0.602, 1.164
# The app's whole layout, and the least it is made for: columns, rows, from so many pixels on.
ROOMY, SMALL = (80, 24), (60, 20)
ROOMY_FROM = (1024, 600)
LEAST = 6
# Where no display tells its size, as one that is plugged in later.
UNKNOWN = (1280, 720)


@dataclass(frozen=True, slots=True)
class Display:
    """One that is plugged in, with the size it likes best, in pixels."""

    name: str
    width: int
    height: int


def displays(connectors: Path = CONNECTORS) -> list[Display]:
    """The displays that the kernel sees, by name; empty where it tells of none."""
    found = []
    for folder in sorted(connectors.glob("card*-*")):
        try:
            if (folder / "status").read_text(encoding="ascii").strip() != "connected":
                continue
            modes = (folder / "modes").read_text(encoding="ascii").split()
        except (OSError, UnicodeDecodeError):
            continue
        width, _, height = (modes[0] if modes else "").rstrip("i").partition("x")
        if width.isdigit() and height.isdigit():
            found.append(Display(folder.name.split("-", 1)[1], int(width), int(height)))
    return found


def letter_pixels(width: int, height: int) -> int:
    """The largest letters with which the app still has its room on ``width`` x ``height``."""
    roomy = width >= ROOMY_FROM[0] and height >= ROOMY_FROM[1]
    columns, rows = ROOMY if roomy else SMALL
    pixels = LEAST
    while round((pixels + 1) * WIDE) * columns <= width and (
        math.ceil((pixels + 1) * HIGH) * rows <= height
    ):
        pixels += 1
    return pixels


def terminal_command(inner: Sequence[str], shown: Sequence[Display]) -> list[str]:
    """The terminal that runs ``inner`` full screen on the first of ``shown``."""
    width, height = (shown[0].width, shown[0].height) if shown else UNKNOWN
    options = (
        f"font=DejaVu Sans Mono:pixelsize={letter_pixels(width, height)}",
        "dpi-aware=no",
        "pad=0x0 center",
        "colors.background=000000",
        "mouse.hide-when-typing=yes",
        "scrollback.lines=0",
    )
    # The owner's own set-up of this terminal is for a desk, not for the dog bed.
    words = ["foot", "--config=/dev/null", "--fullscreen"]
    for option in options:
        words += ["-o", option]
    return [*words, *inner]
