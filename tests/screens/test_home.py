"""Home: every state from real files, in words and on the screen, and where its keys lead."""

import datetime
import hashlib
import itertools
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from coach.bedside.dog_facts import Home, home_of
from coach.bedside.evening import Evening
from coach.bedside.flow import Flow, Pressed, show
from coach.bedside.home import PAGES, behind, home_page
from coach.bedside.home_status import SIGNS, at_home, home_lines
from coach.cli import run
from coach.journal.disk import DISK
from coach.journal.journal import journal_files
from coach.journal.journal_lines import Stamp
from coach.screens.block_letters import LETTER_ROWS, letters
from coach.screens.course import CourseScreen
from coach.screens.driver import EveningApp
from coach.screens.home import HomeScreen
from coach.screens.text_pages import NEW_PAGE, SheetsScreen, sheets
from coach.units import NS_PER_S
from tests.expected_texts import compare
from tests.homes import evening, write_session
from tests.plan.courses import BERLIN, MONDAY
from tests.plan.worlds import PLAN
from tests.screens.one_app import calm, flow_app, text_of
from tests.screens.thin import HELD_S, FakeTime
from tests.terminal import Terminal

EXPECTED = Path(__file__).parent / "expected"
LIMITS = PLAN + "\n[limits]\nleast_hours_between = 20\n"
DAY = datetime.timedelta(days=1)


def stamp(day: datetime.date, *, trust: Any = "synchronised") -> Stamp:
    """Five past seven in the evening of ``day``, in another boot than every session."""
    wall = datetime.datetime.combine(day, datetime.time(19, 5), BERLIN)
    return Stamp(
        mono_ns=5 * NS_PER_S,
        boot_id="boot-now",
        wall=wall.isoformat(timespec="milliseconds"),
        trust=trust,
    )


def give(folder: Path, number: int, day: datetime.date, *, hour: int = 19, **more: Any) -> Path:
    """A session under the plan of the tests."""
    begins = datetime.datetime.combine(day, datetime.time(hour), BERLIN)
    digest = hashlib.sha256((folder / "plan.toml").read_bytes()).hexdigest()
    told = {"dog": "Juniper", "plan_id": "spine", "revision": 3, "digest": digest, **more}
    one = evening(0, (4, 3))
    return write_session(folder / "journals", number, one, begins=begins, **told)


def damage(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


def cut(path: Path) -> None:
    """The plug is pulled in the second hold."""
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:10]))


def _sessions(folder: Path, *days: datetime.date) -> Path:
    return [give(folder, number, day) for number, day in enumerate(days, start=1)][-1]


# Three a week from the first session on, as the plan says: Monday, Wednesday, Friday. Each state
# with what makes it so: the plan, the sessions, and the day of the look.
Make = Callable[[Path], datetime.date]


def _first(folder: Path) -> datetime.date:
    return MONDAY


def _due(folder: Path) -> datetime.date:
    _sessions(folder, MONDAY)
    return MONDAY + 2 * DAY


def _not_due(folder: Path) -> datetime.date:
    _sessions(folder, MONDAY)
    return MONDAY + DAY


def _late(folder: Path) -> datetime.date:
    _sessions(folder, MONDAY)
    return MONDAY + 3 * DAY


def _over(folder: Path) -> datetime.date:
    _sessions(folder, *(MONDAY + n * DAY for n in (0, 2, 4, 7, 9, 11)))
    return MONDAY + 14 * DAY


def _expired(folder: Path) -> datetime.date:
    _sessions(folder, MONDAY)
    return datetime.date(2027, 1, 1)


def _early(folder: Path) -> datetime.date:
    return datetime.date(2026, 10, 31)


def _damaged(folder: Path) -> datetime.date:
    damage(_sessions(folder, MONDAY, MONDAY + 2 * DAY))
    return MONDAY + 4 * DAY


def _too_soon(folder: Path) -> datetime.date:
    give(folder, 1, MONDAY, hour=14)
    return MONDAY


def _cut(folder: Path) -> datetime.date:
    cut(_sessions(folder, MONDAY, MONDAY + 2 * DAY))
    return MONDAY + 2 * DAY


def _cut_long_ago(folder: Path) -> datetime.date:
    cut(_sessions(folder, MONDAY, MONDAY + 2 * DAY))
    return MONDAY + 4 * DAY


def _unread(folder: Path) -> datetime.date:
    _sessions(folder, MONDAY, MONDAY + 2 * DAY).write_text("no log")
    return MONDAY + 4 * DAY


def _bad_plan(folder: Path) -> datetime.date:
    (folder / "plan.toml").write_text(PLAN.replace("spots = 4", 'spots = "many"'))
    return MONDAY


