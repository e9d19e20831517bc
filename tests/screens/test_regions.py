"""The pages of the regions: every size, every key, nothing to scroll."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from textual.pilot import Pilot

from coach.bedside.flow import Pressed, show
from coach.bedside.pages import RegionsPage, close_key
from coach.body.regions import regions
from coach.screens.driver import EveningApp
from coach.screens.region_page import broken, page_lines
from coach.screens.regions import RegionScreen, pages
from tests.screens.one_app import flow_app
from tests.screens.thin import FakeTime


def regions_app(key: str | None = None, *, look: str = "dark") -> EveningApp[Pressed]:
    page = RegionsPage(region=key, keys=(close_key(),))
    return flow_app(show(page), mono_ns=FakeTime(), look=look)


def region_screen(app: EveningApp[Pressed]) -> RegionScreen:
    assert isinstance(app.screen, RegionScreen)
    return app.screen


def shown(app: EveningApp[Pressed]) -> str:
    strips = app.screen._compositor.render_strips(app.size)
    return "\n".join(strip.text.rstrip() for strip in strips)


async def settled(pilot: Pilot[Pressed]) -> None:
    for _ in range(3):
        await pilot.pause()


@settings(max_examples=30, deadline=None)
@given(width=st.integers(20, 240), height=st.integers(4, 70))
def test_at_any_size_all_words_of_every_region_are_on_some_page(width: int, height: int) -> None:
    found = pages(width=width, height=height)
    for page in found:
        assert len(page.rows) <= height
        assert all(len(row) <= width for row in page.rows)
    for key, place in regions().items():
        words = " ".join(" ".join(row for page in found if page.key == key for row in page.rows))
        assert words.split() == " ".join(" ".join(broken(page_lines(place), width=200))).split()


@pytest.mark.parametrize(
    ("size", "pictures"), [((40, 12), 0), ((60, 20), 18), ((80, 24), 18), ((120, 40), 18)]
)
def test_every_region_has_a_picture_where_there_is_room(
    size: tuple[int, int], pictures: int
) -> None:
    found = pages(width=size[0], height=size[1] - 2)
    assert len({page.key for page in found if page.picture}) == pictures


@pytest.mark.parametrize("size", [(40, 12), (60, 20), (120, 40)])
async def test_one_key_goes_through_all_pages_and_back_to_the_list(size: tuple[int, int]) -> None:
    app = regions_app()
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        first = shown(app)
        seen = []
        for _ in region_screen(app)._pages:
            await pilot.press("space")
            await settled(pilot)
            seen.append(shown(app))
        assert seen[-1] == first
        bars = [text.splitlines()[0] for text in seen]
        for number, place in enumerate(regions().values(), start=1):
            bar = f"{number}/{len(regions())} {place.owner_words.upper()}"[: size[0]]
            assert any(text.startswith(bar.rstrip()) for text in bars)


@pytest.mark.parametrize("size", [(20, 6), (80, 24)])
async def test_arrows_go_both_ways(size: tuple[int, int]) -> None:
    app = regions_app("hip")
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        first = shown(app)
        assert "HIP" in first
        await pilot.press("right")
        await settled(pilot)
        assert shown(app) != first
        await pilot.press("left")
        await settled(pilot)
        assert shown(app) == first


async def test_another_side_or_face_is_shown_and_named() -> None:
    app = regions_app("stifle")
    async with app.run_test(size=(120, 40)) as pilot:
        bars = []
        for _ in range(9):
            await settled(pilot)
            bars.append(shown(app).splitlines()[0].split("  ")[0])
            await pilot.press("s")
        assert bars[8] == bars[0]
        assert len(set(bars)) == 8
        assert bars[0].endswith("KNEE: left, inside (medial)")
        await pilot.press("up")
        await settled(pilot)
        assert shown(app).splitlines()[0].startswith(bars[0])


async def test_the_console_look_has_only_console_signs() -> None:
    app = regions_app("lumbar", look="console")
    async with app.run_test(size=(120, 40)) as pilot:
        await settled(pilot)
        assert shown(app).replace("·", "").isascii()
        assert "##1##" in shown(app)


async def test_a_new_size_keeps_the_region() -> None:
    app = regions_app("elbow")
    async with app.run_test(size=(120, 40)) as pilot:
        await settled(pilot)
        await pilot.resize_terminal(40, 12)
        await settled(pilot)
        assert "ELBOW" in shown(app).splitlines()[0]
        await pilot.resize_terminal(60, 20)
        await settled(pilot)
        assert "ELBOW" in shown(app).splitlines()[0]


async def test_a_tap_turns_the_page_and_a_key_on_the_screen_can_be_tapped() -> None:
    app = regions_app("elbow")
    async with app.run_test(size=(60, 20)) as pilot:
        await settled(pilot)
        first = shown(app)
        await pilot.click("#dog", offset=(30, 8))
        await settled(pilot)
        assert "Where:" in shown(app)
        await pilot.click("#keys", offset=(14, 0))
        await settled(pilot)
        assert shown(app) == first


@pytest.mark.parametrize("key", ["q", "escape", "ctrl+c", "ctrl+q"])
async def test_it_closes(key: str) -> None:
    app = regions_app()
    async with app.run_test(size=(60, 20)) as pilot:
        await settled(pilot)
        await pilot.press(key)
    assert app.return_code == 0
