"""The app by keys, taps and signals, on a clock that obeys the test.

Longer than other files: all of it drives the one app in the one way set up here.
"""

import asyncio
import copy
import dataclasses
import os
import random
import re
import signal
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from typing import Any

import pytest
from textual.pilot import Pilot

from coach.screens import block_letters, session_text
from coach.screens.actions import ACTIONS, BY_ID, REASONS
from coach.screens.driver import EveningApp
from coach.screens.end import EndScreen
from coach.screens.help import HelpScreen
from coach.screens.key_bar import Keys
from coach.screens.messages import Asked
from coach.screens.skip import SkipScreen
from coach.screens.themes import LOOKS
from coach.session import commands as cmd
from coach.session.machine import TABLE, Phase
from coach.units import NS_PER_S
from tests.screens.thin import (
    BIG_HIPS,
    HELD_S,
    LONG_BACK,
    ThinSession,
    app_for,
    bring_to,
    settled,
    shown,
    thin_session,
)

OTHER_KEYS = ["ctrl+z", "ctrl+p", "tab", "escape", "5", "z"]
# E stops it, as X does.
LETTERS = [*"abcdfghijklmnopqrstuvwxyz0123456789", "space", "enter", "question_mark"]


def running(
    session: ThinSession, size: tuple[int, int] = (80, 24), look: str = "dark"
) -> tuple[EveningApp[Phase], AbstractAsyncContextManager[Pilot[Phase]]]:
    app = app_for(session, look=look)
    return app, app.run_test(size=size)


async def test_the_first_screen_names_dog_plan_and_prescriber_and_waits() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await settled(pilot)
        session.time.pass_s(3600)
        app.beat()
        await settled(pilot)
        text = shown(app)
        assert "Plan demo-long-back, revision 1" in text
        assert "Dr. Ada Muster" in text
        assert "Juniper" in text
        assert "21 spots" in text
        assert "dog's eyes covered" in text
        assert session.view().phase is Phase.READY


@pytest.mark.parametrize("key", ["space", "enter", "pagedown"])
async def test_one_key_alone_goes_through_start_pause_and_carry_on(key: str) -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        phases = []
        for _ in range(3):
            session.time.pass_s(9)
            app.beat()
            await pilot.press(key)
            # In a pause: no second press follows.
            session.time.pass_s(0.7)
            app.beat()
            await settled(pilot)
            phases.append(session.view().phase)
        assert phases == [Phase.MOVING, Phase.PAUSED, Phase.HOLDING]
        assert session.asked == [cmd.Start(), cmd.Pause("asked"), cmd.CarryOn()]


async def test_a_waiting_move_pauses_when_nobody_answers_and_says_why() -> None:
    session = thin_session(BIG_HIPS)
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.MOVING)
        session.time.pass_s(700)
        app.beat()
        await settled(pilot)
        assert session.view().phase is Phase.PAUSED
        assert session.lines[-1]["data"]["reason"] == "no_answer"
        assert shown(app).count("Nobody answered.") == 1
        await pilot.press("space")
        session.time.pass_s(0.7)
        app.beat()
        assert session.view().phase is Phase.MOVING
        session.time.pass_s(1)
        await pilot.press("space")
        assert session.view().phase is Phase.HOLDING


async def test_a_waiting_move_goes_on_by_the_one_key() -> None:
    session = thin_session(BIG_HIPS)
    _, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.MOVING)
        await pilot.press("space")
        assert session.view().phase is Phase.HOLDING


@pytest.mark.parametrize("phase", [Phase.MOVING, Phase.HOLDING, Phase.PAUSED])
@pytest.mark.parametrize("overlay", ["", "question_mark", "s"])
async def test_stop_is_done_at_once_wherever_the_owner_is(phase: Phase, overlay: str) -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, phase)
        if overlay:
            await pilot.press(overlay)
        await pilot.press("x")
        assert session.asked[-1] == cmd.Stop("asked")
        assert session.kinds[-1] == "session_stopped"
        await settled(pilot)
        assert isinstance(app.screen, EndScreen)
        assert "STOPPED" in shown(app)
        assert "Switch the laser off." in shown(app)


