"""The desk as a prescriber uses it: typed from top to bottom, changed, copied, undone, saved."""

import argparse
import datetime
import os
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from textual.pilot import Pilot

from coach.cli.desk import Keeper, open_desk
from coach.plan.desk import Desk
from coach.plan.desk_file import draft_path, keep_draft, read_draft
from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.screens.desk.desk_app import DeskApp
from coach.screens.desk.desk_screen import ACTIONS, KEYS, DeskScreen, RowTapped
from coach.screens.messages import Asked

TODAY = datetime.date(2026, 11, 28)
LONG_BACK = Path(__file__).parents[3] / "plans" / "demo-long-back.toml"
SIZES = [(80, 24), (120, 40), (240, 70)]


@dataclass
class Fingers:
    """Types, and counts the keys besides letters of names and digits of numbers."""

    pilot: Pilot[bool]
    keys: int = 0
    typed: int = 0

    async def press(self, *keys: str) -> None:
        self.keys += len(keys)
        await self.pilot.press(*keys)

    async def type(self, text: str) -> None:
        for character in text:
            self.typed += 1
            await self.pilot.press(_key(character))

    async def answer(self, *texts: str) -> None:
        """Each into the row under the cursor, with Enter."""
        for text in texts:
            await self.type(text)
            await self.press("enter")


def _key(character: str) -> str:
    names = {" ": "space", "-": "minus", ".": "full_stop", "+": "plus", "/": "slash", ",": "comma"}
    names |= {"(": "left_parenthesis", ")": "right_parenthesis"}
    return names.get(character, character)


def shown(screen: DeskScreen) -> list[str]:
    strips = screen._compositor.render_strips(screen.size)
    return [strip.text.rstrip() for strip in strips]


@dataclass
class Drafts:
    """What was kept after each change."""

    kept: list[str] = field(default_factory=list)

    def __call__(self, desk: Desk) -> str:
        self.kept.append(desk.text)
        return ""


def desk_app(
    desk: Desk, *, save: Callable[[Desk], str] = lambda desk: "", drafts: Drafts | None = None
) -> tuple[DeskApp, DeskScreen]:
    screen = DeskScreen(desk, autosave=drafts or Drafts(), save=save)
    return DeskApp(screen), screen


