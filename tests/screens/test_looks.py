"""Contrast, glyphs and NO_COLOR, read from what is really drawn."""

import itertools
import string

import pytest
from rich.color_triplet import ColorTriplet
from rich.segment import Segment

from coach.screens import block_letters
from coach.screens.driver import EveningApp
from coach.screens.themes import LOOKS
from coach.session import commands as cmd
from coach.session.machine import Phase
from tests.screens.thin import BIG_HIPS, LONG_BACK, app_for, bring_to, settled, shown, thin_session


def relative_luminance(colour: ColorTriplet) -> float:
    """WCAG 2.2, definition of relative luminance, sRGB (https://www.w3.org/TR/WCAG22/)."""
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (colour.red / 255, colour.green / 255, colour.blue / 255)
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: ColorTriplet, other: ColorTriplet) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


# Values of the reference on legibility: white on black 21.0, #767676 on white 4.54, #777777 on
# white 4.48, #0000FF on black 2.44.
@pytest.mark.parametrize(
    ("ink", "paper", "ratio"),
    [
        ((255, 255, 255), (0, 0, 0), 21.0),
        ((0x76, 0x76, 0x76), (255, 255, 255), 4.54),
        ((0x77, 0x77, 0x77), (255, 255, 255), 4.48),
        ((0, 0, 255), (0, 0, 0), 2.44),
    ],
)
def test_the_referee_agrees_with_published_ratios(
    ink: tuple[int, int, int], paper: tuple[int, int, int], ratio: float
) -> None:
    assert round(contrast(ColorTriplet(*ink), ColorTriplet(*paper)), 2) == ratio


def segments(app: EveningApp[Phase], name: str) -> list[Segment]:
    """What is drawn inside the widget called ``name``."""
    region = app.screen.query_one(f"#{name}").region
    strips = app.screen._compositor.render_strips(app.size)[region.y : region.bottom]
    return [
        segment
        for strip in strips
        for segment in strip.crop(region.x, region.right)
        if segment.text
    ]


def colours(segment: Segment) -> tuple[ColorTriplet, ColorTriplet]:
    """Ink and paper as they reach the terminal."""
    style = segment.style
    assert style is not None
    assert style.color is not None
    assert style.bgcolor is not None
    ink, paper = style.color.get_truecolor(), style.bgcolor.get_truecolor(foreground=False)
    return (paper, ink) if style.reverse else (ink, paper)


@pytest.mark.parametrize("no_colour", [False, True])
@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("phase", [Phase.MOVING, Phase.HOLDING, Phase.PAUSED])
async def test_what_must_be_read_from_afar_has_seven_to_one(
    look: str, phase: Phase, no_colour: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if no_colour:
        monkeypatch.setenv("NO_COLOR", "1")
    session = thin_session()
    app = app_for(session, look=look)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, phase)
        app.screen.query_one("#panel").remove_class("-flash")
        await settled(pilot)
        # With the dog, then with large letters in its place.
        for names in (("headline", "dog"), ("region", "place")):
            for name in ("main", "side", "bar", *names):
                drawn = [segment for segment in segments(app, name) if segment.text.strip()]
                assert drawn
                for segment in drawn:
                    assert contrast(*colours(segment)) >= 7, (name, segment)
            # Everything else is text to be read from near: 4.5 at least, 7 is better.
            for strip in app.screen._compositor.render_strips(app.size):
                for segment in strip:
                    if segment.text.strip():
                        assert contrast(*colours(segment)) >= 4.5, segment
            await pilot.press("p")
            await settled(pilot)


@pytest.mark.parametrize("look", LOOKS)
async def test_the_flash_keeps_the_digits_readable(look: str) -> None:
    session = thin_session()
    app = app_for(session, look=look)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        panel = app.screen.query_one("#panel")
        while panel.has_class("-flash"):
            await pilot.pause()
        await settled(pilot)
        (calm,) = {colours(segment) for segment in segments(app, "main") if segment.text.strip()}
        panel.add_class("-flash")
        await settled(pilot)
        (flash,) = {colours(segment) for segment in segments(app, "main") if segment.text.strip()}
        assert contrast(*flash) >= 7
        # Reversed: the paper of the flash is as bright as the ink was, or as dark.
        assert contrast(calm[1], flash[1]) >= 7


async def test_no_color_takes_all_colour_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    session = thin_session()
    app = app_for(session)
    async with app.run_test(size=(60, 20)) as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        for strip in app.screen._compositor.render_strips(app.size):
            for colour in itertools.chain.from_iterable(
                colours(s) for s in strip if s.text.strip()
            ):
                assert max(colour) - min(colour) <= 2


# The bare console knows ASCII and code page 437's full block, small square and middle dot. It has
# no braille and no half blocks (tried on a Linux console; noted in the design of the screens).
CONSOLE = set(string.printable) | {block_letters.FULL, "■", "·"}


@pytest.mark.parametrize("plan", [LONG_BACK, BIG_HIPS], ids=lambda plan: plan.stem)
@pytest.mark.parametrize("size", [(60, 20), pytest.param((120, 40), marks=pytest.mark.long)])
async def test_a_session_on_a_bare_console_uses_only_its_glyphs(
    plan: object, size: tuple[int, int]
) -> None:
    session = thin_session(BIG_HIPS if plan == BIG_HIPS else LONG_BACK)
    app = app_for(session, look="console")
    seen: set[str] = set()

    async with app.run_test(size=size) as pilot:

        async def look() -> None:
            await settled(pilot)
            seen.update(shown(app))

        await look()
        session.do(cmd.Start())
        for number, _ in enumerate(session.spots):
            app.beat()
            await look()
            session.do(cmd.Go())
            app.beat()
            await look()
            if number in (0, 5):
                await pilot.press("d")
                await look()
                for key in ("question_mark", "escape", "s"):
                    await pilot.press(key)
                    await look()
                session.time.pass_s(1)
                await pilot.press("space")
                session.do(cmd.CarryOn())
            session.time.now_ns += session.view().left_ns
            session.tick()
        assert session.view().phase is Phase.FINISHED
        app.beat()
        await look()
    assert seen - CONSOLE == set()
    for glyph in seen - set("\n"):
        glyph.encode("cp437")


async def test_the_console_look_uses_only_colours_that_a_console_has() -> None:
    session = thin_session()
    app = app_for(session, look="console")
    async with app.run_test(size=(120, 40)) as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        styles = [
            segment.style
            for strip in app.screen._compositor.render_strips(app.size)
            for segment in strip
            if segment.style is not None
        ]
        used = {
            tuple(colour.get_truecolor())
            for style in styles
            for colour in (style.color, style.bgcolor)
            if colour is not None
        }
        assert used == {(0, 0, 0), (255, 255, 255)}


@pytest.mark.parametrize("look", LOOKS)
async def test_state_is_told_by_word_and_shape_in_every_look(look: str) -> None:
    session = thin_session()
    app = app_for(session, look=look)
    async with app.run_test(size=(60, 20)) as pilot:
        pictures = {}
        for phase in (Phase.MOVING, Phase.HOLDING, Phase.PAUSED):
            if phase is Phase.MOVING:
                await bring_to(pilot, session, phase)
            elif phase is Phase.HOLDING:
                await pilot.press("g")
            else:
                await pilot.press("d")
            await settled(pilot)
            pictures[phase] = shown(app).splitlines()
        firsts = [lines[0].split()[:2] for lines in pictures.values()]
        assert firsts == [["...", "MOVE"], ["■■■", "HOLD"], ["||", "PAUSED"]]
        middles = {"\n".join(lines[8:15]) for lines in pictures.values()}
        assert len(middles) == 3
