"""The page for the vet by the one big key alone: real folders stand for the sticks."""

import asyncio
import datetime
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from textual.pilot import Pilot

from coach import paths, translations
from coach.appliance.drives import Drive, DriveTrouble
from coach.bedside.dog_facts import home_of
from coach.bedside.evening import Evening
from coach.bedside.flow import Ask, Progress
from coach.bedside.flow import work as work_step
from coach.bedside.for_vet import for_vet as page_for_vet
from coach.handover.copy_verified import Calls
from coach.journal.diary_entries import AfterSession
from coach.journal.signing import DeviceKey, device_key
from coach.screens.ask import AskScreen
from coach.screens.text_pages import PAGE_ROWS, told_pages
from coach.screens.work_screen import CodeScreen, WorkScreen
from coach.units import NS_PER_S
from tests.expected_texts import compare
from tests.handover.dogs import PLAN, said, session
from tests.screens.one_app import flow_app
from tests.screens.thin import FakeTime

pytestmark = pytest.mark.usefixtures("quick_report")

EXPECTED = Path(__file__).parent / "expected"
NOW = datetime.datetime(2026, 11, 25, 10, tzinfo=datetime.UTC)


@pytest.fixture
def quick_report(monkeypatch: pytest.MonkeyPatch) -> None:
    """The report has tests of its own."""
    monkeypatch.setattr("coach.handover.report.report_pdf", lambda summary: b"%PDF")


@pytest.fixture
def dog(own_world: Path) -> Path:
    """An invented dog with a plan, and two sessions, the last of them stopped."""
    folder = paths.dog_folder("Juniper")
    folder.mkdir(parents=True)
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    key: DeviceKey = device_key(paths.device_key_file())
    session(folder, "2026-11-10", dog="Juniper", key=key)
    last = session(folder, "2026-11-12", dog="Juniper", key=key, stop_after=2)
    said(folder, AfterSession(session=last.stem, skin="red"), dog="Juniper")
    return folder


