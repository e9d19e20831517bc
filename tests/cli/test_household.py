"""Two dogs and two helpers in one house: nothing of one dog ends up with the other."""

import datetime
import io
import sys
from pathlib import Path
from typing import Any

import pytest

from coach.bedside.household import Household, read_household, write_household
from coach.cli import parser, run
from coach.cli.asking import NotStarted
from coach.cli.before import dogs_plan, ready, steps_for
from coach.cli.exits import Exit
from coach.journal.diary import read_diary
from coach.journal.diary_entries import FunctionScore
from coach.journal.disk import DISK
from coach.journal.journal import journal_files, read_journal
from coach.paths import dog_folder, household_file, journal_folder
from coach.plan.files import load_plan
from coach.plan.spots import session_of
from coach.record.tally import tally_of
from coach.screens.confirm_dog import DogScreen, places_of
from coach.screens.screen_sequence import RoundsApp
from tests.screens.thin import FakeTime, settled

ROOT = Path(__file__).parents[2]
PLANS = {"juniper": "demo-long-back.toml", "barnaby": "demo-big-hips.toml"}
TODAY = datetime.date(2026, 11, 25)


@pytest.fixture
def house(own_world: Path) -> Path:
    """Both demo dogs live here, each with its plan in its own folder."""
    for folder, plan in PLANS.items():
        home = own_world / "state" / "dogs" / folder
        home.mkdir(parents=True)
        (home / "plan.toml").write_bytes((ROOT / "plans" / plan).read_bytes())
    return own_world / "state"