@pytest.mark.parametrize("key", ["ctrl+q", "ctrl+c"])
@pytest.mark.parametrize("phase", [Phase.READY, Phase.MOVING, Phase.HOLDING, Phase.PAUSED])
async def test_closing_keys_stop_the_session_first(key: str, phase: Phase) -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, phase)
        await pilot.press(key)
        assert session.lines[-1]["data"]["reason"] == "closed"
        await settled(pilot)
        assert app.return_value is None
        session.time.pass_s(1)
        await pilot.press(key)
    assert app.return_value is Phase.STOPPED


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
async def test_a_signal_stops_the_session_and_leaves(number: signal.Signals) -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        os.kill(os.getpid(), number)
        await settled(pilot)
        assert session.lines[-1]["kind"] == "session_stopped"
        assert session.lines[-1]["data"]["reason"] == "closed"
    assert app.return_value is Phase.STOPPED
    assert app.return_code == 0


@pytest.mark.parametrize("phase", [Phase.READY, Phase.MOVING, Phase.HOLDING, Phase.PAUSED])
async def test_q_does_not_close_a_session(phase: Phase) -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, phase)
        await pilot.press("q")
        await settled(pilot)
        assert app.return_value is None
        assert session.view().phase is phase
        assert "X stops it" in shown(app)


async def test_q_closes_when_it_is_over_and_tells_how_it_ended() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.STOPPED)
        await settled(pilot)
        await pilot.press("q")
    assert app.return_value is Phase.STOPPED


def patient_session() -> ThinSession:
    """A session whose moves and holds outlast any test."""
    made = thin_session()
    spots = tuple(
        dataclasses.replace(spot, hold_ns=600 * NS_PER_S, move_ns=60 * NS_PER_S)
        for spot in made.spots
    )
    return dataclasses.replace(made, spots=spots)


class Rewind:
    """Brings one app back to where its session was, so that each key needs no app of its own."""

    def __init__(self, app: EveningApp[Phase], pilot: Pilot[Phase], session: ThinSession) -> None:
        self.app, self.pilot, self.session = app, pilot, session
        self.machine = copy.deepcopy(session.machine)
        self.lines = len(session.lines)
        self.screens = [type(screen) for screen in app.screen_stack]
        self.look = app.theme

    async def __call__(self) -> None:
        self.session.machine = copy.deepcopy(self.machine)
        del self.session.lines[self.lines :]
        while len(self.app.screen_stack) > len(self.screens):
            self.app.pop_screen()
        self.app.theme = self.look
        for widget in self.app.screen.query("*"):
            widget.scroll_home(animate=False)
        # No press is taken for a second one, and no answer to the last key is left.
        self.session.time.pass_s(5)
        self.app.beat()
        await settled(self.pilot)
        assert [type(screen) for screen in self.app.screen_stack] == self.screens
        assert "Not now" not in shown(self.app)


@pytest.mark.parametrize("phase", list(Phase))
async def test_every_key_in_every_phase(phase: Phase) -> None:
    """Nothing crashes, and nothing is asked that the session's own table does not list."""
    session = patient_session()
    app, run = running(session, size=(60, 20))
    async with run as pilot:
        await bring_to(pilot, session, phase)
        rewind = Rewind(app, pilot, session)
        # What closes comes last.
        for action in sorted(ACTIONS, key=lambda action: action.id in ("quit", "close")):
            await rewind()
            key = action.keys[0]
            before = len(session.asked)
            await pilot.press(key)
            await settled(pilot)
            asked = session.asked[before:]
            if action.id in ("look", "help", "quit"):
                assert asked == []
            elif action.command is not None:
                assert asked == [action.command()]
                listed = (phase, type(asked[0])) in TABLE
                refused = "Not now" in shown(app)
                assert listed or refused or key == "x"
            if key == "q":
                assert (app.return_value is None) == (phase not in (Phase.FINISHED, Phase.STOPPED))
                if app.return_value is not None:
                    break


@pytest.mark.parametrize("phase", list(Phase))
async def test_keys_that_mean_nothing_ask_for_nothing(phase: Phase) -> None:
    session = thin_session()
    app, run = running(session, size=(60, 20))
    async with run as pilot:
        await bring_to(pilot, session, phase)
        before = len(session.asked)
        for key in OTHER_KEYS:
            await pilot.press(key)
            await settled(pilot)
            assert session.asked[before:] == []
    assert app.return_value is None


async def test_a_key_that_means_nothing_now_is_answered_and_the_answer_passes() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.MOVING)
        await pilot.press("b")
        await settled(pilot)
        assert "Not now: this is the first spot." in shown(app)
        session.time.pass_s(5)
        app.beat()
        await settled(pilot)
        assert "Not now" not in shown(app)


async def test_a_key_held_down_is_one_press() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.READY)
        for gap_s in HELD_S:
            session.time.pass_s(gap_s)
            await pilot.press("space")
            app.beat()
        session.time.pass_s(0.2)
        app.beat()
        assert session.asked == [cmd.Start()]