class Stick:
    """A folder that stands for a stick which the desktop has mounted."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        folder.mkdir()
        self.drive = Drive(
            device="/dev/sdz1", name="VET", size_bytes=8 * 10**9, folder=folder, read_only=False
        )
        self.folder = folder
        monkeypatch.setattr("coach.bedside.for_vet.drives", lambda: [self.drive])


@pytest.fixture
def stick(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Stick:
    return Stick(tmp_path / "stick", monkeypatch)


class Owner:
    """Somebody with one key, who reads and hears."""

    def __init__(self, pilot: Pilot[Any], clock: list[int], heard: list[str]) -> None:
        self.pilot = pilot
        self.clock = clock
        self.heard = heard
        self.seen: list[str] = []

    async def press(self, *, times: int = 1) -> None:
        """The one big key, unhurried."""
        for _ in range(times):
            self.clock[0] += NS_PER_S
            await self.pilot.press("space")
            await self.settled()

    async def choose(self, number: int) -> None:
        """Step to a choice and wait until it is taken."""
        await self.press(times=number)
        self.see()
        self.clock[0] += 3 * NS_PER_S
        screen = self.pilot.app.screen
        assert isinstance(screen, AskScreen)
        screen.beat()
        await self.settled()

    async def settled(self) -> None:
        """Until nothing is being worked on any more."""
        await self.pilot.pause()
        while isinstance(self.pilot.app.screen, WorkScreen):
            await self.pilot.pause(0.02)
        for _ in range(3):
            await self.pilot.pause()

    @property
    def screen(self) -> str:
        strips = self.pilot.app.screen._compositor.render_strips(self.pilot.app.size)
        return "\n".join(strip.text.rstrip() for strip in strips)

    @property
    def words(self) -> str:
        return " ".join(self.screen.split())

    def see(self) -> None:
        assert all(len(row) <= self.pilot.app.size.width for row in self.screen.splitlines())
        self.seen.append(self.screen)


@asynccontextmanager
async def opened(folder: Path | None, size: tuple[int, int] = (60, 20)) -> AsyncIterator[Owner]:
    clock, heard = [NS_PER_S], list[str]()
    evening = Evening(wall=lambda: NOW)
    dog = None if folder is None else home_of(folder, evening.stamp(), datetime.UTC)
    flow = page_for_vet(evening, dog)
    app = flow_app(flow, mono_ns=lambda: clock[0], say=heard.append)
    async with app.run_test(size=size) as pilot:
        owner = Owner(pilot, clock, heard)
        await owner.settled()
        yield owner


def next_revision() -> str:
    changed = PLAN.replace("revision = 1", "revision = 2", 1)
    return changed.replace("seconds_each_spot = 40", "seconds_each_spot = 60", 1)


@pytest.mark.parametrize("size", [(60, 20), (120, 40)], ids=lambda size: f"{size[0]}x{size[1]}")
async def test_one_key_puts_the_record_on_a_stick_and_takes_the_next_plan(
    dog: Path, stick: Stick, size: tuple[int, int]
) -> None:
    (stick.folder / "next.toml").write_text(next_revision(), encoding="utf-8")
    async with opened(dog, size) as owner:
        await owner.choose(1)
        await owner.choose(1)
        owner.see()
        assert "It is safe to pull the stick out now." in owner.words
        assert "It is safe to pull the stick out now." in owner.heard[-1]
        assert any("Writing on VET" in text for text in owner.heard)
        (put,) = (path for path in stick.folder.iterdir() if path.is_dir())
        assert {"report.pdf", "spots.csv", "journals"} <= {path.name for path in put.iterdir()}
        while "What would you like" not in owner.words:
            await owner.press()
        await owner.choose(2)
        await owner.choose(1)
        owner.see()
        assert "It is safe to pull the stick out now." in owner.words
        # The stick is out already when the owner decides.
        (stick.folder / "next.toml").unlink()
        told = ""
        while "Take this plan" not in owner.words:
            await owner.press()
            owner.see()
            told += owner.words
        assert "60 seconds on each spot, before 40." in told
        assert "Not signed: nothing shows who wrote it." in told
        assert (dog / "plan.toml").read_text(encoding="utf-8") == PLAN
        await owner.choose(2)
        owner.see()
        assert "Taken on 2026-11-25." in owner.words
        assert (dog / "plan.toml").read_text(encoding="utf-8") == next_revision()
        assert len(list((dog / "old-plans").iterdir())) == 1
        await owner.press()
        assert "What would you like" in owner.words
    path = EXPECTED / f"for-vet-{size[0]}x{size[1]}.txt"
    found = "\n=====\n".join(owner.seen) + "\n"
    compare(path, found)


async def test_meanwhile_it_shows_how_far_it_is(own_world: Path) -> None:
    go_on, half_way = threading.Event(), threading.Event()

    def work(progress: Progress) -> str:
        progress(3, 6)
        half_way.set()
        go_on.wait()
        return "done"

    clock = FakeTime()
    flow = work_step(work, "Writing on VET.", title="Juniper")
    app = flow_app(flow, mono_ns=clock)
    async with app.run_test(size=(60, 20)) as pilot:
        await asyncio.to_thread(half_way.wait)
        screen = app.screen
        assert isinstance(screen, WorkScreen)
        screen.draw()
        for _ in range(3):
            await pilot.pause()
        strips = screen._compositor.render_strips(app.size)
        told = [strip.text.strip() for strip in strips if strip.text.strip()]
        # Keys do nothing to it.
        await pilot.press("space", "q", "escape")
        assert app.screen is screen
        go_on.set()
        while app.screen is screen:
            await pilot.pause(0.02)
    assert told == ["Juniper", "Writing on VET.", "█" * 20 + "-" * 20 + "  50 %"]
    assert app.return_value == "done"


async def test_without_yes_the_plan_stays(dog: Path, stick: Stick) -> None:
    (stick.folder / "next.toml").write_text(next_revision(), encoding="utf-8")
    async with opened(dog) as owner:
        # 3 goes on without an answer.
        for answer in (1, 3):
            await owner.choose(2)
            await owner.choose(1)
            while "Take this plan" not in owner.words:
                await owner.press()
            await owner.choose(answer)
            assert "Nothing was changed." in owner.words
            await owner.press()
    assert (dog / "plan.toml").read_text(encoding="utf-8") == PLAN
    assert not (dog / "old-plans").exists()


async def test_a_plan_that_may_not_follow_is_refused_with_what_to_do(
    dog: Path, stick: Stick
) -> None:
    async with opened(dog) as owner:
        for text, words in (
            (PLAN, "found the plan that is in use already"),
            (next_revision().replace("demo-long-back", "other"), "found the plan 'other'"),
            ("coach_plan = 1\nrubbish", "Ask your prescriber for a plan without these mistakes."),
            ("", "There is no plan on VET."),
        ):
            (stick.folder / "next.toml").write_text(text, encoding="utf-8")
            await owner.choose(2)
            await owner.choose(1)
            told = owner.words
            while "What would you like" not in owner.words:
                await owner.press()
                told += " " + owner.words
            assert words in told
            assert "Take this plan" not in told
    assert (dog / "plan.toml").read_text(encoding="utf-8") == PLAN


async def test_trouble_with_the_stick_is_told_with_what_to_do(
    dog: Path, stick: Stick, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def after_trying(*steps: int) -> str:
        async with opened(dog) as owner:
            for step in steps:
                await owner.choose(step)
            return owner.words

    def pulled_out(self: Calls, path: Path) -> str:
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(Calls, "digest", pulled_out)
        told = await after_trying(1, 1)
        assert "was pulled out, or is broken: plug it in and try again" in told
        assert "safe to pull" not in told
    assert list(stick.folder.iterdir()) == []
    stick.drive = replace(stick.drive, read_only=True)
    assert "Slide its lock open, or use another stick." in await after_trying(1, 1)
    monkeypatch.setattr("coach.bedside.for_vet.drives", list)
    assert "No stick is plugged in. Plug one in and try again." in await after_trying(1)

    def none() -> list[Drive]:
        raise DriveTrouble("lsblk is not installed on this computer")

    monkeypatch.setattr("coach.bedside.for_vet.drives", none)
    assert "lsblk is not installed" in await after_trying(2)


@pytest.mark.parametrize("size", [(60, 20), (120, 40)], ids=lambda size: f"{size[0]}x{size[1]}")
async def test_a_phone_reads_the_last_session_off_the_screen(
    dog: Path, size: tuple[int, int]
) -> None:
    async with opened(dog, size) as owner:
        await owner.choose(3)
        assert isinstance(owner.pilot.app.screen, CodeScreen)
        halves = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
        rows: list[list[int]] = []
        for line in owner.screen.splitlines():
            if set(line) <= set(halves):
                padded = line.ljust(size[0])
                rows += [[halves[sign][half] for sign in padded] for half in (0, 1)]
        picture = np.kron(np.array(rows, dtype=np.uint8), np.ones((6, 6), dtype=np.uint8))
        (code,) = zxingcpp.read_barcodes(picture)
        # Two of the four holds that tests/handover/dogs.py states: 30 + 30 of 140 s.
        assert "Juniper 2026-11-12 19:00" in code.text
        assert "2/4 spots, 60/140 s" in code.text
        assert "skin red" in code.text
        assert "coached" in code.text
        await owner.press()
        assert "What would you like" in owner.words


async def test_a_screen_too_small_for_a_code_shows_the_words(dog: Path) -> None:
    async with opened(dog, (40, 16)) as owner:
        await owner.choose(3)
        assert "The screen is too small for a code." in owner.words
        assert "Juniper 2026-11-12 19:00" in owner.words


async def test_where_no_dog_is_known_the_first_plan_can_be_taken(
    own_world: Path, stick: Stick
) -> None:
    (stick.folder / "first.toml").write_text(PLAN, encoding="utf-8")
    async with opened(None) as owner:
        assert "put the record" not in owner.words
        await owner.choose(1)
        await owner.choose(1)
        told = ""
        while "Take this plan" not in owner.words:
            await owner.press()
            told += owner.words
        assert "It is the first plan of Juniper here." in told
        await owner.choose(2)
    assert (paths.dog_folder("Juniper") / "plan.toml").read_text(encoding="utf-8") == PLAN


@pytest.mark.parametrize("code", translations.languages())
def test_every_choice_can_be_read_whole_on_sixty_columns(code: str, dog: Path) -> None:
    translations.speak(code)
    evening = Evening(wall=lambda: NOW)
    step = next(page_for_vet(evening, home_of(dog, evening.stamp(), datetime.UTC)))
    assert isinstance(step, Ask)
    question = step.asking.question
    assert question is not None
    assert len(question.choices) == 3
    # A mark, a space, the key in its frame, a space before the words.
    assert all(len(f"   {choice.key}  {choice.text}") <= 60 for choice in question.choices)


def test_pages_keep_every_word_and_to_the_smallest_screen() -> None:
    lines = ["short", "word " * 300, "", "a\nb", *(f"line {n}" for n in range(30))]
    found = told_pages(lines)
    kept = " ".join(word for page in found for line in page for word in line.split())
    assert kept == " ".join(" ".join(lines).split())
    assert all(len(page) <= PAGE_ROWS for page in found)