async def test_a_first_plan_of_four_regions_takes_sixty_keys_at_most(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    keeper = Keeper(tmp_path / ".new-plan.draft.toml", None, None)
    app, screen = desk_app(Desk.empty(today=TODAY), save=keeper.save)
    async with app.run_test(size=(120, 40)) as pilot:
        fingers = Fingers(pilot)
        await fingers.answer("willow-hips", "Dr. Ada Muster (invented)", "2027-02-28")
        await fingers.press("down", "down", "down", "down")
        await fingers.answer("Willow", "31.5")
        await fingers.answer("invented laser", "3B", "808", "200", "0.5", "stays on")
        await fingers.answer("neck lower", "lr", "2", "30s")
        for region, doses in (
            ("lumbar", ("lr", "3", "4J")),
            ("hip", ("lr", "lateral, caudal", "1", "40s")),
            ("stifle", ("l", "medial, lateral", "1", "8J/cm2")),
        ):
            await fingers.press("ctrl+n")
            await fingers.answer(region, *doses)
        await fingers.press("end")
        await fingers.press("shift+tab", "shift+tab", "shift+tab", "down")
        await fingers.answer("induction", "3", "2")
        await fingers.press("ctrl+s")
        assert screen.message == "Saved: willow-hips-r1.toml", (screen.message, screen.sheet)
        await fingers.press("ctrl+q")
    assert app.return_value is True
    plan = load_plan(tmp_path / "willow-hips-r1.toml", today=TODAY).plan
    # By hand: neck 2 + 2, lumbar 3 + 3, hip 2 faces a side, stifle 2 faces on the left.
    assert len(spots_of(plan)) == 4 + 6 + 4 + 2
    assert [order.region for order in plan.regions] == ["neck_lower", "lumbar", "hip", "stifle"]
    assert plan.course[0].sessions == 6
    assert fingers.keys <= 60, fingers
    print(f"\na first plan of four regions: {fingers.keys} keys besides {fingers.typed} letters")


async def test_a_dose_is_changed_in_a_revision_with_ten_keys_at_most(tmp_path: Path) -> None:
    text = LONG_BACK.read_text("utf-8")
    source = tmp_path / "demo.toml"
    source.write_text(text, encoding="utf-8")
    keeper = Keeper(draft_path(source), None, source)
    app, screen = desk_app(Desk.revise(text, today=TODAY), save=keeper.save)
    async with app.run_test(size=(80, 24)) as pilot:
        fingers = Fingers(pilot)
        await fingers.press("f5", "f5", "f5")
        await fingers.answer("45s")
        await fingers.press("ctrl+s")
        assert screen.message.startswith("Saved"), screen.message
    assert fingers.keys + fingers.typed <= 10
    assert source.read_text("utf-8") == text
    plan = load_plan(tmp_path / "demo-long-back-r2.toml", today=TODAY).plan
    assert plan.about.revision == 2
    assert str(plan.regions[2].seconds_each_spot) == "45"
    assert plan.regions[2].joules_each_spot is None
    # Comments that were in the file are still there.
    assert "# at the skin, not the opening of the head" in keeper.path.read_text("utf-8")  # type: ignore[union-attr]


@pytest.mark.parametrize("size", SIZES)
async def test_totals_and_the_row_under_the_cursor_are_always_seen(size: tuple[int, int]) -> None:
    app, screen = desk_app(Desk.revise(LONG_BACK.read_text("utf-8"), today=TODAY))
    async with app.run_test(size=size) as pilot:
        await pilot.press("f5")
        lines = shown(screen)
        # By hand: 30 s at 100 mW are 3 J; over 0.5 cm2 that is 6 J/cm2, at 200 mW/cm2.
        assert "back half of the neck: 30 s, 3 J, 6 J/cm2, 200 mW/cm2 a spot" in "\n".join(lines)
        assert any("J a session" in line and "J a week" in line for line in lines)
        assert any("dose of each spot" in line and "30s" in line for line in lines)
        assert all(len(line) <= size[0] for line in lines)
        assert len(lines) == size[1]
        drawn = any("⠤" in line or "⠒" in line for line in lines)
        assert drawn is (size[0] >= 100)
        await pilot.press("f3")
        if size[0] < 100:
            assert any("○" in line or "◀" in line for line in shown(screen))
            await pilot.press("f3")
            assert any(" 1 " in line for line in shown(screen))


async def test_everything_typed_is_kept_as_a_draft_and_goes_on(tmp_path: Path) -> None:
    draft = draft_path(tmp_path / "new-plan.toml")
    desk = Desk.empty(today=TODAY)

    def autosave(desk: Desk) -> str:
        keep_draft(draft, desk)
        return ""

    screen = DeskScreen(desk, autosave=autosave)
    async with DeskApp(screen).run_test(size=(120, 40)) as pilot:
        fingers = Fingers(pilot)
        await fingers.answer("willow-hips")
        await fingers.press("ctrl+n")
        await fingers.answer("lumbar", "l", "many")
        await fingers.press("ctrl+d")
        # Nothing is asked: the terminal is simply gone.
    assert draft.stat().st_mode & 0o777 == 0o600
    text, copied = read_draft(draft) or ("", frozenset())
    assert copied == {1}
    args = argparse.Namespace(plan=None, template=None, out=None)
    again, message = open_desk(args, draft, TODAY) or pytest.fail("refused")
    assert "goes on" in message
    assert [dict(order) for order in again.regions] == [dict(order) for order in desk.regions]
    assert again.regions[0]["spots"] == "many"
    assert again.version.copied == (False, True)
    assert text


def test_a_draft_that_cannot_be_read_is_told_and_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    draft = draft_path(tmp_path / "x.toml")
    draft.write_text("no draft", encoding="utf-8")
    args = argparse.Namespace(plan=None, template=None, out=None)
    assert open_desk(args, draft, TODAY) is None
    assert "--fresh" in capsys.readouterr().err
    assert draft.read_text("utf-8") == "no draft"


@pytest.mark.parametrize("content", [b"\xff\xfe", b"= nothing", None])
def test_a_file_that_is_no_plan_is_refused(
    tmp_path: Path, content: bytes | None, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plan.toml"
    if content is not None:
        path.write_bytes(content)
    args = argparse.Namespace(plan=path, template=None, out=None)
    assert open_desk(args, draft_path(path), TODAY) is None
    assert str(path) in capsys.readouterr().err


def test_a_pipe_as_a_plan_is_refused_and_holds_nothing_up(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plan.toml"
    os.mkfifo(path)
    args = argparse.Namespace(plan=path, template=None, out=None)
    assert open_desk(args, draft_path(path), TODAY) is None
    assert str(path) in capsys.readouterr().err


def test_a_plan_that_is_not_whole_or_would_overwrite_another_is_not_saved(tmp_path: Path) -> None:
    keeper = Keeper(tmp_path / ".draft.toml", tmp_path / "out.toml", None)
    assert keeper.save(Desk.empty(today=TODAY)).startswith("Not saved: ")
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "out.toml").write_text("mine", encoding="utf-8")
    assert "is there already" in keeper.save(Desk.open(LONG_BACK.read_text("utf-8"), today=TODAY))
    assert (tmp_path / "out.toml").read_text("utf-8") == "mine"
    (tmp_path / "out.toml").unlink()
    desk = Desk.open(LONG_BACK.read_text("utf-8"), today=TODAY)
    assert keeper.save(desk) == f"Saved: {tmp_path / 'out.toml'}"
    # The same desk may save again.
    desk.type(("plan", "note"), "changed")
    assert keeper.save(desk).startswith("Saved")


@pytest.mark.long
@pytest.mark.parametrize("size", [(40, 12), *SIZES])
async def test_random_keys_and_taps_crash_nothing(size: tuple[int, int]) -> None:
    app, screen = desk_app(Desk.open(LONG_BACK.read_text("utf-8"), today=TODAY))
    dice = random.Random(size[0])
    keys = [key for key in KEYS if KEYS[key] not in ("leave", "look")]
    keys += ["a", "4", "minus", "plus", "space", "backspace", "enter", "down", "é"]
    async with app.run_test(size=size) as pilot:
        for _ in range(60):
            if dice.random() < 0.1:
                screen.post_message(RowTapped(dice.randrange(len(screen.rows))))
            elif dice.random() < 0.1:
                names = [name for name, *_ in ACTIONS if name not in ("leave", "look")]
                screen.post_message(Asked(dice.choice(names)))
            else:
                await pilot.press(dice.choice(keys))
        await pilot.pause()
        assert app.is_running
        assert len(shown(screen)) == size[1]


async def test_what_is_copied_says_so_until_its_dose_was_looked_at() -> None:
    app, screen = desk_app(Desk.open(LONG_BACK.read_text("utf-8"), today=TODAY))
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("f5", "ctrl+d")
        assert "copied: look at it" in "\n".join(shown(screen))
        await pilot.press("f5")
        assert "copied: look at it" not in "\n".join(shown(screen))
        await pilot.press("ctrl+z")
        assert len(screen.desk.regions) == 5


async def test_it_asks_before_it_leaves_what_is_not_saved() -> None:
    app, screen = desk_app(Desk.open(LONG_BACK.read_text("utf-8"), today=TODAY))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f5", "plus", "ctrl+q")
        assert "Not saved" in screen.message
        await pilot.press("up", "ctrl+q")
        assert app.is_running
        await pilot.press("ctrl+q")
    assert app.return_value is False