def _elsewhere(folder: Path) -> datetime.date:
    (folder / "plan.toml").write_text(PLAN.replace("Juniper", "Rex"))
    return MONDAY


def _no_plan(folder: Path) -> datetime.date:
    _sessions(folder, MONDAY)
    (folder / "plan.toml").unlink()
    return MONDAY


def _free(folder: Path) -> datetime.date:
    text = PLAN.replace('[[course]]\nname = "induction"\ntimes_a_week = 3\nweeks = 2\n', "")
    assert text != PLAN
    (folder / "plan.toml").write_text(text)
    return MONDAY


STATES: list[tuple[str, Make, str]] = [
    ("first_day", _first, "start"),
    ("due", _due, "start"),
    ("late", _late, "start"),
    ("not_due", _not_due, "start"),
    ("course_over", _over, ""),
    ("plan_over", _expired, ""),
    ("plan_early", _early, ""),
    ("log_damaged", _damaged, "start"),
    ("not_now", _too_soon, ""),
    ("cut_off", _cut, "carry_on"),
    # The plan lets it be carried on within half an hour.
    ("due", _cut_long_ago, "start"),
    ("log_damaged", _unread, "start"),
    ("plan_wrong", _bad_plan, ""),
    ("plan_wrong", _elsewhere, ""),
    ("no_plan", _no_plan, ""),
    ("free", _free, "start"),
    ("clock", _due, "start"),
    ("running", _due, ""),
]


@contextmanager
def home_in(own_world: Path, state: str, make: Make) -> Iterator[tuple[Home, datetime.date]]:
    folder = own_world / "state" / "dogs" / "juniper"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "plan.toml").write_text(LIMITS)
    day = make(folder)
    lock = DISK.lock(folder / "journals", "now") if state == "running" else None
    trust = "unknown" if state == "clock" else "synchronised"
    try:
        yield home_of(folder, stamp(day, trust=trust), BERLIN), day
    finally:
        if lock is not None:
            DISK.close(lock)


@pytest.mark.parametrize(
    ("state", "make", "key"), STATES, ids=[f"{s}-{m.__name__[1:]}" for s, m, _ in STATES]
)
def test_each_state_is_told_as_it_is(own_world: Path, state: str, make: Make, key: str) -> None:
    with home_in(own_world, state, make) as (home, _day):
        told = at_home(home.facts)
        assert (told.state, told.key) == (state, key)
        if state == "log_damaged":
            assert journal_files(home.folder / "journals")[-1].name in " ".join(told.notes)
        if make is _unread:
            assert told.last == "The log of the last session cannot be read."
        if state in ("clock", "log_damaged", "running"):
            # What nobody can know is not said.
            assert "due today" not in f"{told.text} {told.todo}"
        if make is _elsewhere:
            assert "it is for Rex, but lies in the folder juniper" in told.text
        if make is _bad_plan:
            assert "many" in told.text


def shown(app: EveningApp[Pressed]) -> str:
    return text_of(app)


async def settled(pilot: Pilot[Any]) -> None:
    await calm(pilot)


def at_home_until_left(evening: Evening, homes: list[Home]) -> Flow[Pressed]:
    """Home and its pages; the first key that leads elsewhere."""
    at = 0
    while True:
        pressed = yield from show(home_page(evening, homes, at=at))
        if pressed.id not in PAGES:
            return pressed
        at = pressed.at
        yield from behind(evening, pressed, homes[at] if homes else None)


def app_for(
    homes: list[Home], day: datetime.date, *, time: Callable[[], int] | None = None
) -> EveningApp[Pressed]:
    """Home on a clock of whose readings each is a second after the one before, or on ``time``."""
    now = datetime.datetime.combine(day, datetime.time(19, 2), BERLIN)
    seconds = itertools.count(0, NS_PER_S)
    evening = Evening(wall=lambda: now)
    flow = at_home_until_left(evening, homes)
    return flow_app(flow, mono_ns=time or (lambda: next(seconds)))


@pytest.mark.parametrize("size", [(60, 20), (120, 40)], ids=lambda size: f"{size[0]}x{size[1]}")
async def test_each_state_looks_as_expected(own_world: Path, size: tuple[int, int]) -> None:
    homes: list[Home] = []
    for number, (state, make, _key) in enumerate(STATES):
        with home_in(own_world / str(number), state, make) as (home, _day):
            homes.append(home)
    screens: list[str] = []
    told = [f"{state}: {make.__name__[1:]}" for state, make, _key in STATES]
    for shown_homes, names in (([], ["empty"]), (homes, told)):
        app = app_for(shown_homes, MONDAY)
        async with app.run_test(size=size) as pilot:
            for name in names:
                await settled(pilot)
                text = shown(app)
                assert all(len(line) <= size[0] for line in text.splitlines())
                screens.append(f"=== {name}\n{text}\n")
                await pilot.press("n")
    found = "\n".join(screens)
    path = EXPECTED / f"home-{size[0]}x{size[1]}.txt"
    compare(path, found)