@pytest.mark.parametrize(
    ("apart_s", "asked"), [(0.29, [cmd.Start()]), (0.31, [cmd.Start(), cmd.Pause("asked")])]
)
async def test_a_second_press_counts_from_three_tenths_of_a_second(
    apart_s: float, asked: list[cmd.Command]
) -> None:
    """0.3 s: common practice, no source."""
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.READY)
        await pilot.press("space")
        session.time.pass_s(apart_s)
        await pilot.press("space")
        session.time.pass_s(0.1)
        app.beat()
        assert session.asked == asked


async def test_a_key_pressed_before_a_stop_does_nothing_after_it() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.READY)
        await pilot.press("space")
        session.time.pass_s(0.5)
        # Waits, for it could be the first of a held key.
        await pilot.press("space", "d")
        session.time.pass_s(1)
        app.beat()
        assert session.asked == [cmd.Start(), cmd.Pause("dog_moved")]
        assert session.view().phase is Phase.PAUSED


async def test_a_sign_whose_key_is_held_down_is_marked_once() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press("u")
        for gap_s in HELD_S[:9]:
            session.time.pass_s(gap_s)
            await pilot.press("y")
            app.beat()
        await settled(pilot)
        assert "You saw: flinches or yelps." in shown(app)


async def test_stop_and_dog_moved_never_wait_for_a_bouncing_key() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press("d", "space", "d", "d")
        session.time.pass_s(0.7)
        app.beat()
        # What waited for a second press is dropped: the dog moves still.
        assert session.view().phase is Phase.PAUSED
        session.time.pass_s(0.8)
        await pilot.press("space")
        session.time.pass_s(0.7)
        app.beat()
        await pilot.press("d", "d")
        assert session.kinds.count("paused") == 2
        await settled(pilot)
        assert "Not now" not in shown(app)
        await pilot.press("x")
        assert session.kinds[-1] == "session_stopped"


async def test_dog_moved_pauses_with_its_reason_and_keeps_the_seconds() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        session.time.pass_s(11.2)
        await pilot.press("d")
        await settled(pilot)
        assert session.lines[-1]["data"]["reason"] == "dog_moved"
        assert "18 s left on this spot" in shown(app)  # the settle holds 30 s a side
        session.time.pass_s(100)
        await pilot.press("space")
        await settled(pilot)
        assert session.view().left_ns == 18 * NS_PER_S


@pytest.mark.parametrize("reason", REASONS, ids=lambda reason: reason.reason)
async def test_skip_pauses_and_asks_why_with_one_key(reason: Any) -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press("s")
        await settled(pilot)
        assert session.view().phase is Phase.PAUSED
        assert "Skip top of the neck, left?" in shown(app)
        assert reason.text in shown(app)
        await pilot.press(reason.key)
        await settled(pilot)
        assert session.asked[-1] == cmd.Skip(reason.reason)
        assert session.view().spot.index == 1
        assert not isinstance(app.screen, SkipScreen)


async def test_a_beat_that_comes_after_the_last_screen_is_gone_is_no_error() -> None:
    """Seen on a busy machine: the timer fires once more while the app closes."""
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
    app.beat()
    assert session.kinds[-1] == "hold_started"


@pytest.mark.parametrize("key", ["space", "escape"])
async def test_skip_can_be_taken_back(key: str) -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press("s", key)
        await settled(pilot)
        assert not isinstance(app.screen, SkipScreen)
        assert session.view().phase is Phase.PAUSED
        assert session.view().spot.index == 0


async def test_help_keeps_side_and_seconds_in_sight_while_the_hold_goes_on() -> None:
    session = thin_session()
    app, run = running(session, size=(60, 20))
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press("question_mark")
        session.time.pass_s(10)
        app.beat()
        await settled(pilot)
        text = shown(app)
        assert isinstance(app.screen, HelpScreen)
        first = text.splitlines()[0]
        assert "HOLD 20 s" in first
        assert "DOG'S LEFT" in first
        for action in ACTIONS:
            assert re.search(rf"^{re.escape(action.shown)} ", text, re.MULTILINE)
        await pilot.press("d")
        await settled(pilot)
        assert not isinstance(app.screen, HelpScreen)
        assert session.view().phase is Phase.PAUSED