class Tty(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def typing(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Types lines on a terminal, line by line coaching."""

    def type_(*lines: str) -> None:
        monkeypatch.setattr(sys, "stdin", Tty("".join(f"{line}\n" for line in lines)))
        monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)

    return type_


def before(*words: str) -> tuple[str, str]:
    """Which dog and who treats, as ``coach session`` asks it."""
    args = parser().parse_args(["session", "--plain", *words])
    plan = load_plan(dogs_plan(args) or Path("none"), today=TODAY).plan
    return plan.dog.name, ready(args, plan, session_of(plan))


def test_who_treats_is_asked_once_and_then_by_one_key(
    house: Path, typing: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    typing("1", "", "Ada")
    assert before() == ("Barnaby", "Ada")
    assert "Which dog is in front of you?" in capsys.readouterr().out
    assert read_household(household_file()) == Household(helpers=("Ada",), asked=True)
    # One helper: nobody is asked any more.
    typing("2", "")
    assert before() == ("Juniper", "Ada")
    write_household(household_file(), ["Ada", "Bo"])
    typing("juniper", "", "bo")
    assert before() == ("Juniper", "Bo")
    typing("2", "", "3", "Cleo")
    assert before() == ("Juniper", "Cleo")
    assert read_household(household_file()).helpers == ("Ada", "Bo", "Cleo")
    typing("")
    assert before("--dog", "Barnaby", "--by", "Bo") == ("Barnaby", "Bo")


def test_who_leaves_the_name_out_is_not_asked_again(house: Path, typing: Any) -> None:
    typing("")
    assert before("--dog", "Juniper") == ("Juniper", "")
    assert read_household(household_file()) == Household(asked=True)
    typing()
    assert before("--dog", "Juniper") == ("Juniper", "")


def test_another_dog_in_front_of_the_owner_starts_nothing(
    house: Path, typing: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    typing("2", "n")
    assert run(["session", "--plain", "--silent"]) == Exit.NOT_ALLOWED
    told = capsys.readouterr()
    assert "This plan is for Juniper:\n  top of the neck, behind the ears: left, right" in told.out
    assert "coach: nothing started" in told.err
    typing()
    assert run(["session", "--plain", "--silent"]) == Exit.NOT_ALLOWED
    assert list(house.rglob("*.jsonl")) == []


def test_the_scores_that_a_plan_asks_for_come_before_its_session_and_go_to_its_dog(
    house: Path, typing: Any
) -> None:
    plan = house / "dogs" / "juniper" / "plan.toml"
    text = plan.read_text("utf-8").replace(
        "[settle]", '[scores]\nevery_days = 7\nactivities = ["a", "b", "c"]\n[settle]'
    )
    plan.write_text(text, "utf-8")
    typing("7", "", "1")
    with pytest.raises(NotStarted):
        # Left in the middle: what was said is kept, and nothing starts.
        before("--dog", "Juniper", "--by", "Ada")
    score = FunctionScore(score_0_10=7, activities={"b": 1}, by="Ada")
    assert read_diary(dog_folder("Juniper")).entries == (score,)
    assert read_diary(dog_folder("Barnaby")).entries == ()
    typing("9")
    assert before("--dog", "Juniper", "--by", "Ada") == ("Juniper", "Ada")
    assert len(read_diary(dog_folder("Juniper")).told) == 1


def test_two_dogs_at_once_each_in_its_own_folder_and_log(
    house: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Somebody else treats Barnaby at this moment; that is no reason to make Juniper wait.
    DISK.make_folder(journal_folder("Barnaby", rehearsal=False))
    lock = DISK.lock(journal_folder("Barnaby", rehearsal=False), "now")
    try:
        words = ["--plain", "--silent", "--because", "a test of ours"]
        with Path("/dev/null").open(encoding="utf-8") as nobody:
            monkeypatch.setattr(sys, "stdin", nobody)
            assert run(["session", "--dog", "Juniper", "--by", "Ada", *words]) == Exit.ENDED_EARLY
            assert run(["session", "--dog", "Barnaby", "--by", "Bo", *words]) == Exit.BUSY
    finally:
        DISK.close(lock)
    (path,) = journal_files(journal_folder("Juniper", rehearsal=False))
    lines = read_journal(path).lines
    assert [line["data"] for line in lines if line["kind"] == "helper"] == [{"name": "Ada"}]
    assert tally_of(lines).helper == "Ada"
    assert journal_files(journal_folder("Barnaby", rehearsal=False)) == []


def test_a_plan_in_another_dogs_folder_is_refused(
    house: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = house / "dogs" / "barnaby" / "plan.toml"
    wrong.write_bytes((ROOT / "plans" / "demo-long-back.toml").read_bytes())
    with Path("/dev/null").open(encoding="utf-8") as nobody:
        monkeypatch.setattr(sys, "stdin", nobody)
        assert run(["session", str(wrong), "--plain", "--silent"]) == Exit.NOT_ALLOWED
    assert "the plan is for Juniper, not for barnaby" in capsys.readouterr().err


@pytest.mark.parametrize(
    "text", ["helpers = 3", "helpers = [", 'helpers = [""]', f"helpers = {['x'] * 9}", "\0"]
)
def test_a_bad_household_file_is_told_and_never_stops_a_session(house: Path, text: str) -> None:
    household_file().write_text(text, "utf-8")
    found = read_household(household_file())
    assert found.helpers == ()
    assert str(household_file()) in found.problem


@pytest.mark.parametrize(
    ("plan", "size"),
    [
        ("demo-long-back.toml", (60, 20)),
        ("demo-big-hips.toml", (80, 24)),
        ("demo-big-hips.toml", (120, 40)),
    ],
)
async def test_the_dog_is_confirmed_by_name_and_picture(plan: str, size: tuple[int, int]) -> None:
    loaded = load_plan(ROOT / "plans" / plan, today=TODAY).plan
    spots = session_of(loaded).spots
    time = FakeTime()
    app = RoundsApp([lambda: DogScreen(loaded, spots, mono_ns=time)])
    async with app.run_test(size=size) as pilot:
        await settled(pilot)  # type: ignore[arg-type]
        strips = app.screen._compositor.render_strips(app.size)
        shown = "\n".join(strip.text.rstrip() for strip in strips)
        assert shown.splitlines()[0] == "IS THIS THE DOG IN FRONT OF YOU?"
        assert "█" in shown
        assert f"Plan {loaded.about.id}, revision 1" in shown
        assert shown.count("○") >= 5
        if size[1] > 20:
            assert all(line in " ".join(shown.split()) for line in places_of(spots))
        # A press that was meant for the screen before says nothing about the dog.
        await pilot.press("y")
        assert app.return_value is None
        time.pass_s(1)
        await pilot.press("y")
    assert app.return_value is True


@pytest.mark.parametrize(("steps", "answer"), [(1, True), (2, False), (3, True)])
async def test_the_one_big_key_says_yes_or_no_by_staying_on_it(steps: int, answer: bool) -> None:
    loaded = load_plan(ROOT / "plans" / "demo-long-back.toml", today=TODAY).plan
    time = FakeTime()
    said: list[str] = []
    screen = DogScreen(loaded, session_of(loaded).spots, mono_ns=time, say=said.append)
    app = RoundsApp([lambda: screen])
    async with app.run_test(size=(60, 20)) as pilot:
        await settled(pilot)  # type: ignore[arg-type]
        for _ in range(steps):
            time.pass_s(1)
            await pilot.press("space")
            await pilot.press("space")  # bouncing
        time.pass_s(2.9)
        screen.beat()
        assert app.return_value is None
        time.pass_s(0.1)
        # The timer's own beat may come right after it.
        screen.beat()
        screen.beat()
        await settled(pilot)  # type: ignore[arg-type]
    assert app.return_value is answer
    assert "Press Y for yes, N for no. Or choose with the big key" in said[0]
    assert said[1:-1] == ["yes, this dog", "no", "yes, this dog"][:steps]


async def test_on_the_screen_dog_helper_and_scores_come_one_after_the_other(house: Path) -> None:
    write_household(household_file(), ["Ada", "Bo"])
    plan = house / "dogs" / "juniper" / "plan.toml"
    scores = '[scores]\nevery_days = 7\nactivities = ["a", "b", "c"]\n[settle]'
    plan.write_text(plan.read_text("utf-8").replace("[settle]", scores), "utf-8")
    loaded = load_plan(plan, today=TODAY).plan
    args = parser().parse_args(["session", str(plan)])
    time = FakeTime()
    steps = steps_for(args, loaded, session_of(loaded), mono_ns=time)
    app = RoundsApp(steps.screens())
    async with app.run_test(size=(60, 20)) as pilot:
        seen = []
        for key in ("y", "2", "8", "0", "n", "4"):
            await settled(pilot)  # type: ignore[arg-type]
            strips = app.screen._compositor.render_strips(app.size)
            seen.append(" ".join(" ".join(strip.text for strip in strips).split()))
            time.pass_s(1)
            await pilot.press(key)
    assert app.return_value is True
    assert steps.by == "Bo"
    steps.finish()
    score = FunctionScore(score_0_10=8, activities={"a": 0, "c": 4}, by="Bo")
    assert read_diary(dog_folder("Juniper")).entries == (score,)
    assert "IS THIS THE DOG" in seen[0]
    assert "1 Ada" in seen[1]
    assert "How well does Juniper get about these days?" in seen[2]
    assert "b: how well does it go?" in seen[4]


def test_the_household_is_shown_and_its_names_changed(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (house / "dogs" / "barnaby" / "plan.toml").write_text("not a plan", "utf-8")
    (house / "dogs" / "juniper" / "journals").mkdir()
    assert run(["household"]) == Exit.DONE
    told = capsys.readouterr().out
    assert "  Juniper: plan demo-long-back, 0 logs, in " in told
    assert "  barnaby: its plan cannot be used; see coach check " in told
    assert "Who treats: nobody is named yet" in told
    assert run(["household", "--add", " Ada ", "--add", "Bo", "--add", "ADA"]) == Exit.DONE
    assert run(["household", "--remove", "bo", "--add", "Cleo"]) == Exit.DONE
    assert "Who treats: Ada, Cleo" in capsys.readouterr().out
    words = ["--add", "x" * 41, "--remove", "Dora"]
    assert run(["household", *words]) == Exit.BAD_INPUT
    refused = capsys.readouterr().err
    assert "--add: found" in refused
    assert "--remove: found 'Dora'; allowed: one of Ada, Cleo" in refused
    many = [word for number in range(7) for word in ("--add", f"n{number}")]
    assert run(["household", *many]) == Exit.BAD_INPUT
    assert read_household(household_file()).helpers == ("Ada", "Cleo")
