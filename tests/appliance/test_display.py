"""Letters as large as the display allows.

The measures of DejaVu Sans Mono are those of its own tables (2048 units to the size; advance 1233,
ascent 1901, descent 483), from memory.
"""

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.appliance.display import Display, displays, letter_pixels, terminal_command

# A 7-inch panel, a small HDMI panel, televisions; the sizes that the trade sells.
COMMON = [(800, 480), (1024, 600), (1280, 720), (1920, 1080), (3840, 2160), (720, 1280)]


@pytest.mark.parametrize(("width", "height"), COMMON)
def test_the_app_has_its_room_and_the_letters_are_no_smaller_than_needed(
    width: int, height: int
) -> None:
    pixels = letter_pixels(width, height)
    # A cell is a whole number of pixels; foot showed 15 x 30 for letters of 25.
    columns = width // round(pixels * 1233 / 2048)
    rows = height // math.ceil(pixels * (1901 + 483) / 2048)
    assert columns >= 60
    assert rows >= 20
    wanted = (80, 24) if (width, height) not in [(800, 480), (720, 1280)] else (60, 20)
    larger = pixels + 1
    assert (
        round(larger * 1233 / 2048) * wanted[0] > width
        or math.ceil(larger * 2384 / 2048) * wanted[1] > height
    )


@given(st.integers(1, 20_000), st.integers(1, 20_000))
def test_any_size_gives_letters_that_can_be_drawn(width: int, height: int) -> None:
    assert letter_pixels(width, height) >= 6


def test_only_displays_that_are_plugged_in_count(tmp_path: Path) -> None:
    for name, status, modes in (
        ("card0-HDMI-A-1", "disconnected", ""),
        ("card1-DSI-1", "connected", "800x480\n"),
        ("card1-HDMI-A-2", "connected", "1920x1080i\n1280x720\n"),
        ("card1-HDMI-A-3", "connected", ""),
        ("card1-Writeback-1", "unknown", "1920x1080\n"),
    ):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "status").write_text(f"{status}\n")
        (folder / "modes").write_text(modes)
    (tmp_path / "version").write_text("drm")
    found = displays(tmp_path)
    assert found == [Display("DSI-1", 800, 480), Display("HDMI-A-2", 1920, 1080)]
    assert displays(tmp_path / "none") == []
    assert "font=DejaVu Sans Mono:pixelsize=20" in terminal_command(["true"], found)
    assert terminal_command(["true", "x"], [])[-2:] == ["true", "x"]