async def test_a_hold_that_ends_while_help_is_open_goes_on_to_the_next_spot() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press("question_mark")
        session.time.pass_s(30.5)
        app.beat()
        await settled(pilot)
        assert "MOVE" in shown(app).splitlines()[0]
        assert "RIGHT" in shown(app).splitlines()[0]


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40), (240, 70)])
async def test_every_key_on_the_screen_can_be_tapped(size: tuple[int, int]) -> None:
    wanted = {
        "one_key": cmd.Pause("asked"),
        "stop": cmd.Stop("asked"),
        "dog_moved": cmd.Pause("dog_moved"),
        "again": cmd.Again(),
        "back": cmd.Back(),
        "say": cmd.Say(),
        "skip": cmd.Pause("asked"),
    }
    session = patient_session()
    app, run = running(session, size=size)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        rewind = Rewind(app, pilot, session)
        for id_, command in wanted.items():
            await rewind()
            keys = app.screen.query_one(Keys)
            (place,) = (place for place in keys.placed if place.tap.id == id_)
            row = place.row * 3 + 1 if keys.tall else place.row
            await pilot.click(Keys, offset=(place.x + place.columns - 1, row))
            await settled(pilot)
            assert session.asked[-1] == command


async def test_a_tap_beside_the_keys_does_nothing() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        before = list(session.asked)
        keys = app.screen.query_one(Keys)
        end = max(place.x + place.columns for place in keys.placed if place.row == 0)
        await pilot.click(Keys, offset=(end, 0))
        await pilot.click("#region")
        await settled(pilot)
        assert session.asked == before


@pytest.mark.parametrize("where", ["#main", "#side"])
async def test_a_tap_in_the_middle_is_the_one_big_key(where: str) -> None:
    session = thin_session()
    _, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.click(where)
        await settled(pilot)
        assert session.view().phase is Phase.PAUSED


async def test_a_whole_skip_by_touch_alone() -> None:
    session = thin_session()
    app, run = running(session, size=(120, 40))
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        for id_ in ("skip", "skip_sore"):
            keys = app.screen.query_one(Keys)
            (place,) = (place for place in keys.placed if place.tap.id == id_)
            await pilot.click(Keys, offset=(place.x, place.row * 3))
            await settled(pilot)
        assert session.asked[-1] == cmd.Skip("sore")


@pytest.mark.parametrize("phase", [Phase.MOVING, Phase.HOLDING, Phase.PAUSED])
async def test_a_resize_keeps_countdown_and_side(phase: Phase) -> None:
    session = thin_session()
    app, run = running(session, size=(120, 40))
    async with run as pilot:
        await bring_to(pilot, session, phase)
        for size in [(40, 12), (20, 6), (60, 20), (1, 1), (10, 3), (240, 70), (40, 12)]:
            await pilot.resize_terminal(*size)
            await settled(pilot)
        text = shown(app)
        side = block_letters.letters("LEFT", width=18, height=5)
        assert side is not None
        lines = text.splitlines()
        assert len(lines) <= 12
        assert all(any(row.strip() in line for line in lines) for row in side)
        if phase is Phase.HOLDING:
            digits = block_letters.digits("30", width=23, height=5)
            assert digits is not None
            assert all(any(row.rstrip() in line for line in lines) for row in digits)
        else:
            assert session_text.STATE[phase] in lines[0]


@pytest.mark.parametrize("overlay", ["question_mark", "s"])
async def test_a_resize_under_help_and_skip(overlay: str) -> None:
    session = thin_session()
    app, run = running(session, size=(120, 40))
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press(overlay)
        for size in [(40, 12), (20, 6), (1, 1), (60, 20)]:
            await pilot.resize_terminal(*size)
            await settled(pilot)
        await pilot.press("escape")
        await settled(pilot)
        side = block_letters.letters("LEFT", width=27, height=5)
        assert side is not None
        assert all(row.rstrip() in shown(app) for row in side)


async def test_a_double_tap_on_a_reason_skips_one_spot_only() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await pilot.press("s")
        await settled(pilot)
        app.screen.on_asked(Asked("skip_sore"))  # type: ignore[attr-defined]
        app.screen.on_asked(Asked("skip_sore"))  # type: ignore[attr-defined]
        await settled(pilot)
        assert session.asked.count(cmd.Skip("sore")) == 1
        assert session.view().spot.index == 1


async def test_start_and_end_of_a_hold_are_seen_with_the_sound_off() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.MOVING)
        panel = app.screen.query_one("#panel")
        before = panel.rich_style
        session.time.pass_s(8)
        app.beat()
        assert session.view().phase is Phase.HOLDING
        assert panel.has_class("-flash")
        await pilot.pause()
        assert panel.rich_style.bgcolor != before.bgcolor
        panel.remove_class("-flash")
        session.time.pass_s(30)
        app.beat()
        assert session.view().phase is Phase.MOVING
        assert panel.has_class("-flash")