async def test_one_key_starts_and_others_lead_to_course_tally_and_scores(own_world: Path) -> None:
    with home_in(own_world, "due", _due) as (home, day):
        app = app_for([home], day)
        async with app.run_test(size=(60, 20)) as pilot:
            await settled(pilot)
            for key, screen, words in (
                ("c", CourseScreen, "session 2 of 6"),
                ("t", SheetsScreen, "Juniper: 1 session over the course"),
                ("h", SheetsScreen, "No scores yet"),
            ):
                await pilot.press(key)
                await settled(pilot)
                assert isinstance(app.screen, screen)
                assert words in " ".join(shown(app).split())
                await pilot.press("left", "q")
                await settled(pilot)
                assert isinstance(app.screen, HomeScreen)
            await pilot.press("space")
        assert app.return_value == Pressed("start")


async def test_a_key_that_was_down_before_or_stays_down_does_one_thing(own_world: Path) -> None:
    with home_in(own_world, "due", _due) as (home, day):
        time = FakeTime()
        app = app_for([home], day, time=time)
        async with app.run_test(size=(60, 20)) as pilot:

            async def hold(key: str, gaps_s: Iterable[float]) -> None:
                for gap_s in gaps_s:
                    time.pass_s(gap_s)
                    await pilot.press(key)
                    beat = getattr(app.screen, "beat", None)
                    if beat is not None:
                        beat()
                await settled(pilot)

            # SPACE closed what was there before home, and is still down.
            await hold("space", HELD_S[1:])
            time.pass_s(1)
            # Q closes the course, not home as well.
            await hold("c", HELD_S)
            assert isinstance(app.screen, CourseScreen)
            time.pass_s(1)
            await hold("q", HELD_S)
            assert isinstance(app.screen, HomeScreen)
            assert app.return_value is None
            time.pass_s(1)
            await pilot.press("space")
        assert app.return_value == Pressed("start", 0)


async def test_where_nothing_may_start_the_big_key_says_so(own_world: Path) -> None:
    with home_in(own_world, "plan_over", _expired) as (over, day):
        other = own_world / "other"
        with home_in(other, "due", _due) as (due, _):
            app = app_for([over, due], day)
            async with app.run_test(size=(60, 20)) as pilot:
                await settled(pilot)
                assert "Juniper (dog 1 of 2)" in shown(app)
                await pilot.press("space")
                await settled(pilot)
                assert "No session can be started now." in shown(app)
                await pilot.press("n")
                await settled(pilot)
                assert "Juniper (dog 2 of 2)" in shown(app)
                assert "No session can be started now." not in shown(app)
                await pilot.press("s")
            assert app.return_value == Pressed("score", 1)
            app = app_for([over, due], day)
            async with app.run_test(size=(60, 20)) as pilot:
                await settled(pilot)
                await pilot.press("v")
            # The record of a dog whose plan is over is wanted most.
            assert app.return_value == Pressed("vet", 0)


def test_line_by_line_it_says_the_same(own_world: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([]) == 0
    assert "No dog has a plan here yet." in capsys.readouterr().out
    with home_in(own_world, "due", _due) as (home, day):
        told = at_home(home.facts)
        now = datetime.datetime.combine(day, datetime.time(19), BERLIN)
        text = "\n".join(home_lines([told], now=now))
        for part in (told.dog, told.text, told.todo, told.last):
            assert part in text
        assert run(["home", "--plain"]) == 0
        assert "Juniper: " in capsys.readouterr().out


def test_every_sign_can_be_drawn_in_block_letters_on_sixty_columns() -> None:
    for sign in SIGNS.values():
        assert letters(sign, width=60, height=LETTER_ROWS) is not None


def test_pages_lose_no_line_and_keep_to_their_size() -> None:
    lines = [f"line {number}" if number % 7 else "" for number in range(100)]
    found = sheets(lines, width=20, height=9)
    assert all(len(page) <= 9 for page in found)
    assert sheets(["a", NEW_PAGE, "b"], width=20, height=9) == [("a",), ("b",)]
    assert [row for page in found for row in page if row] == [line for line in lines if line]


def test_the_real_program_opens_home_and_is_left_by_one_key(own_world: Path) -> None:
    folder = own_world / "state" / "dogs" / "juniper"
    folder.mkdir(parents=True)
    (folder / "plan.toml").write_text(PLAN)
    terminal = Terminal()
    try:
        terminal.until(lambda text: "No session yet." in text)
        terminal.press("q")
        assert terminal.ended() == 0
    finally:
        terminal.close()