async def test_no_flash_while_a_hold_merely_goes_on() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        panel = app.screen.query_one("#panel")
        panel.remove_class("-flash")
        for _ in range(29):
            session.time.pass_s(1)
            app.beat()
            assert not panel.has_class("-flash")


async def test_nothing_is_painted_while_nothing_changes() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        await settled(pilot)
        painted: list[str] = []
        for sign in app.screen.query("Sign, Keys"):
            sign.refresh = _noted(painted, str(sign.id))  # type: ignore[method-assign, assignment]
        for _ in range(9):
            session.time.pass_s(0.1)
            app.beat()
        assert set(painted) <= {"main", "progress", "dose"}
        painted.clear()
        app.beat()
        assert painted == []


def _noted(painted: list[str], name: str) -> Callable[..., None]:
    def refresh(*_: object, **__: object) -> None:
        painted.append(name)

    return refresh


async def test_at_the_end_it_tells_what_was_given_what_was_missed_and_where_it_is() -> None:
    session = thin_session()
    app, run = running(session, size=(80, 120))
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        session.time.pass_s(30)
        app.beat()
        await pilot.press("s", "1")
        session.time.pass_s(1)
        await pilot.press("x")
        await settled(pilot)
        text = shown(app)
        assert "30/30" in text
        assert "sore" in text
        assert "/home/invented/journals/000001.jsonl" in text


async def test_the_one_key_pages_through_a_long_end_and_back_to_the_top() -> None:
    session = thin_session()
    app, run = running(session, size=(60, 20))
    async with run as pilot:
        await bring_to(pilot, session, Phase.STOPPED)
        await settled(pilot)
        first = shown(app)
        pages = [first]
        while len(pages) < 20:
            session.time.pass_s(2)
            await pilot.press("space")
            await settled(pilot)
            if shown(app) == first:
                break
            pages.append(shown(app))
        assert 1 < len(pages) < 20
        assert "Switch the laser off." in pages[0]
        assert "000001.jsonl" in pages[-1]


async def test_a_notice_of_the_session_stays_in_sight() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        await bring_to(pilot, session, Phase.HOLDING)
        session.notices = ("No sound device: cues are only shown.",)
        app.beat()
        await settled(pilot)
        assert "No sound device: cues are only shown." in shown(app)
        session.time.pass_s(20)
        app.beat()
        await settled(pilot)
        assert "No sound device: cues are only shown." in shown(app)


async def test_the_light_can_be_changed_before_the_start() -> None:
    session = thin_session()
    app, run = running(session)
    async with run as pilot:
        seen = [app.theme]
        for _ in LOOKS:
            session.time.pass_s(1)
            await pilot.press("l")
            await settled(pilot)
            seen.append(app.theme)
        assert seen == [*LOOKS, LOOKS[0]]


def test_an_unknown_look_is_refused() -> None:
    with pytest.raises(ValueError, match=r"'pink'.*dark, daylight, console"):
        app_for(thin_session(), look="pink")


def test_keys_are_unique_and_every_action_has_its_own_id() -> None:
    keys = [key for action in ACTIONS for key in action.keys] + [reason.key for reason in REASONS]
    assert len(keys) == len(set(keys))
    assert len(BY_ID) == len(ACTIONS)
    assert {reason.reason for reason in REASONS} == set(cmd.SKIP_REASONS)


@pytest.mark.long
@pytest.mark.parametrize("plan", [LONG_BACK, BIG_HIPS], ids=lambda plan: plan.stem)
async def test_a_thousand_random_keys_give_nothing_that_was_not_held(plan: Any) -> None:
    chance = random.Random(7)
    session = thin_session(plan)
    app, run = running(session, size=(60, 20))
    keys = [key for key in LETTERS if key not in "qx"] + ["tab", "up", "escape", "pageup"]
    held_ns = 0
    async with run as pilot:
        await settled(pilot)
        for _ in range(1000):
            app.simulate_key(chance.choice(keys))
            for _ in range(20):
                await asyncio.sleep(0)
            before = session.view().phase
            session.time.pass_s(0.3)
            app.beat()
            if Phase.HOLDING in (before, session.view().phase):
                held_ns += round(0.3 * NS_PER_S)
        await settled(pilot)
        spots = range(len(session.spots))
        given_ns = sum(session.machine.given_ns(n, session.time()) for n in spots)
        assert len(session.asked) > 100
        assert 0 < given_ns <= held_ns
        assert app.return_value is None
